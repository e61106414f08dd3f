"""Calibration by photographs over HTTP: a look at each photo, one map of them, its error in mm."""

from __future__ import annotations

import json
from typing import Any

import numpy as np
import pytest
from fastapi.testclient import TestClient

from calibration.table_map import from_dict
from tests.calibration.simulator import (
    A3,
    WEBCAM,
    Scene,
    camera,
    centred,
    default_pattern,
    photograph,
    projector,
    truth_errors,
)

SCENE = Scene(projector(15), camera(WEBCAM, 28, -30), (centred(A3, 4),))
BOARD = {
    "corners": [9, 6],
    "along": {"squares": 10, "length": "34 cm"},
    "across": {"squares": 7, "length": 238},
}
WISH: dict[str, Any] = {"canvas": [1920, 1080], "board": BOARD}


@pytest.fixture(scope="module")
def photo() -> bytes:
    _, picture = default_pattern()
    return photograph(SCENE, picture, rng=np.random.default_rng(1))


def look(client: TestClient, data: bytes, wish: dict[str, Any] = WISH) -> Any:
    return client.post(
        "/api/photos/look", files={"photo": ("table.jpg", data)}, data={"wish": json.dumps(wish)}
    )


def test_one_hand_held_photo_gives_a_map_that_is_true(client: TestClient, photo: bytes) -> None:
    seen = look(client, photo).json()
    assert seen["words"][0] == "The sheet: 54 of 54 corners found."
    asked = {**WISH, "photos": [seen["seen"]], "dpr": 1, "screen": "1920 x 1080"}
    made = client.post("/api/maps/by-photos", json=asked)
    assert made.status_code == 201, made.text
    detail = made.json()
    assert detail["route"] == "camera"
    assert detail["verdict"] == "unchecked"
    assert len(detail["accuracy"]["mm_per_px"]) == 4
    found = from_dict(
        {
            "format": 1,
            "projector_from_table": detail["projector_from_table"],
            "canvas_px": detail["canvas"],
            "lens": detail["lens"],
        }
    )
    errors = truth_errors(SCENE, found)
    assert np.quantile(errors, 0.95) < 0.4  # mm, one A3 sheet, one photo
    assert np.quantile(errors, 0.95) < detail["p95_mm"]
    assert client.get("/api/maps/current").json()["id"] == detail["id"]


def test_a_photo_without_a_board_says_why(client: TestClient) -> None:
    empty = photograph(
        Scene(SCENE.projector, SCENE.camera, ()),
        np.full((1080, 1920), 255, np.uint8),
        rng=np.random.default_rng(2),
        samples=1,
    )
    refused = look(client, empty)
    assert refused.status_code == 422
    error = refused.json()["error"]
    assert error["code"].startswith("detection.")
    assert error["where"] == "table.jpg"
    assert error["hint"]


@pytest.mark.parametrize(
    "data", [b"", b"not a photo", b"\xff\xd8\xff\xe0 cut short", b"GIF89a" + bytes(99)]
)
def test_what_is_no_photo_is_refused_in_words(client: TestClient, data: bytes) -> None:
    refused = look(client, data)
    assert refused.status_code in (400, 415, 422)
    assert refused.json()["error"]["hint"]


@pytest.mark.parametrize(
    ("change", "where"),
    [
        ({"corners": [9, 7]}, "board"),
        ({"along": {"squares": 10, "length": "wide"}}, "along"),
        ({"along": {"squares": 0, "length": 340}}, "board.along.squares"),
    ],
)
def test_a_wrong_board_is_named(
    client: TestClient, photo: bytes, change: dict[str, Any], where: str
) -> None:
    refused = look(client, photo, {**WISH, "board": {**BOARD, **change}})
    assert refused.status_code == 422
    assert refused.json()["error"]["where"] == where


def test_a_look_for_another_board_is_stale(client: TestClient, photo: bytes) -> None:
    seen = look(client, photo).json()["seen"]
    other = {
        "corners": [8, 5],
        "along": {"squares": 9, "length": 306},
        "across": {"squares": 6, "length": 204},
    }
    answer = client.post(
        "/api/maps/by-photos", json={"canvas": [1920, 1080], "board": other, "photos": [seen]}
    )
    assert answer.status_code == 422
    assert answer.json()["error"]["code"] == "camera.stale"


def test_the_board_to_print_and_the_pattern_to_light(client: TestClient) -> None:
    page = client.get("/api/boards/A3.pdf")
    assert page.headers["content-type"] == "application/pdf"
    assert page.content.startswith(b"%PDF")
    lit = client.get("/api/boards/pattern", params={"width": 1280, "height": 720}).json()
    assert lit["canvas"] == [1280, 720]
    assert lit["hole"] is not None
    assert all(x >= 0 and y >= 0 and x + w <= 1280 and y + h <= 720 for x, y, w, h in lit["black"])
    refused = client.get("/api/boards/A4.pdf", params={"columns": 8, "rows": 6})
    assert refused.json()["error"]["where"] == "board"
