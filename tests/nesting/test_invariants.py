"""The proof has teeth: each fault put into a legal layout is found and named."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import pytest

from nesting.cloth import Cloth, Flaw, Fold
from nesting.engine.improve import first_layout
from nesting.errors import InvariantError
from nesting.invariants import prove
from nesting.lay.build import layout_of
from nesting.lay.lay import Lay
from nesting.lay.spread import spread
from nesting.layout import Layout, Placed
from nesting.pieces.piece import PAIR, Hand
from nesting.polygon import as_points
from tests.nesting.making import halves_and_wholes, polygon_piece

FRONT = polygon_piece("Front", [(0, 0), (260, 0), (240, 300), (180, 420), (0, 400)], count=PAIR)
BACK = polygon_piece("Back", [(0, 0), (250, 0), (230, 420), (60, 430), (0, 410)], fold=4)
HALVES, WHOLES = halves_and_wholes((FRONT, BACK))
CLOTH = Cloth(width_mm=1024)


def legal() -> Layout:
    plan = spread(Lay(CLOTH, Fold.LENGTHWISE, tuple(HALVES.values())))
    return layout_of(plan, tuple(first_layout(s.problem) for s in plan.strips))


def change(layout: Layout, piece: str, edit: Callable[[Placed], Placed]) -> Layout:
    placed = tuple(edit(p) if p.piece == piece else p for p in layout.placed)
    return replace(layout, placed=placed)


def shifted(placed: Placed, x: float, y: float) -> Placed:
    return replace(
        placed,
        cut_line=as_points(placed.cut_line + (x, y)),
        net_line=as_points(placed.net_line + (x, y)),
        grain=as_points(placed.grain + (x, y)),
    )


def leaning(placed: Placed) -> Placed:
    return replace(placed, grain=as_points(placed.grain + [[0, 0], [0, 0.01]]))


FAULTS: list[tuple[str, Callable[[Layout], Layout]]] = [
    ("overlaps", lambda t: replace(t, placed=(*t.placed, shifted(t.placed[0], 1, 0)))),
    ("does not lie on the fold", lambda t: change(t, "Back", lambda p: shifted(p, 0, 0.2))),
    ("sticks out", lambda t: change(t, "Front", lambda p: shifted(p, 0, 600))),
    ("not its cut piece", lambda t: change(t, "Front", lambda p: replace(p, turned_over=not p.turned_over))),
    ("not permitted", lambda t: change(t, "Front", lambda p: replace(p, turn_deg=90.0))),
    ("cannot yield", lambda t: change(t, "Front", lambda p: replace(p, hands=(Hand.DRAWN, Hand.DRAWN)))),
    ("not laid exactly 1", lambda t: replace(t, placed=t.placed[:1])),
    ("not asked for", lambda t: replace(t, asked=t.asked[:1])),
    ("beyond the length", lambda t: replace(t, length_mm=t.length_mm - 1)),
    ("wider than the cloth", lambda t: replace(t, zones=tuple(replace(z, y1=501.0) for z in t.zones))),
    ("leans", lambda t: change(t, "Back", leaning)),
    ("flaw", lambda t: replace(t, cloth=replace(CLOTH, flaws=(Flaw(((0, 0), (900, 0), (0, 500)), "moth"),)))),
]  # fmt: skip


def test_a_legal_layout_is_proved() -> None:
    prove(legal(), HALVES, WHOLES)


@pytest.mark.parametrize(("words", "fault"), FAULTS, ids=[w for w, _ in FAULTS])
def test_each_fault_is_found(words: str, fault: Callable[[Layout], Layout]) -> None:
    with pytest.raises(InvariantError, match=words):
        prove(fault(legal()), HALVES, WHOLES)
