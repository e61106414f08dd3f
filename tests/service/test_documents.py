"""The schema that is served describes the sheets that are read."""

from __future__ import annotations

import math

import pytest
from fastapi.testclient import TestClient
from shapely.geometry import Polygon

from nesting.allowances.gallery import examples


def test_the_schema_is_served_with_examples(client: TestClient) -> None:
    answer = client.get("/api/schema/piece-sheet")
    assert answer.headers["content-type"].startswith("application/schema+json")
    schema = answer.json()
    assert schema["$schema"].startswith("https://json-schema.org/")
    assert "pieces" in schema["properties"]


def test_the_drawing_convention_is_served(client: TestClient) -> None:
    text = client.get("/api/conventions/svg").json()["text"]
    for word in ("grain", "fold", "notch", "net", "cut"):
        assert f"`{word}" in text


def test_every_treatment_of_the_gallery_is_served_with_its_lines(client: TestClient) -> None:
    sent = client.get("/api/edges").json()["examples"]
    assert [e["code"] for e in sent] == [e.code for e in examples()]
    for example in sent:
        piece = example["piece"]
        assert example["title"]
        assert example["text"].endswith(".")
        assert Polygon(piece["cut_line"]).buffer(1e-3).contains(Polygon(piece["net_line"]))
        assert len(example["widths_mm"]) == len(piece["edges"])
        # Wire rounding leaves nothing that a browser could not close.
        assert all(len(line) > 2 for line in example["folded"])


def test_a_mitred_corner_is_sent_where_two_parallels_meet(client: TestClient) -> None:
    """From geometry alone: 15 mm outside both edges of a corner of 100 degrees."""
    sent = {e["code"]: e for e in client.get("/api/edges").json()["examples"]}
    first, second = (e["points"] for e in sent["mitre"]["piece"]["edges"][:2])
    corner = max(sent["mitre"]["piece"]["cut_line"], key=lambda p: p[0] - p[1])
    for (ax, ay), (bx, by) in (first, second):
        length = math.hypot(bx - ax, by - ay)
        outside = ((by - ay) * (corner[0] - ax) - (bx - ax) * (corner[1] - ay)) / length
        assert outside == pytest.approx(15.0, abs=0.01)


def test_widths_that_change_and_marks_that_are_carried_are_sent(client: TestClient) -> None:
    sent = {e["code"]: e for e in client.get("/api/edges").json()["examples"]}
    assert sent["stepping-seam"]["widths_mm"][1] == [10.0, 20.0]
    assert sent["changing-width"]["widths_mm"][1] == [10.0, 30.0]
    assert [m["kind"] for m in sent["inlay"]["piece"]["marks"]] == ["inlay"]
    dart = sent["dart"]["piece"]
    assert [m["kind"] for m in dart["marks"]] == ["drill"]
    assert len(dart["darts"]) == 1
    assert len(dart["notches"]) == 2
    assert len(sent["hem-double"]["folded"]) == 2
