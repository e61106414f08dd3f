"""Where every piece lies on the cloth: values only, in the cloth frame.

Frame: x along the selvedge from the squared cut end, y across from the inner edge of one selvedge
(open) or from the fold (folded), up as in a graph, mm. The physical edges lie ``selvedge_mm`` and
``end_allowance_mm`` further out.
"""

from __future__ import annotations

from dataclasses import dataclass

from nesting.allowances.cut_piece import CutNotch
from nesting.cloth import Cloth, Fold
from nesting.lacks import Lack
from nesting.pieces.piece import GrainRule, Hand, Mark
from nesting.polygon import FloatArray


@dataclass(frozen=True, slots=True)
class Zone:
    """A stretch of the lay of one kind: ``plies`` layers over the box; ``fold_edges`` are the sides
    of the box (``y0``, ``y1``, ``x0``) that lie on a fold of the cloth."""

    id: str
    x0: float
    x1: float
    y0: float
    y1: float
    plies: int
    fold_edges: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Asked:
    """How many of each hand of a piece the lay must yield (all garments together)."""

    piece: str
    drawn: int
    turned: int


@dataclass(frozen=True, slots=True, eq=False)
class Placed:
    """One piece where it lies. Lines are in the cloth frame, (N, 2), mm; ``grain`` is (2, 2), tail
    then head. ``hands`` are those that this one cutting yields: one, or both in two plies."""

    piece: str
    copy: int
    zone: str
    plies: int
    on_fold: bool
    hands: tuple[Hand, ...]
    turned_over: bool
    turn_deg: float
    grain_rule: GrainRule
    grain: FloatArray
    cut_line: FloatArray
    net_line: FloatArray
    notches: tuple[CutNotch, ...] = ()
    marks: tuple[Mark, ...] = ()
    runs: tuple[tuple[str, FloatArray], ...] = ()


@dataclass(frozen=True, slots=True, eq=False)
class Layout:
    """A lay with its pieces in place. ``length_mm`` is the cloth's length in use between the ends,
    ``floor_mm`` a proved lower bound on it, ``not_laid`` the pieces that found no room (only when
    the cloth's length is given), ``lacks`` what the cloth lacks zone by zone, as far as was known."""

    cloth: Cloth
    fold: Fold
    zones: tuple[Zone, ...]
    asked: tuple[Asked, ...]
    placed: tuple[Placed, ...]
    length_mm: float
    floor_mm: float
    not_laid: tuple[Asked, ...] = ()
    steps_text: tuple[str, ...] = ()
    lacks: tuple[Lack, ...] = ()
