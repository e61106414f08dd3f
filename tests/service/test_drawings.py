"""Drawings over HTTP: taking cut pieces away, and bringing a drawing that says no unit."""

from __future__ import annotations

import io
from xml.etree import ElementTree

import pypdfium2
import pytest
from ezdxf import recover
from fastapi.testclient import TestClient

from tests.service.sheets import APRON

SVG = (
    b'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 400 700"><title>Jerkin; seam 15 mm</title>'
    b'<g id="Front_x3B__pair"><rect id="net" width="300" height="600"/></g></svg>'
)


@pytest.fixture
def apron(client: TestClient) -> str:
    return str(client.post("/api/styles", json=APRON).json()["id"])


def test_cut_pieces_come_as_svg_dxf_and_pdf(client: TestClient, apron: str) -> None:
    svg = client.get(f"/api/styles/{apron}/cut.svg")
    assert svg.status_code == 200
    assert svg.headers["content-type"] == "image/svg+xml"
    assert (
        "attachment; filename*=UTF-8''Apron-of-the-inn-scene.svg"
        in svg.headers["content-disposition"]
    )
    root = ElementTree.fromstring(svg.content)
    assert len([e for e in root.iter() if e.get("data-name") == "cut"]) == len(APRON["pieces"])
    dxf = client.get(f"/api/styles/{apron}/cut.dxf")
    _, auditor = recover.read(io.BytesIO(dxf.content))
    assert not auditor.errors
    small = client.get(f"/api/styles/{apron}/cut.pdf")
    large = client.get(f"/api/styles/{apron}/cut.pdf?page=A0")
    assert pages(small.content) > pages(large.content) > 1


def pages(data: bytes) -> int:
    document = pypdfium2.PdfDocument(data)
    count = len(document)
    document.close()
    return count


@pytest.mark.parametrize(
    ("address", "status", "words"),
    [
        ("/api/styles/{}/cut.odt", 422, "names no kind of drawing"),
        ("/api/styles/{}/cut.pdf?page=A9", 422, "not a page size"),
        ("/api/styles/unknown/cut.svg", 404, ""),
    ],
)
def test_what_cannot_be_drawn_is_told(
    client: TestClient, apron: str, address: str, status: int, words: str
) -> None:
    answer = client.get(address.format(apron))
    assert answer.status_code == status
    assert words in answer.json()["error"]["message"]


def test_a_drawing_without_a_unit_is_asked_about_and_then_read(client: TestClient) -> None:
    sent = {"file": ("front.svg", SVG, "image/svg+xml")}
    asked = client.post("/api/styles", files=sent)
    assert asked.status_code == 422
    error = asked.json()["error"]
    assert error["code"] == "unit"
    choices = dict(error["choices"])
    assert choices["mm"].endswith("Front 60.0 cm tall, 30.0 cm wide")
    assert "mm (60.0 cm tall)" in error["hint"]
    kept = client.post("/api/styles", files=sent, data={"unit_choice": "mm"})
    assert kept.status_code == 201
    assert kept.json()["pieces"][0]["size_text"].startswith("60.0 cm tall")


def test_other_errors_name_no_choices(client: TestClient) -> None:
    answer = client.post("/api/styles", files={"file": ("front.svg", b"<svg", "image/svg+xml")})
    assert set(answer.json()["error"]) == {"code", "message", "hint", "where"}
