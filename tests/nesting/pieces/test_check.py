from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

import pytest

from nesting.errors import PieceError
from nesting.findings import Level
from nesting.pieces.check import check_piece
from nesting.pieces.outline import Allowance, AllowanceState, Edge, EdgeKind
from nesting.pieces.piece import Count, Dart, Grain, Mark, MarkKind, Notch, Piece
from nesting.polygon import as_points
from tests.nesting.drafts import add, half_skirt, polygon, rectangle


def edge_changed(piece: Piece, which: str, **changes: object) -> Piece:
    return replace(
        piece,
        edges=tuple(replace(e, **changes) if e.name == which else e for e in piece.edges),  # type: ignore[arg-type]
    )


def test_sound_pieces_have_no_findings() -> None:
    assert check_piece(rectangle()) == ()
    assert check_piece(half_skirt()) == ()


REFUSED: dict[str, Callable[[], Piece]] = {
    "piece-no-name": lambda: replace(rectangle(), name=" "),
    "piece-empty": lambda: replace(rectangle(), edges=()),
    "piece-count": lambda: replace(rectangle(), count=Count(0, 0)),
    "edge-no-name": lambda: edge_changed(rectangle(), "top", name=""),
    "edge-twice": lambda: edge_changed(rectangle(), "top", name="left"),
    "piece-not-finite": lambda: polygon([(0, 0), (100, 0), (math.nan, 100)]),
    "piece-too-few-points": lambda: edge_changed(
        rectangle(), "top", points=as_points([(200, 300)])
    ),
    "piece-open": lambda: edge_changed(
        rectangle(), "top", points=as_points([(200, 300), (5, 300)])
    ),
    "piece-too-large": lambda: polygon([(0, 0), (60_000, 0), (60_000, 100)]),
    "piece-too-small": lambda: polygon([(0, 0), (0.6, 0), (0.6, 0.5)]),
    "piece-no-area": lambda: polygon([(0, 0), (100, 0), (50, 0)]),
    "piece-crossed": lambda: polygon([(0, 0), (100, 0), (0, 100), (90, 100)]),
    "piece-clockwise": lambda: polygon([(0, 0), (0, 100), (100, 100), (100, 0)]),
    "allowance-width": lambda: edge_changed(rectangle(), "top", allowance=add(-3)),
    "allowance-step": lambda: edge_changed(
        rectangle(), "top", allowance=Allowance(AllowanceState.ADD, 10, steps=((300.0, 20.0),))
    ),
    "fold-allowance": lambda: edge_changed(rectangle(), "top", kind=EdgeKind.FOLD),
    "two-folds": lambda: edge_changed(
        edge_changed(rectangle(), "left", kind=EdgeKind.FOLD, allowance=Allowance()),
        "right",
        kind=EdgeKind.FOLD,
        allowance=Allowance(),
    ),
    "fold-not-straight": lambda: edge_changed(
        rectangle(),
        "left",
        kind=EdgeKind.FOLD,
        allowance=Allowance(),
        points=as_points([(0, 300), (-1, 150), (0, 0)]),
    ),
    "fold-off-grain": lambda: replace(half_skirt(), grain=Grain((0, 0), (1, 100))),
    "fold-both-sides": lambda: edge_changed(
        polygon([(0, 0), (100, 0), (100, 200), (-50, 200), (-50, 100), (0, 100)]),
        "e5",
        kind=EdgeKind.FOLD,
        allowance=Allowance(),
    ),
    "grain-no-length": lambda: replace(rectangle(), grain=Grain((5, 5), (5, 5))),
    "notch-no-edge": lambda: replace(rectangle(), notches=(Notch("neck", 5),)),
    "notch-off-edge": lambda: replace(rectangle(), notches=(Notch("top", 201),)),
    "notch-marks": lambda: replace(rectangle(), notches=(Notch("top", 20, marks=0),)),
    "dart-no-edge": lambda: replace(rectangle(), darts=(Dart("d", "neck", 5, 9, (100, 150)),)),
    "dart-off-edge": lambda: replace(rectangle(), darts=(Dart("d", "top", 90, 80, (100, 150)),)),
    "dart-point-outside": lambda: replace(
        rectangle(), darts=(Dart("d", "top", 90, 120, (100, 350)),)
    ),
}


@pytest.mark.parametrize("code", REFUSED)
def test_a_piece_that_cannot_be_cut_is_refused_by_name_with_a_way_out(code: str) -> None:
    piece = REFUSED[code]()
    with pytest.raises(PieceError) as caught:
        check_piece(piece)
    error = caught.value
    assert error.code == code
    assert error.message.startswith(f"{piece.name}: ")
    assert error.hint
    assert error.where.startswith(piece.name)


def test_a_mark_or_grain_line_that_is_not_a_number_is_refused() -> None:
    for piece in (
        replace(rectangle(), grain=Grain((0, math.inf), (0, 10))),
        replace(rectangle(), marks=(Mark(MarkKind.DRILL, ((math.nan, 1),)),)),
    ):
        with pytest.raises(PieceError, match="not a number"):
            check_piece(piece)


def test_a_crossing_is_placed() -> None:
    with pytest.raises(PieceError, match=r"at x 4\d\.\d, y 5\d\.\d mm"):
        check_piece(REFUSED["piece-crossed"]())


def test_a_seam_without_allowance_a_missing_grain_and_a_short_edge_are_findings() -> None:
    bare = polygon([(0, 0), (100, 0), (100, 100), (0.3, 100), (0, 100)], [0, 10, 10, 10, 10])
    findings = {f.code: f for f in check_piece(replace(bare, grain=None))}
    assert set(findings) == {"seam-without-allowance", "no-grain", "short-edge"}
    assert "e0" in findings["seam-without-allowance"].message
    assert "0.30 mm" in findings["short-edge"].message
    assert all(f.level is Level.WARNING and f.hint for f in findings.values())


def test_finished_edges_and_hems_want_no_seam_allowance() -> None:
    piece = edge_changed(rectangle(), "top", kind=EdgeKind.FINISHED, allowance=Allowance())
    assert check_piece(piece) == ()


def test_edges_may_be_curves() -> None:
    arc = as_points([(100 * math.cos(t / 10), 100 * math.sin(t / 10)) for t in range(32)])
    piece = Piece(
        "Half round",
        (
            Edge("arc", arc, allowance=add(10)),
            Edge("chord", as_points([arc[-1], arc[0]]), allowance=add(10)),
        ),
        grain=Grain((0, 10), (0, 90)),
    )
    assert check_piece(piece) == ()
