"""Laying the rest again at the table: holes where pieces were cut, a ledger that forgets nothing."""

from __future__ import annotations

from typing import Any

import pytest
from fastapi.testclient import TestClient
from shapely import Polygon

from service.cutting import move
from service.errors import ForbiddenError
from service.schemas_cutting import Walk, WalkWish
from tests.service.sheets import APRON
from tests.service.test_cutting import APPROVED, Cutting
from tests.service.test_lays import lay_of, wait
from tests.service.test_styles import add


@pytest.fixture
def begun(client: TestClient) -> Cutting:
    """The apron's shell on open cloth, approved."""
    lay = wait(client, lay_of(client, add(client, APRON)["id"], seconds=0)["id"])
    cutting = Cutting(client, lay["id"])
    assert cutting.walk(APPROVED).status_code == 200
    return cutting


def overlap(one: Polygon, other: Polygon) -> bool:
    """Whether two shapes interpenetrate by a tenth of a millimetre or more."""
    return bool(one.buffer(-0.05).intersects(other.buffer(-0.05)))


def relay(cutting: Cutting, **wish: Any) -> Any:
    body = {"number": cutting.get()["number"], "seconds": 0, **wish}
    return cutting.client.post(f"{cutting.url}/relay", json=body)


def layout(cutting: Cutting) -> dict[str, Any]:
    with cutting.client.app.state.database.reading() as session:  # type: ignore[attr-defined]
        from service.store import cuttings

        lay_id = cutting.url.split("/")[3]
        return cuttings.layout_of(session, lay_id, "shell")


def lines_of(cutting: Cutting) -> dict[tuple[str, str], tuple[int, int, int]]:
    return {
        (n["piece"], n["hand"]): (n["asked"], n["cut"], n["gap"]) for n in cutting.get()["lines"]
    }


def test_a_spoiled_piece_is_laid_again_round_what_is_cut(begun: Cutting) -> None:
    before = {f"{p['piece']}#{p['copy']}": p for p in layout(begun)["placements"]}
    for key in ("Skirt#1", "Waistband#1"):
        assert begun.mark("cut", key).status_code == 200
    begun.mark("spoiled", "Skirt#1", hand="drawn")
    answer = relay(begun)
    assert answer.status_code == 200, answer.text
    now = answer.json()
    assert (now["walk"]["view"], now["walk"]["approved"]) == ("guides", False)
    fresh = {
        f"{p['piece']}#{p['copy']}": Polygon(p["cut_line"]) for p in layout(begun)["placements"]
    }
    assert set(fresh) == {"Pocket#1", "Pocket#2", "Skirt#2"}
    for key in ("Skirt#1", "Waistband#1"):
        hole = Polygon(before[key]["cut_line"])
        assert not any(overlap(shape, hole) for shape in fresh.values())
    assert lines_of(begun)["Skirt", "drawn"] == (1, 0, 1)
    assert lines_of(begun)["Waistband", "drawn"] == (1, 1, 0)
    # What was cut before may still turn out spoiled.
    assert now["earlier"] == [
        {"key": key, "hands": before[key]["hands"]}
        for key in before
        if key.split("#")[0] != "Pocket"
    ]
    assert begun.mark("spoiled", "Waistband#1", hand="drawn").status_code == 200
    assert lines_of(begun)["Waistband", "drawn"] == (1, 0, 1)


def test_what_was_cut_long_ago_stays_a_hole(begun: Cutting) -> None:
    holes = []
    for copy in (1, 2):
        begun.walk(APPROVED)
        key = f"Skirt#{copy}"
        (skirt,) = (p for p in layout(begun)["placements"] if p["piece"] == "Skirt")
        holes.append(Polygon(skirt["cut_line"]))
        assert begun.mark("cut", key).status_code == 200
        begun.mark("spoiled", key, hand="drawn")
        assert relay(begun).status_code == 200
    (skirt,) = (p for p in layout(begun)["placements"] if p["piece"] == "Skirt")
    assert skirt["copy"] == 3
    assert not any(overlap(Polygon(skirt["cut_line"]), hole) for hole in holes)
    begun.walk(APPROVED)
    for key in ("Skirt#3", "Pocket#1", "Pocket#2", "Waistband#1"):
        assert begun.mark("cut", key).status_code == 200
    assert begun.mark("done").json()["done"] is True
    assert lines_of(begun)["Skirt", "drawn"] == (1, 1, 0)


def test_a_flaw_found_late_moves_the_piece_that_lay_on_it(begun: Cutting) -> None:
    (pocket, *_) = (p for p in layout(begun)["placements"] if p["piece"] == "Pocket")
    x, y = pocket["cut_line"][0]
    flaw = [[x - 5, y - 5], [x + 5, y - 5], [x + 5, y + 5], [x - 5, y + 5]]
    assert relay(begun, flaws=[flaw]).status_code == 200
    spot = Polygon(flaw)
    laid = [Polygon(p["cut_line"]) for p in layout(begun)["placements"]]
    assert len(laid) == 4
    assert not any(shape.intersection(spot).area > 0.01 for shape in laid)


def test_flaws_are_kept_apart_and_taken_back_one_by_one(begun: Cutting) -> None:
    (pocket, *_) = (p for p in layout(begun)["placements"] if p["piece"] == "Pocket")
    x, y = pocket["cut_line"][0]

    def spot(dx: float) -> list[list[float]]:
        return [[x + dx - 5, y - 5], [x + dx + 5, y - 5], [x + dx + 5, y + 5], [x + dx - 5, y + 5]]

    first = relay(begun, flaws=[spot(0), spot(3000)]).json()
    assert first["flaws"] == [spot(0), spot(3000)]
    assert first["holes"] == []
    again = relay(begun, take_back=[0], flaws=[spot(4000)], keep=False).json()
    assert again["flaws"] == [spot(3000), spot(4000)]
    refused = relay(begun, take_back=[7])
    assert refused.status_code == 422
    assert refused.json()["error"]["code"] == "flaw"
    assert begun.get()["flaws"] == [spot(3000), spot(4000)]


def test_a_page_that_saw_an_older_state_is_refused(begun: Cutting) -> None:
    number = begun.get()["number"]
    begun.mark("cut", "Pocket#1")
    answer = relay(begun, number=number)
    assert answer.status_code == 409
    assert answer.json()["error"]["code"] == "moved_on"


def test_before_approval_there_is_nothing_to_lay_again(client: TestClient) -> None:
    lay = wait(client, lay_of(client, add(client, APRON)["id"], seconds=0)["id"])
    answer = relay(Cutting(client, lay["id"]))
    assert answer.status_code == 422
    assert answer.json()["error"]["code"] == "not_approved"


def test_a_hand_held_page_does_not_approve_what_was_laid_again(begun: Cutting) -> None:
    begun.mark("cut", "Pocket#1")
    now = relay(begun).json()
    wish = WalkWish(number=now["number"], layout=now["layout"], walk=Walk(**APPROVED))
    database = begun.client.app.state.database  # type: ignore[attr-defined]
    lay_id = begun.url.split("/")[3]
    with database.writing() as session, pytest.raises(ForbiddenError, match="cloth can be seen"):
        move(session, lay_id, "shell", wish, may_approve=False)
    assert begun.get()["walk"]["approved"] is False
    assert begun.walk(APPROVED).status_code == 200
    with database.writing() as session:
        wish = wish.model_copy(update={"number": begun.get()["number"]})
        assert move(session, lay_id, "shell", wish, may_approve=False).walk.approved


def test_cloth_that_was_measured_is_held_against_what_was_laid_again(begun: Cutting) -> None:
    """The spoiled skirt no longer fits the measured length: the shortage is told, nothing approved."""
    held = layout(begun)
    reach = max(x for p in held["placements"] for x, _ in p["cut_line"])
    length = reach + 2 * held["end_allowance_mm"]
    width = held["usable_width_mm"] + 2 * held["selvedge_mm"]
    body = {"lengths": [length] * 2, "widths": [width] * 3, "unit": "mm"}
    measured = begun.client.post(f"{begun.url}/cloth", json=body).json()["measured"]
    assert measured["fits"] is True
    begun.mark("cut", "Skirt#1")
    begun.mark("spoiled", "Skirt#1", hand="drawn")
    now = relay(begun).json()
    longer = max(x for p in layout(begun)["placements"] for x, _ in p["cut_line"]) - reach
    assert longer > 100, "one more skirt needs more cloth"
    assert now["measured"]["fits"] is False
    assert now["measured"]["spare_length_mm"] == pytest.approx(-longer)
    assert f"{longer:.0f} mm too short" in now["measured"]["words"]
    refused = begun.walk(APPROVED)
    assert refused.status_code == 422
    assert refused.json()["error"]["code"] == "cloth_too_small"
