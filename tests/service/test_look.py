"""What of a style wants to be looked at, counted: styles whose faults are known."""

from __future__ import annotations

import copy
from typing import Any

import pytest
from fastapi.testclient import TestClient

from service.schemas import StyleLooks
from tests.service.test_body import SKIRT


def looked(client: TestClient, sheet: dict[str, Any]) -> dict[str, Any]:
    kept = client.post("/api/styles", json=sheet)
    assert kept.status_code == 201, kept.text
    answer = client.get("/api/looks", params={"style": kept.json()["id"]})
    assert answer.status_code == 200
    StyleLooks.model_validate(answer.json())
    (look,) = answer.json()["looks"]
    assert look.pop("id") == kept.json()["id"]
    return dict(look)


def test_pieces_seams_and_girths_are_counted(client: TestClient) -> None:
    # The skirt's girth is 2 cm off, and its one seam makes points at hem and waist.
    assert looked(client, SKIRT) == {
        "readable": True,
        "pieces_refused": 0,
        "pieces_to_see": 0,
        "seams_to_see": 1,
        "girths_to_see": 1,
    }


def test_a_piece_that_cannot_be_cut_is_counted_apart(client: TestClient) -> None:
    sheet = copy.deepcopy(SKIRT)
    # Its outline crosses itself.
    sheet["pieces"][1]["outline"]["edges"][0]["to"] = [30, 70]
    sheet["pieces"][1]["outline"]["edges"][1]["to"] = [30, 10]
    look = looked(client, sheet)
    assert (look["pieces_refused"], look["seams_to_see"]) == (1, 0)


def test_a_line_that_no_piece_has_is_one_thing_to_see(client: TestClient) -> None:
    sheet = copy.deepcopy(SKIRT)
    sheet["body"]["measures"][0]["line"] = "hip"
    assert looked(client, sheet)["girths_to_see"] == 1


@pytest.mark.parametrize("ids", [["none"], []])
def test_a_style_that_is_gone_is_left_out(client: TestClient, ids: list[str]) -> None:
    assert client.get("/api/looks", params={"style": ids}).json() == {"looks": []}


def test_a_changed_sheet_is_counted_anew(client: TestClient) -> None:
    kept = client.post("/api/styles", json=SKIRT).json()
    sheet = copy.deepcopy(SKIRT)
    sheet["body"]["measures"][0]["ease"] = 4
    client.put(f"/api/styles/{kept['id']}", json={"sheet": sheet, "revision": kept["revision"]})
    (look,) = client.get("/api/looks", params={"style": kept["id"]}).json()["looks"]
    assert look["girths_to_see"] == 0
