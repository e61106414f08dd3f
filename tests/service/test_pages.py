"""Pages and their files: strict headers, ETags, no way out of the folder."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from fastapi.testclient import TestClient


@pytest.fixture
def web(tmp_path: Path) -> Path:
    folder = tmp_path / "web"
    (folder / "app").mkdir(parents=True)
    (folder / "index.html").write_text("<!doctype html><title>desk</title>")
    (folder / "table.html").write_text("<!doctype html><title>table</title>")
    (folder / "app" / "api.js").write_text("export const x = 1;\n")
    (tmp_path / "secret.html").write_text("not for the web")
    return folder


@pytest.fixture
def browser(make_client: Callable[..., TestClient], web: Path) -> TestClient:
    return make_client(web_dir=web)


@pytest.mark.parametrize(
    ("path", "kind"),
    [("/", "text/html"), ("/table", "text/html"), ("/web/app/api.js", "text/javascript")],
)
def test_pages_come_with_strict_headers_and_etag(browser: TestClient, path: str, kind: str) -> None:
    answer = browser.get(path)
    assert answer.status_code == 200
    assert answer.headers["content-type"].startswith(kind)
    assert "frame-ancestors 'none'" in answer.headers["content-security-policy"]
    assert answer.headers["x-content-type-options"] == "nosniff"
    assert answer.headers["cache-control"] == "no-cache"
    again = browser.get(path, headers={"If-None-Match": answer.headers["etag"]})
    assert again.status_code == 304
    assert again.content == b""


def test_a_changed_file_has_another_etag(browser: TestClient, web: Path) -> None:
    before = browser.get("/table").headers["etag"]
    (web / "table.html").write_text("<!doctype html><title>the table</title>")
    answer = browser.get("/table", headers={"If-None-Match": before})
    assert answer.status_code == 200
    assert "the table" in answer.text


@pytest.mark.parametrize(
    "path",
    [
        "/secret",
        "/..%2fsecret",
        "/web/../secret.html",
        "/web/%2e%2e/secret.html",
        "/web/none.js",
        "/index.html",
    ],
)
def test_nothing_outside_the_folder_and_nothing_missing(browser: TestClient, path: str) -> None:
    answer = browser.get(path)
    assert answer.status_code == 404
    assert answer.json()["error"]["code"] == "not_found"


def test_api_answers_are_not_kept_and_are_just_as_strict(browser: TestClient) -> None:
    answer = browser.get("/api/health")
    assert answer.json()["name"] == "grainfold"
    assert answer.headers["cache-control"] == "no-store"
    assert answer.headers["x-content-type-options"] == "nosniff"
