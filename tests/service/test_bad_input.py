"""Bad input: the message names piece or file and the way out, and nothing already kept is lost."""

from __future__ import annotations

from typing import Any

import pytest
from fastapi.testclient import TestClient

from tests.service.sheets import APRON, with_piece
from tests.service.test_styles import add

FOLD = {"kind": "fold"}
CROSSED = [[0, 0], [300, 400], [310, 0], [0, 500]]
FLAT = [[0, 0], [300, 0], [600, 0]]
NARROW = [[0, 0], [30, 0], [30, 400], [0, 400]]
TWO_FOLDS = {
    "rectangle": {"width": 300, "length": 400},
    "sides": {"left": FOLD, "right": FOLD},
}
PILL = b"""<?xml version="1.0"?><!DOCTYPE b [<!ENTITY a "ha"><!ENTITY b "&a;&a;&a;&a;&a;&a;&a;&a;">
<!ENTITY c "&b;&b;&b;&b;&b;&b;&b;&b;">]><svg xmlns="http://www.w3.org/2000/svg"><title>&c;</title></svg>"""


def refused(answer: Any, *, status: tuple[int, ...], naming: str) -> dict[str, str]:
    assert answer.status_code in status, answer.text
    error: dict[str, str] = answer.json()["error"]
    assert naming.lower() in f"{error['message']} {error['where']}".lower()
    assert "Traceback" not in answer.text
    return error


@pytest.mark.parametrize(
    ("name", "data", "naming"),
    [
        ("empty.json", b"", "empty.json"),
        ("blank.svg", b" \n ", "blank.svg"),
        ("broken.json", b'{"format": "grainfold piece sheet", ', "broken.json"),
        ("number.json", b'{"format": "grainfold piece sheet", "version": NaN}', "number.json"),
        ("other.json", b'{"pieces": []}', "other.json"),
        ("holiday.jpg", b"\xff\xd8\xff\xe0\x00\x10JFIF\x00" + bytes(100), "holiday.jpg"),
        ("deep.json", b"[" * 20_000, "deep.json"),
        ("pill.svg", PILL, "pill.svg"),
    ],
)
def test_files_that_cannot_be_read(client: TestClient, name: str, data: bytes, naming: str) -> None:
    kept = add(client)
    answer = client.post("/api/styles", files={"file": (name, data)})
    error = refused(answer, status=(400, 415, 422), naming=naming)
    assert error["hint"]
    assert [s["id"] for s in client.get("/api/styles").json()["styles"]] == [kept["id"]]


@pytest.mark.parametrize(
    ("piece", "says"),
    [
        ({"outline": {"points": [[0, 0], [300, 0]]}}, "panel"),
        ({"outline": {"points": [[0, 0], [300, 0], ["x", 400]]}}, "panel"),
        ({"outline": {"points": [[0, 0], [300, 0], [1e12, 400]]}}, "panel"),
        (
            {"outline": {"start": [0, 0], "edges": [{"to": [300, 0]}, {"to": [300, 400]}]}},
            "panel",
        ),
        ({"count": {"drawn": 0}}, "panel"),
        ({"count": {"drawn": -2}}, "panel"),
        ({"cloths": "shell"}, "cloths"),
    ],
)
def test_sheets_that_are_no_sheets(client: TestClient, piece: dict[str, Any], says: str) -> None:
    answer = client.post("/api/styles", json=with_piece(**piece))
    refused(answer, status=(400, 422), naming=says)


@pytest.mark.parametrize(
    ("piece", "seam", "code"),
    [
        ({"outline": {"points": CROSSED}}, 15, "piece-crossed"),
        ({"outline": {"points": FLAT}}, 15, "piece-no-area"),
        ({"count": {"on fold": 1}, "outline": TWO_FOLDS}, 15, "two-folds"),
        ({"outline": {"points": NARROW}}, 900, "allowance-too-large"),
    ],
)
def test_pieces_that_cannot_be_cut_are_kept_to_be_mended_and_not_laid(
    client: TestClient, piece: dict[str, Any], seam: float, code: str
) -> None:
    sheet = {**with_piece(**piece), "defaults": {"allowance": {"seam": seam}}}
    style = add(client, sheet)
    panel = style["pieces"][0]
    assert panel["cut_line"] is None
    found = {f["code"]: f for f in panel["findings"]}
    assert found[code]["level"] == "refused"
    assert found[code]["hint"]
    lay = client.post("/api/lays", json={"style_id": style["id"]})
    error = refused(lay, status=(422,), naming="Panel")
    assert (error["code"], bool(error["hint"])) == (code, True)
    assert client.get("/api/lays").json() == {"lays": []}
    assert client.get(f"/api/styles/{style['id']}").json()["sheet"] == sheet


def test_a_piece_without_grain_can_be_seen_but_not_laid(client: TestClient) -> None:
    style = add(client, with_piece(grain=None))
    assert "no-grain" in [f["code"] for f in style["pieces"][0]["findings"]]
    lay = client.post("/api/lays", json={"style_id": style["id"]})
    error = refused(lay, status=(422,), naming="Panel")
    assert error["code"] == "no_grain"
    assert "any way" in error["hint"]


def test_a_piece_wider_than_the_cloth_says_by_how_much(client: TestClient) -> None:
    style = add(client, with_piece())
    cloths = {"shell": {"width": "25 cm"}}
    answer = client.post("/api/lays", json={"style_id": style["id"], "cloths": cloths})
    error = refused(answer, status=(422,), naming="Panel")
    assert error["code"] == "too_wide"
    assert "300 mm across" in error["message"]
    assert "226 mm" in error["message"]


@pytest.mark.parametrize(
    ("cloth", "where"),
    [
        ({"width": "wide"}, "cloths.shell.width"),
        ({"width": -1}, "cloths.shell.width"),
        ({"width": 0}, "cloths.shell.width"),
        ({"selvedge": 800}, "cloths.shell.selvedge"),
        ({"shrink_along": 3}, "cloths.shell.shrink_along"),
        ({"shrink_across": "60 %"}, "cloths.shell.shrink_across"),
        ({"step": 0}, "cloths.shell.step"),
        ({"fold": "sideways"}, "cloths.shell.fold"),
        ({"price_per_m": -5}, "cloths.shell.price_per_m"),
        ({"colour": "red"}, "cloths.shell.colour"),
    ],
)
def test_cloth_that_cannot_be_names_its_field(
    client: TestClient, cloth: dict[str, Any], where: str
) -> None:
    style = add(client, APRON)
    answer = client.post("/api/lays", json={"style_id": style["id"], "cloths": {"shell": cloth}})
    error = refused(answer, status=(422,), naming="")
    assert error["where"].removesuffix(".float").removesuffix(".str") == where


@pytest.mark.parametrize(
    ("request_", "where"),
    [
        ({"copies": 0}, "copies"),
        ({"seconds": -1}, "seconds"),
        ({"steps": 1.5}, "steps"),
        ({"gap_mm": "3 elephants"}, "gap_mm"),
        ({"cloths": {"velvet": {}}}, "cloths.velvet"),
        ({"style_id": 7}, "style_id"),
    ],
)
def test_requests_that_cannot_be_name_their_field(
    client: TestClient, request_: dict[str, Any], where: str
) -> None:
    style = add(client, APRON)
    answer = client.post("/api/lays", json={"style_id": style["id"], **request_})
    assert refused(answer, status=(422,), naming="")["where"] == where
    assert client.get("/api/lays").json() == {"lays": []}
