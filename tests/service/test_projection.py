"""Windows of a layout: every piece once, whole where it can be, marked where it cannot."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from calibration import homography
from calibration.table_map import Lens, TableMap
from service.errors import RefusedError
from service.projection import CLEAR_MM, GAP_MM, OVERLAP_MM, STRIP_MM, Edge, largest_box, project


def map_of(
    corners: list[tuple[float, float]], *, canvas: tuple[int, int] = (1920, 1080), k1: float = 0
) -> TableMap:
    """Map whose canvas corners (bottom left, bottom right, top right, top left) light ``corners``."""
    w, h = canvas
    px = np.array([(0, h), (w, h), (w, 0), (0, 0)], dtype=float)
    lens = Lens(k1, 0.0, (w / 2, h / 2), 0.5 * float(np.hypot(w, h))) if k1 else None
    return TableMap(homography.from_pairs(np.array(corners), px), canvas, lens)


SQUARE_ON = map_of([(0, 0), (1400, 0), (1400, 787.5), (0, 787.5)])
KEYSTONE = map_of([(-60, -30), (1330, 10), (1500, 860), (-180, 800)])


def placement(name: str, x: float, y: float, w: float, h: float, **more: Any) -> dict[str, Any]:
    """A rectangle lying on the cloth."""
    line = [[x, y], [x + w, y], [x + w, y + h], [x, y + h]]
    return {
        "piece": name, "copy": 1, "zone": "z", "plies": 1, "on_fold": False, "hands": ["drawn"],
        "turned_over": False, "turn_deg": 0, "grain_rule": "either way",
        "grain": [[x + 5, y + h / 2], [x + w - 5, y + h / 2]], "cut_line": line, "net_line": line,
        "notches": [], "marks": [], **more,
    }  # fmt: skip


def cloth(
    placements: list[dict[str, Any]],
    *,
    length: float,
    width: float = 600.0,
    zones: list[dict[str, Any]] | None = None,
) -> dict[str, Any]:
    zone = {"id": "z", "x0": 0, "x1": length, "y0": 0, "y1": width, "plies": 1, "fold_edges": []}
    return {
        "zones": zones or [zone], "placements": placements, "selvedge_mm": 10,
        "end_allowance_mm": 20, "length_mm": length,
    }  # fmt: skip


def test_largest_room_of_a_square_on_light_is_the_light_less_its_margin() -> None:
    px = 1400 / 1920
    x0, y0, x1, y1 = largest_box(SQUARE_ON)
    assert (x0, x1) == pytest.approx((10 * px, 1400 - 10 * px), abs=0.01)
    assert (y0, y1) == pytest.approx((10 * px, 787.5 - 10 * px), abs=0.01)


@pytest.mark.parametrize("k1", [0.0, -0.03, 0.03])
def test_room_lies_in_the_light_under_keystone_and_lens(k1: float) -> None:
    table_map = map_of([(-60, -30), (1330, 10), (1500, 860), (-180, 800)], k1=k1)
    x0, y0, x1, y1 = largest_box(table_map)
    t = np.linspace(0, 1, 50)
    rim = np.concatenate(
        [np.stack([x0 + t * (x1 - x0), np.full(50, y)], axis=1) for y in (y0, y1)]
        + [np.stack([np.full(50, x), y0 + t * (y1 - y0)], axis=1) for x in (x0, x1)]
    )
    # Between two of the heights tried, a bent side may stand in by a fraction of a pixel.
    assert table_map.lights(rim, margin_px=9).all()
    assert (x1 - x0) * (y1 - y0) > 0.75 * 1390 * 780


def test_short_cloth_is_one_window_with_every_piece_largest_first() -> None:
    lay = cloth(
        [placement("Cuff", 0, 0, 200, 100), placement("Back", 250, 0, 700, 500)], length=950
    )
    shown = project(lay, SQUARE_ON)
    assert len(shown.windows) == 1
    assert shown.order == ("Back#1", "Cuff#1")
    assert shown.windows[0].part == ()
    assert shown.windows[0].crosses == ()


def test_cloth_lies_above_the_strip_with_its_end_at_the_left() -> None:
    shown = project(cloth([placement("Cuff", 0, 0, 200, 100)], length=200), SQUARE_ON)
    window = shown.windows[0]
    lit = largest_box(SQUARE_ON)
    corner = homography.apply(window.table_from_cloth, [(-20, -10)])[0]
    assert corner == pytest.approx((lit[0], lit[1] + STRIP_MM + GAP_MM))
    assert shown.strip == pytest.approx((lit[0], lit[1], lit[2], lit[1] + STRIP_MM))


def test_next_window_starts_before_the_piece_that_was_cut_off() -> None:
    lay = cloth(
        [placement("Front", 0, 0, 900, 300), placement("Back", 910, 0, 900, 300)], length=1810
    )
    shown = project(lay, SQUARE_ON)
    assert len(shown.windows) == 2
    first, second = shown.windows
    assert first.whole == ("Front#1",)
    assert [(p.key, p.sides) for p in first.part] == [("Back#1", ("x1",))]
    assert second.box[0] <= 910 - CLEAR_MM
    assert "Back#1" in second.whole
    assert (first.first, second.first) == (("Front#1",), ("Back#1",))


def test_crosses_are_in_both_windows_and_far_apart() -> None:
    lay = cloth([placement("Train", 0, 0, 3000, 500)], length=3000)
    shown = project(lay, SQUARE_ON)
    for here, there in zip(shown.windows, shown.windows[1:], strict=False):
        assert len(here.crosses) == 3
        for x, y in here.crosses:
            for box in (here.box, there.box):
                assert box[0] < x < box[2]
                assert box[1] < y < box[3]
        assert here.box[2] - there.box[0] >= OVERLAP_MM - 1e-6
        (_, ya), _, (_, yc) = here.crosses
        assert yc - ya > 400
    assert shown.windows[-1].crosses == ()


def test_piece_longer_than_the_light_is_marked_at_each_edge_it_crosses() -> None:
    train = placement("Train", 0, -10, 3000, 620)
    shown = project(cloth([train], length=3000), SQUARE_ON)
    sides = [w.part[0].sides for w in shown.windows]
    assert sides[0] == ("x1",)
    assert all(s == ("x0", "x1") for s in sides[1:-1])
    assert sides[-1] == ("x0",)
    assert shown.order == ("Train#1",)


def test_cloth_wider_than_the_light_is_shown_in_rows() -> None:
    lay = cloth(
        [placement("Low", 0, 0, 500, 400), placement("High", 0, 780, 500, 400)],
        length=900,
        width=1200.0,
    )
    shown = project(lay, SQUARE_ON)
    assert len(shown.windows) == 2
    assert [w.first for w in shown.windows] == [("Low#1",), ("High#1",)]


def test_cloth_without_pieces_at_its_end_needs_no_window() -> None:
    lay = cloth([placement("Low", 0, 0, 500, 400)], length=900, width=1200.0)
    assert len(project(lay, SQUARE_ON).windows) == 1


def test_opened_cloth_is_a_spread_of_its_own_after_the_folded_one() -> None:
    zones = [
        {"id": "folded", "x0": 0, "x1": 800, "y0": 0, "y1": 300, "plies": 2, "fold_edges": ["y0"]},
        {"id": "opened", "x0": 800, "x1": 1100, "y0": 0, "y1": 600, "plies": 1, "fold_edges": []},
    ]
    lay = cloth(
        [
            placement("Back", 10, 0, 700, 250, zone="folded", plies=2, on_fold=True),
            placement("Collar", 810, 350, 200, 100, zone="opened"),
        ],
        length=1100,
        zones=zones,
    )
    shown = project(lay, SQUARE_ON)
    folded, opened = shown.spreads
    assert folded.plies_text == "two plies, right sides together"
    assert folded.box == (-20, 0, 800, 310)
    assert folded.fold_lines == (((-20, 0), (800, 0)),)
    assert "the fold along the hatched edge, selvedge on selvedge" in folded.lay_text
    assert (folded.across_mm, opened.across_mm) == (800, None)
    assert opened.lay_text.startswith("Open the rest out in one ply, right side up")
    assert opened.edges == (Edge(((800, -10), (800, 610)), "cut end here"),)
    assert opened.plies_text == "one ply, right side up"
    assert opened.box == (800, -10, 1120, 610)
    assert opened.fold_lines == ()
    assert [w.spread for w in shown.windows] == ["s1", "s2"]
    back = next(p for p in shown.pieces if p.piece == "Back")
    assert back.fold_line == ((10, 0), (710, 0))
    assert back.hand_text == "on the fold"


def test_double_fold_is_one_spread_with_a_fold_at_both_sides() -> None:
    zones = [
        {"id": "a", "x0": 0, "x1": 900, "y0": 0, "y1": 350, "plies": 2, "fold_edges": ["y0"]},
        {"id": "b", "x0": 0, "x1": 900, "y0": 350, "y1": 700, "plies": 2, "fold_edges": ["y1"]},
    ]
    lay = cloth(
        [placement("Back", 0, 400, 700, 300, zone="b", plies=2, on_fold=True)],
        length=900,
        zones=zones,
    )
    shown = project(lay, SQUARE_ON)
    (spread,) = shown.spreads
    assert spread.fold_lines == (((-20, 0), (920, 0)), ((920, 700), (-20, 700)))
    assert spread.selvedges == ()
    assert spread.edges == (Edge(((-20, 350), (920, 350)), "selvedges meet here"),)
    assert spread.lay_text.startswith("Fold both selvedges to the middle")
    assert spread.across_mm is None
    assert shown.pieces[0].fold_line == ((700, 700), (0, 700))


def test_cloth_folded_off_centre_shows_how_far_two_plies_reach() -> None:
    zones = [
        {"id": "two", "x0": 0, "x1": 900, "y0": 0, "y1": 200, "plies": 2, "fold_edges": ["y0"]},
        {"id": "one", "x0": 0, "x1": 900, "y0": 200, "y1": 800, "plies": 1, "fold_edges": []},
    ]
    lay = cloth([placement("Yoke", 0, 300, 700, 300, zone="one")], length=900, zones=zones)
    (spread,) = project(lay, SQUARE_ON).spreads
    assert spread.lay_text.startswith("Fold the cloth 20.0 cm deep")
    assert spread.edges == (Edge(((-20, 200), (920, 200)), "one ply beyond this line"),)
    assert spread.selvedges == (((-20, 810), (920, 810)),)


def test_cloth_folded_across_has_its_squared_end_at_the_far_side_of_the_fold() -> None:
    zones = [
        {"id": "two", "x0": 0, "x1": 600, "y0": 0, "y1": 700, "plies": 2, "fold_edges": ["x0"]},
        {"id": "rest", "x0": 600, "x1": 900, "y0": 0, "y1": 700, "plies": 1, "fold_edges": []},
    ]
    lay = cloth([placement("Yoke", 610, 300, 200, 300, zone="rest")], length=900, zones=zones)
    folded, rest = project(lay, SQUARE_ON).spreads
    assert folded.fold_lines == (((0, 710), (0, -10)),)
    assert "the squared end on the lit line" in folded.lay_text
    assert folded.edges == (Edge(((620, -10), (620, 710)), "squared end here"),)
    assert (folded.squared_end, folded.across_mm) == (None, 600)
    assert rest.edges == (Edge(((600, -10), (600, 710)), "cut end here"),)


def test_label_lies_in_the_widest_part_of_the_piece() -> None:
    shape = [[0, 0], [400, 0], [400, 300], [380, 300], [380, 20], [0, 20]]
    wide = placement("Yoke", 0, 0, 400, 300, cut_line=shape)
    (piece,) = project(cloth([wide], length=400), SQUARE_ON).pieces
    assert piece.label_room_mm == pytest.approx(11, abs=3)
    assert piece.label_at[0] > 370 or piece.label_at[1] < 20


@pytest.mark.parametrize(
    ("hands", "said"),
    [
        (["drawn"], "as drawn"),
        (["turned"], "turned over"),
        (["drawn", "turned"], "pair"),
        (["drawn", "drawn"], "two as drawn"),
    ],
)
def test_hands_in_words(hands: list[str], said: str) -> None:
    (piece,) = project(
        cloth([placement("Strap", 0, 0, 90, 40, hands=hands)], length=90), SQUARE_ON
    ).pieces
    assert piece.hand_text == said


def test_light_too_small_to_cut_in_is_refused_with_its_size() -> None:
    small = map_of([(0, 0), (300, 0), (300, 169), (0, 169)])
    with pytest.raises(RefusedError, match="297 x 164 mm"):
        project(cloth([placement("Cuff", 0, 0, 200, 100)], length=200), small)


@settings(max_examples=40, deadline=None)
@given(
    spans=st.lists(st.tuples(st.floats(0, 4000), st.floats(30, 2000)), min_size=1, max_size=12),
    width=st.floats(300, 1600),
)
def test_every_piece_is_cut_once_and_every_place_is_shown(
    spans: list[tuple[float, float]], width: float
) -> None:
    places = [placement(f"P{i}", x, 0, w, 250) for i, (x, w) in enumerate(spans)]
    length = max(x + w for x, w in spans)
    shown = project(cloth(places, length=length, width=width), KEYSTONE)
    assert sorted(shown.order) == sorted(p.key for p in shown.pieces)
    named = {k for w in shown.windows for k in (*w.whole, *(p.key for p in w.part))}
    assert named == {p.key for p in shown.pieces}
    room = shown.room
    for window in shown.windows:
        corners = homography.apply(window.table_from_cloth, [window.box[:2], window.box[2:]])
        assert (corners >= np.array(room[:2]) - 1e-6).all()
        assert (corners <= np.array(room[2:]) + 1e-6).all()
    reach = shown.spreads[0].box[0]
    for x0, x1 in sorted((w.box[0], w.box[2]) for w in shown.windows):
        assert x0 <= reach + 1e-6
        reach = max(reach, x1)
    assert reach >= length
