"""Styles: in, out, changed by revisions that are never lost."""

from __future__ import annotations

import json
from collections.abc import Callable
from typing import Any

import pytest
from fastapi.testclient import TestClient

from service.schemas import StyleDetail, StyleList
from service.settings import Settings
from tests.service.sheets import APRON, apron


def add(client: TestClient, sheet: dict[str, Any] = APRON) -> dict[str, Any]:
    answer = client.post("/api/styles", json=sheet)
    assert answer.status_code == 201, answer.text
    return dict(answer.json())


def test_a_sheet_comes_back_with_its_cut_lines(client: TestClient) -> None:
    detail = StyleDetail.model_validate(add(client))
    skirt = detail.pieces[0]
    assert detail.name == "Apron of the inn scene"
    assert skirt.count_text == "one, on the fold"
    assert skirt.size_text == "60.0 cm tall, 45.0 cm wide"
    assert skirt.cut_line is not None
    xs, ys = zip(*skirt.cut_line, strict=True)
    # Net 450 x 600: seam 15 at right and top, hem 40 below, nothing at the fold (x = 0).
    assert (min(xs), max(xs), min(ys), max(ys)) == pytest.approx((0, 465, -40, 615), abs=0.01)
    assert detail.sheet == APRON


def test_a_file_is_named_as_its_source(client: TestClient) -> None:
    data = json.dumps(APRON).encode()
    answer = client.post("/api/styles", files={"file": ("C:\\plays\\apron.json", data)})
    assert answer.status_code == 201
    assert answer.json()["source"] == "apron.json"
    listed = StyleList.model_validate(client.get("/api/styles").json()).styles
    assert [(s.source, s.pieces, s.cloths) for s in listed] == [
        ("apron.json", 4, ["shell", "lining"])
    ]


def test_every_change_is_a_revision_and_can_be_undone(client: TestClient) -> None:
    style = add(client)
    address = f"/api/styles/{style['id']}"
    longer = apron(style="Long apron")
    changed = client.put(address, json={"sheet": longer, "revision": 1}).json()
    assert (changed["name"], changed["revision"]) == ("Long apron", 2)
    assert (changed["can_undo"], changed["can_redo"]) == (True, False)
    undone = client.post(f"{address}/undo").json()
    assert (undone["name"], undone["revision"]) == ("Apron of the inn scene", 1)
    assert (undone["can_undo"], undone["can_redo"]) == (False, True)
    assert client.post(f"{address}/redo").json()["name"] == "Long apron"
    # After an undo and another change, redo goes to the newest; the first change is still stored.
    client.post(f"{address}/undo")
    other = client.put(address, json={"sheet": apron(style="Short apron"), "revision": 1}).json()
    assert other["revision"] == 3
    client.post(f"{address}/undo")
    assert client.post(f"{address}/redo").json()["name"] == "Short apron"


def test_nothing_to_undo_is_said(client: TestClient) -> None:
    address = f"/api/styles/{add(client)['id']}"
    for way in ("undo", "redo"):
        answer = client.post(f"{address}/{way}")
        assert answer.status_code == 409
        assert answer.json()["error"]["code"] == f"no_{way}"


def test_a_change_made_from_an_old_state_is_refused(client: TestClient) -> None:
    address = f"/api/styles/{add(client)['id']}"
    assert (
        client.put(address, json={"sheet": apron(style="Mine"), "revision": 1}).status_code == 200
    )
    answer = client.put(address, json={"sheet": apron(style="Yours"), "revision": 1})
    assert answer.status_code == 409
    assert "revision 2 is current" in answer.json()["error"]["message"]
    assert client.get(address).json()["name"] == "Mine"


def test_a_bad_change_leaves_the_style_as_it_was(client: TestClient) -> None:
    style = add(client)
    address = f"/api/styles/{style['id']}"
    answer = client.put(address, json={"sheet": apron(pieces=[]), "revision": 1})
    assert answer.status_code == 400
    assert client.get(address).json() == style


def test_a_deleted_style_is_gone_from_the_list(client: TestClient) -> None:
    address = f"/api/styles/{add(client)['id']}"
    assert client.delete(address).status_code == 204
    assert client.get(address).status_code == 404
    assert client.get("/api/styles").json() == {"styles": []}


def test_styles_survive_a_restart(
    make_client: Callable[..., TestClient], settings: Settings
) -> None:
    style = add(make_client())
    assert make_client(settings).get(f"/api/styles/{style['id']}").json() == style


def test_an_outline_listed_clockwise_is_kept_as_it_is_shown(client: TestClient) -> None:
    """What a page shows as an edge's start must be its start in the sheet that the page changes."""
    sheet = {
        "format": "grainfold piece sheet",
        "version": 1,
        "unit": "mm",
        "style": "Banner",
        "pieces": [
            {
                "name": "Banner",
                "outline": {
                    "start": [0, 0],
                    "edges": [
                        {"name": "left", "to": [0, 400]},
                        {"name": "top", "to": [300, 400]},
                        {"name": "right", "to": [300, 0]},
                        {"name": "bottom", "to": [0, 0]},
                    ],
                },
                "grain": "up",
                "notches": [{"edge": "left", "distance": 100}],
            }
        ],
    }
    made = client.post("/api/styles", json=sheet)
    assert made.status_code == 201, made.text
    found = made.json()
    shown = [edge["name"] for edge in found["pieces"][0]["edges"]]
    again = client.post("/api/styles", json=found["sheet"]).json()
    assert [edge["name"] for edge in again["pieces"][0]["edges"]] == shown
    assert not [f for f in again["findings"] if f["code"] == "clockwise"]
    assert [f for f in found["findings"] if f["code"] == "clockwise"]
    (listed,) = found["sheet"]["pieces"][0]["notches"]
    assert listed["edge"] == "left"
    assert listed["distance"] == pytest.approx(300)
