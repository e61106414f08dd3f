"""The truing walk as sent: seams of rectangles whose differences are known by subtraction."""

from __future__ import annotations

from typing import Any

import pytest
from fastapi.testclient import TestClient

from service.schemas import TruingView


def side_panel(name: str, length: float, to: str, notches: list[float]) -> dict[str, Any]:
    """100 mm wide; its side runs up from the hem."""
    return {
        "name": name,
        "grain": "up",
        "outline": {
            "start": [0, 0],
            "edges": [
                {"name": "hem", "kind": "hem", "to": [100, 0]},
                {"name": "side", "partner": to, "to": [100, length]},
                {"name": "top", "to": [0, length]},
                {"name": "back", "to": [0, 0]},
            ],
        },
        "notches": [{"edge": "side", "distance": d} for d in notches],
    }


def walked(client: TestClient, *pieces: dict[str, Any]) -> dict[str, Any]:
    sheet = {
        "format": "grainfold piece sheet",
        "version": 1,
        "unit": "mm",
        "style": "Coat of the second gravedigger",
        "pieces": list(pieces),
    }
    kept = client.post("/api/styles", json=sheet)
    assert kept.status_code == 201, kept.text
    answer = client.get(f"/api/styles/{kept.json()['id']}/truing")
    assert answer.status_code == 200, answer.text
    TruingView.model_validate(answer.json())
    return dict(answer.json())


def test_lengths_and_notches_that_fall_apart_are_sent_with_their_places(
    client: TestClient,
) -> None:
    said = walked(
        client,
        side_panel("Front", 300, "Lining/side", [150]),
        side_panel("Lining", 290, "Front/side", []),
    )
    (seam,) = said["seams"]
    assert (seam["first"], seam["second"]) == ("Front/side", "Lining/side")
    assert seam["difference_mm"] == pytest.approx(10.0)
    assert seam["first_line"][0] == pytest.approx([0, 0])
    assert seam["first_line"][-1] == pytest.approx([300, 0])
    assert seam["second_line"][-1] == pytest.approx([290, 0])
    (notch,) = seam["notches"]
    assert notch["first_at"] == pytest.approx([150, 0])
    assert notch["second_at"] is None
    codes = {f["code"] for f in seam["findings"]}
    assert {"seam-lengths-differ", "notch-alone"} <= codes


def test_a_partner_that_is_not_there_is_said(client: TestClient) -> None:
    said = walked(client, side_panel("Front", 300, "Sleeve/side", []))
    assert said["seams"] == []
    assert [f["code"] for f in said["findings"]] == ["partner-unknown"]


def test_a_style_that_is_not_there_is_refused(client: TestClient) -> None:
    assert client.get("/api/styles/none/truing").status_code == 404


def test_what_mends_a_seam_is_sent_as_a_change_that_mends_it(client: TestClient) -> None:
    pieces = [side_panel("Front", 300, "Back/side", []), side_panel("Back", 290, "Front/side", [])]
    sheet = {
        "format": "grainfold piece sheet",
        "version": 1,
        "unit": "mm",
        "style": "Coat of the second gravedigger",
        "pieces": pieces,
    }
    (seam,) = client.post("/api/truing", json={"sheet": sheet}).json()["seams"]
    (mend,) = seam["mends"]
    assert mend["piece"] == "Front"
    assert mend["laid"][0] == pytest.approx([10, 0])
    assert mend["laid"][-1] == pytest.approx([300, 0])
    asked = {"sheet": sheet, "piece": mend["piece"], "change": mend["change"]}
    answer = client.post("/api/changes", json=asked)
    assert answer.status_code == 200, answer.text
    again = client.post("/api/truing", json={"sheet": answer.json()["sheet"]}).json()
    assert again["seams"][0]["difference_mm"] == pytest.approx(0, abs=1e-3)
    assert again["seams"][0]["mends"] == []


def strip(name: str, width: float, top: dict[str, Any], **sides: dict[str, Any]) -> dict[str, Any]:
    """A rectangle 100 mm tall with something said of its top and other sides."""
    return {
        "name": name,
        "outline": {"rectangle": {"width": width, "length": 100}, "sides": {"top": top, **sides}},
    }


def test_a_row_of_edges_is_sent_end_to_end_with_its_joins(client: TestClient) -> None:
    seam = {"partner": "Right/left"}
    said = walked(
        client,
        strip("Band", 100, {"partner": "Left/top + Right/top"}),
        strip("Left", 40, {"partner": "Band/top"}, right=seam),
        strip("Right", 55, {"partner": "Band/top"}),
    )
    row = next(s for s in said["seams"] if s["first"] == "Band/top")
    # Sewn together the band lies upside down, so that its top begins at the left.
    assert row["second"] == "Left/top + Right/top"
    assert row["difference_mm"] == pytest.approx(5)
    assert row["second_line"][-1] == pytest.approx([95, 0])
    (join,) = row["second_joins"]
    assert (join["before"], join["after"]) == ("Left/top", "Right/top")
    assert join["at"] == pytest.approx([40, 0])
    assert join["sewn_mm"] == 40
    assert row["first_joins"] == []
    assert [f["code"] for f in row["findings"]] == ["seam-lengths-differ"]
