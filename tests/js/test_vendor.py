"""Files of others in web/vendor are those that the manifest names, byte for byte, with their licence."""

from __future__ import annotations

import hashlib
import json
from pathlib import Path
from typing import Any

import pytest

from tests.js import node_tools

VENDOR = node_tools.ROOT / "web" / "vendor"
PACKAGES: list[dict[str, Any]] = json.loads((VENDOR / "manifest.json").read_text())["packages"]


@pytest.mark.parametrize("package", PACKAGES, ids=lambda p: p["package"])
def test_files_are_as_published(package: dict[str, Any]) -> None:
    folder = VENDOR / package["folder"]
    found = {
        p.relative_to(folder).as_posix(): hashlib.sha256(p.read_bytes()).hexdigest()
        for p in folder.rglob("*")
        if p.is_file()
    }
    assert found == package["sha256"]
    assert package["version"]
    assert package["licence"]
    assert "LICENSE" in found


def test_nothing_else_is_vendored() -> None:
    folders = {p.name for p in VENDOR.iterdir() if p.is_dir()}
    assert folders == {p["folder"] for p in PACKAGES}


def test_no_page_loads_from_elsewhere() -> None:
    own = [p for p in (node_tools.ROOT / "web").rglob("*") if p.suffix in {".html", ".css", ".js"}]
    own = [p for p in own if VENDOR not in p.parents]
    assert own
    for path in own:
        text = _without_svg_names(path)
        assert "http://" not in text, path
        assert "https://" not in text, path


def _without_svg_names(path: Path) -> str:
    return path.read_text().replace("http://www.w3.org/", "")
