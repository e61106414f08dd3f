"""A cutting in progress: ordered by the server, kept through restarts, honest in its ledger."""

from __future__ import annotations

import threading
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from fastapi.testclient import TestClient

from calibration import homography
from calibration.table_map import TableMap
from calibration.tape import all_pairs, corner_crosses, measured
from service.app import create_app
from service.settings import Settings
from service.store.tables import ClothResultRow, LayRow, StyleRow


def placement(piece: str, copy: int, hands: list[str], x: float) -> dict[str, Any]:
    line = [[x, 0], [x + 100, 0], [x + 100, 100], [x, 100]]
    return {
        "piece": piece, "copy": copy, "zone": "z", "plies": len(hands), "on_fold": False,
        "hands": hands, "turned_over": False, "turn_deg": 0, "grain_rule": "either way",
        "grain": [[x + 5, 50], [x + 95, 50]], "cut_line": line, "net_line": line, "notches": [],
        "marks": [],
    }  # fmt: skip


LAYOUT: dict[str, Any] = {
    "cloth": "shell", "fold": "open", "selvedge_mm": 10, "end_allowance_mm": 20, "length_mm": 400,
    "zones": [
        {"id": "z", "x0": 0, "x1": 400, "y0": 0, "y1": 400, "plies": 1, "fold_edges": []}
    ],
    "placements": [
        placement("Front", 1, ["drawn"], 0), placement("Front", 2, ["turned"], 110),
        placement("Cuff", 1, ["drawn", "turned"], 220),
    ],
    "asked": [
        {"piece": "Front", "drawn": 1, "turned": 1}, {"piece": "Cuff", "drawn": 1, "turned": 1},
    ],
    "steps_text": [], "buy_text": "50 cm",
}  # fmt: skip
APPROVED = {"view": "whole", "window": 0, "stop": 0, "approved": True, "seen": [0]}


def keep_lay(client: TestClient) -> str:
    with client.app.state.database.writing() as session:  # type: ignore[attr-defined]
        style = StyleRow(name="Waistcoat", revision=1)
        session.add(style)
        session.flush()
        lay = LayRow(style_id=style.id, revision=1, style="Waistcoat", request={}, state="done")
        session.add(lay)
        session.flush()
        session.add(ClothResultRow(lay_id=lay.id, cloth="shell", position=0, result=LAYOUT))
        return str(lay.id)


class Cutting:
    """The routes of one lay's cutting."""

    def __init__(self, client: TestClient, lay: str) -> None:
        self.client, self.url = client, f"/api/lays/{lay}/cutting"

    def get(self) -> dict[str, Any]:
        found: dict[str, Any] = self.client.get(self.url).json()
        return found

    def walk(self, walk: dict[str, Any], **more: Any) -> Any:
        now = self.get()
        body = {"number": now["number"], "layout": now["layout"], "walk": walk} | more
        return self.client.put(f"{self.url}/walk", json=body)

    def mark(self, do: str, key: str = "", **more: Any) -> Any:
        return self.client.post(f"{self.url}/marks", json={"do": do, "key": key} | more)


@pytest.fixture
def cutting(client: TestClient) -> Cutting:
    return Cutting(client, keep_lay(client))


def test_before_anything_was_done_it_stands_at_the_guides(cutting: Cutting) -> None:
    now = cutting.get()
    assert (now["number"], now["walk"]["view"], now["cut"]) == (0, "guides", [])
    assert [(n["piece"], n["hand"], n["gap"]) for n in now["lines"]] == [
        ("Front", "drawn", 1),
        ("Front", "turned", 1),
        ("Cuff", "drawn", 1),
        ("Cuff", "turned", 1),
    ]
    assert now["gaps_text"].startswith("Still to be cut: 1 x Front (as drawn), 1 x Front (turned")


def test_two_people_pressing_next_at_once_move_on_by_one(cutting: Cutting) -> None:
    assert cutting.walk(APPROVED).status_code == 200
    number, layout = cutting.get()["number"], cutting.get()["layout"]
    step = {**APPROVED, "view": "piece", "stop": 1}
    answers = []
    gate = threading.Barrier(2)

    def press() -> None:
        gate.wait()
        body = {"number": number, "layout": layout, "walk": step}
        answers.append(cutting.client.put(f"{cutting.url}/walk", json=body))

    people = [threading.Thread(target=press) for _ in range(2)]
    for person in people:
        person.start()
    for person in people:
        person.join()
    assert sorted(a.status_code for a in answers) == [200, 409]
    refused = next(a for a in answers if a.status_code == 409).json()["error"]
    assert refused["code"] == "moved_on"
    assert cutting.get()["number"] == number + 1


def test_nothing_is_marked_before_the_layout_is_approved(cutting: Cutting) -> None:
    answer = cutting.mark("cut", "Front#1")
    assert answer.status_code == 422
    assert answer.json()["error"]["code"] == "not_approved"


def test_approved_layout_stays_whatever_the_search_still_finds(cutting: Cutting) -> None:
    before = cutting.get()["layout"]
    assert cutting.walk(APPROVED).status_code == 200
    lay = cutting.url.split("/")[3]
    with cutting.client.app.state.database.writing() as session:  # type: ignore[attr-defined]
        row = session.get(ClothResultRow, (lay, "shell"))
        row.result = {**LAYOUT, "placements": LAYOUT["placements"][:1]}
    assert cutting.get()["layout"] == before


def test_page_with_an_older_layout_is_told_to_look_again(cutting: Cutting) -> None:
    answer = cutting.walk(APPROVED, layout="0123456789abcdef")
    assert answer.status_code == 409
    assert answer.json()["error"]["code"] == "layout_changed"


def test_same_hand_is_not_cut_twice(cutting: Cutting) -> None:
    cutting.walk(APPROVED)
    assert cutting.mark("cut", "Front#1").json()["cut"] == ["Front#1"]
    again = cutting.mark("cut", "Front#1")
    assert again.status_code == 422
    assert again.json()["error"]["code"] == "cut_twice"
    assert cutting.mark("take back", "Front#1").json()["cut"] == []


def test_done_is_refused_while_gaps_stand(cutting: Cutting) -> None:
    cutting.walk(APPROVED)
    for key in ("Front#1", "Front#2"):
        cutting.mark("cut", key)
    refused = cutting.mark("done")
    assert refused.status_code == 422
    assert "1 x Cuff" in refused.json()["error"]["message"]
    cutting.mark("cut", "Cuff#1")
    now = cutting.mark("done").json()
    assert (now["done"], now["gaps_text"]) == (True, "")
    spoiled = cutting.mark("spoiled", "Cuff#1", hand="turned").json()
    assert spoiled["done"] is False
    assert spoiled["gaps_text"] == "Still to be cut: 1 x Cuff (turned over)."


@pytest.mark.parametrize(
    ("body", "where"),
    [
        ({"do": "cut", "key": "Sleeve#1"}, "Sleeve"),
        ({"do": "cut", "key": "Front"}, "key"),
        ({"do": "spoiled", "key": "Front#1"}, "hand"),
        ({"do": "spoiled", "key": "Front#1", "hand": "drawn"}, "Front"),
    ],
)
def test_wrong_marks_are_refused_by_name(
    cutting: Cutting, body: dict[str, Any], where: str
) -> None:
    cutting.walk(APPROVED)
    answer = cutting.client.post(f"{cutting.url}/marks", json=body)
    assert answer.status_code == 422
    assert answer.json()["error"]["where"] == where
    assert cutting.get()["cut"] == []


def test_interrupted_cutting_opens_where_it_stopped(
    make_client: Callable[..., TestClient], settings: Settings
) -> None:
    first = make_client()
    lay = keep_lay(first)
    cutting = Cutting(first, lay)
    cutting.walk({**APPROVED, "view": "piece", "stop": 2})
    cutting.mark("cut", "Front#1")
    now = cutting.get()
    again = TestClient(create_app(settings), base_url=str(first.base_url), client=("127.0.0.1", 1))
    with again:
        assert again.get(f"/api/lays/{lay}/cutting").json() == now


def test_real_cloth_is_measured_and_the_fit_checked(cutting: Cutting) -> None:
    """Pieces reach to x = 320 and y = 100; ends of 20 mm and selvedges of 10 mm are added."""
    body: dict[str, Any] = {"lengths": ["36.5 cm", "36.2 cm"], "widths": [125, 124, 126]}
    now = cutting.client.post(f"{cutting.url}/cloth", json=body).json()["measured"]
    assert (now["fits"], now["narrowest"]) == (True, 2)
    assert (now["spare_length_mm"], now["spare_width_mm"]) == pytest.approx((2, 4))
    assert "2 mm to spare along, 4 mm across" in now["words"]
    body["widths"] = ["125 mm", "4 1/2 in", "126 mm"]
    now = cutting.client.post(f"{cutting.url}/cloth", json=body).json()["measured"]
    assert not now["fits"]
    assert "6 mm too narrow at place 2. Do not cut" in now["words"]
    refused = cutting.walk(APPROVED)
    assert refused.status_code == 422
    assert refused.json()["error"]["code"] == "cloth_too_small"
    body["widths"] = [125, "wide", 126]
    unread = cutting.client.post(f"{cutting.url}/cloth", json=body)
    assert (unread.status_code, unread.json()["error"]["where"]) == (422, "width 2")


def test_look_is_asked_for_bit_by_bit(cutting: Cutting) -> None:
    url = f"{cutting.url}/look"
    cutting.client.post(url, json={"width_mm": 3})
    now = cutting.client.post(url, json={"turned": True}).json()
    assert now["look"] == {"width_mm": 3, "light": None, "turned": True}
    refused = cutting.client.post(url, json={"width_mm": 30})
    assert (refused.status_code, refused.json()["error"]["where"]) == (422, "width_mm")


def test_chalked_crosses_give_a_shift_and_a_turn(cutting: Cutting) -> None:
    lit = [(30.0, 100.0), (90.0, 400.0), (30.0, 700.0)]
    turn = np.radians(0.2)
    motion = np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]])
    chalked = (np.array(lit) @ motion.T + (3.0, -2.0)).tolist()
    body = {"window": 1, "map_id": "m", "lit": lit, "chalked": chalked}
    now = cutting.client.post(f"{cutting.url}/registration", json=body).json()
    (found,) = now["registered"]
    assert (found["window"], found["map_id"]) == (1, "m")
    assert found["turn_deg"] == pytest.approx(0.2)
    assert (found["dx_mm"], found["dy_mm"]) == pytest.approx((3.0, -2.0))
    assert found["residual_mm"] == pytest.approx(0, abs=1e-9)
    back = cutting.client.post(f"{cutting.url}/registration", json=body | {"chalked": lit}).json()
    assert np.array(back["registered"][0]["matrix"]) == pytest.approx(np.eye(3))
    far = [[x + 200 * i, y] for i, (x, y) in enumerate(lit)]
    refused = cutting.client.post(f"{cutting.url}/registration", json=body | {"chalked": far})
    assert refused.status_code == 422
    assert refused.json()["error"]["where"] == "crosses"


def test_unknown_lay_and_cloth(client: TestClient, cutting: Cutting) -> None:
    assert client.get("/api/lays/nowhere/cutting").status_code == 404
    assert client.get(f"{cutting.url}?cloth=velvet").status_code == 404


def test_projection_is_of_the_approved_layout(client: TestClient, cutting: Cutting) -> None:
    canvas = (1920, 1080)
    crosses = corner_crosses(canvas)
    px = np.array([(0, 1080), (1920, 1080), (1920, 0), (0, 0)], dtype=float)
    table = np.array([(0, 0), (1400, 0), (1400, 787.5), (0, 787.5)])
    true = TableMap(homography.from_pairs(table, px), canvas)
    pairs = all_pairs(crosses)
    readings = measured(crosses, true, pairs)
    made = client.post(
        "/api/maps",
        json={
            "canvas": canvas,
            "crosses": {c.name: c.px for c in crosses.crosses},
            "distances": [
                {"from": a, "to": b, "mm": mm} for (a, b), mm in zip(pairs, readings, strict=True)
            ],
        },
    )
    assert made.status_code == 201
    cutting.walk(APPROVED)
    lay = cutting.url.split("/")[3]
    with client.app.state.database.writing() as session:  # type: ignore[attr-defined]
        row = session.get(ClothResultRow, (lay, "shell"))
        row.result = {**LAYOUT, "placements": LAYOUT["placements"][:1]}
    shown = client.get(cutting.url.replace("cutting", "projection")).json()
    assert [p["key"] for p in shown["pieces"]] == ["Front#1", "Front#2", "Cuff#1"]
    assert shown["layout"] == cutting.get()["layout"]
    hands = {p["key"]: p["hand_text"] for p in shown["pieces"]}
    assert hands == {"Front#1": "as drawn", "Front#2": "turned over", "Cuff#1": "pair"}
