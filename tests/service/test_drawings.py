"""Drawings over HTTP: taking cut pieces away, and bringing a drawing that says no unit."""

from __future__ import annotations

import io
import json
import time
from xml.etree import ElementTree

import numpy as np
import pypdfium2
import pytest
from ezdxf import recover
from fastapi.testclient import TestClient

from nesting.cloth import Cloth, Fold
from service import pipeline
from service.answer_json import answer_json
from service.answer_layout import layout_from_json
from service.formats.lay_sheet import distances
from service.formats.piece_sheet import read_piece_sheet
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
        ("/api/lays/unknown/sheet.svg", 404, ""),
    ],
)
def test_what_cannot_be_drawn_is_told(
    client: TestClient, apron: str, address: str, status: int, words: str
) -> None:
    answer = client.get(address.format(apron))
    assert answer.status_code == status
    assert words in answer.json()["error"]["message"]


def test_lay_sheets_of_a_stored_lay(client: TestClient, apron: str) -> None:
    lay = client.post("/api/lays", json={"style_id": apron, "steps": 0}).json()["id"]
    for _ in range(600):
        found = client.get(f"/api/lays/{lay}").json()
        if found["state"] == "done":
            break
        time.sleep(0.1)
    cloths = found["cloths"]
    svg = client.get(f"/api/lays/{lay}/sheet.svg")
    cut = [e for e in ElementTree.fromstring(svg.content).iter() if e.get("class") == "cut"]
    assert len(cut) == sum(len(c["placements"]) for c in cloths)
    one = client.get(f"/api/lays/{lay}/sheet.pdf", params={"cloth": cloths[0]["cloth"]})
    assert pages(one.content) == 1
    dxf, auditor = recover.read(io.BytesIO(client.get(f"/api/lays/{lay}/sheet.dxf").content))
    assert not auditor.errors
    lines = dxf.modelspace().query("LWPOLYLINE[layer=='CUT']")
    drawn = sorted(round(float(np.ptp(np.array(e.get_points("xy")), axis=0)[0]), 3) for e in lines)
    laid = sorted(
        round(float(np.ptp(np.array(p["cut_line"]), axis=0)[0]), 3)
        for c in cloths
        for p in c["placements"]
    )
    assert drawn == pytest.approx(laid, abs=2e-3)
    assert client.get(f"/api/lays/{lay}/sheet.svg", params={"cloth": "velvet"}).status_code == 404
    assert client.get(f"/api/lays/{lay}/sheet.odt").status_code == 422


def test_a_layout_survives_being_stored() -> None:
    style, _ = read_piece_sheet(json.dumps(APRON).encode(), source="apron.json")
    cut = pipeline.cut_style(style)
    planned = pipeline.plan(pipeline.lay_for(cut, Cloth(width_mm=1400), Fold.LENGTHWISE))
    answer = pipeline.first_answer(cut, planned)
    again = layout_from_json(json.loads(json.dumps(answer_json(answer))))
    layout = answer.layout
    assert (again.asked, again.fold) == (layout.asked, layout.fold)
    for y, z in zip(layout.zones, again.zones, strict=True):
        assert (y.id, y.plies, y.fold_edges) == (z.id, z.plies, z.fold_edges)
        assert (y.x0, y.x1, y.y0, y.y1) == pytest.approx((z.x0, z.x1, z.y0, z.y1), abs=1e-4)
    assert again.cloth.usable_width_mm == pytest.approx(layout.cloth.usable_width_mm)
    for p, q in zip(layout.placed, again.placed, strict=True):
        assert (p.piece, p.copy, p.hands, p.grain_rule) == (q.piece, q.copy, q.hands, q.grain_rule)
        assert np.abs(p.cut_line - q.cut_line).max() <= 1e-4
        assert distances(p, layout).selvedge == pytest.approx(
            distances(q, again).selvedge, abs=1e-3
        )


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
