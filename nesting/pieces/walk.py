"""A seam walked, as values: its two sides along each other, what meets and what does not, and the drawn
proposals that would mend it."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Final

from nesting.pieces.mend import At, end_edge, redraw
from nesting.pieces.piece import Piece
from nesting.pieces.sides import Join
from nesting.polygon import FloatArray, as_points

LENGTH_MM: Final = 1.0
"""Sewn lengths that differ by more than a cutter's tolerance (1 mm) are said."""

NOTCH_MM: Final = 2.0
"""Notches that miss each other by more than this are said: each is cut to 1 mm."""

ANGLE_DEG: Final = 3.0
"""A joined edge that turns by more than this where the seam meets it is said."""


@dataclass(frozen=True, slots=True, eq=False)
class Proposal:
    """What would mend a finding: ``edge`` of ``piece`` redrawn at its corner ``at``, onto the line
    ``points`` (N, 2), mm, in the piece's frame. ``length_mm`` is the edge's new length where it is
    ended sooner, 0 where it is redrawn to run on smooth. ``laid`` is the same line in the frame of
    the first piece, as the walk is drawn; ``of_second`` says that the piece is the walk's second."""

    piece: str
    edge: str
    points: FloatArray
    text: str
    at: At = "end"
    length_mm: float = 0.0
    laid: FloatArray = field(default_factory=lambda: as_points([]))
    of_second: bool = False

    def applied(self, piece: Piece) -> Piece:
        """The piece mended. Raises PieceError where a dart or notch is in the way."""
        if self.length_mm > 0:
            return end_edge(piece, self.edge, self.length_mm, at=self.at)
        return redraw(piece, self.edge, self.points, at=self.at)


@dataclass(frozen=True, slots=True)
class NotchMeeting:
    """A notch of one side and the one it meets, mm of sewn length from the first side's start;
    ``other_mm`` is None for a notch that meets none. ``here_at`` and ``other_at`` are their places on
    the two laid lines, mm along them as drawn."""

    name: str
    here_mm: float | None
    other_mm: float | None
    here_at: float | None = None
    other_at: float | None = None

    @property
    def miss_mm(self) -> float:
        """How far the two lie apart, 0 where one is missing."""
        if self.here_mm is None or self.other_mm is None:
            return 0.0
        return self.other_mm - self.here_mm


@dataclass(frozen=True, slots=True, eq=False)
class Walk:
    """One seam walked: its two sides by name ("piece/edge", rows joined by plus signs in order along
    the first), their sewn lengths, mm, notches met, and how much the joined outer edges turn at the
    seam's start and end, degrees (positive: a point sticks out; negative: a hollow). ``laid`` is the
    first side's path, ``other_laid`` the second's laid along it, (N, 2); ``joins`` and
    ``other_joins`` lie along these; ``turned_over`` says that the second piece (of a row, the one at
    the seam's start) was turned over to be sewn, ``turned`` names all edges whose pieces were.
    ``order_doubted``: a row fits better the other way
    round."""

    first: str
    second: str
    first_mm: float
    second_mm: float
    notches: tuple[NotchMeeting, ...]
    turn_at_start_deg: float
    turn_at_end_deg: float
    laid: FloatArray
    other_laid: FloatArray
    proposals: tuple[Proposal, ...] = ()
    turned_over: bool = False
    turned: frozenset[str] = frozenset()
    joins: tuple[Join, ...] = ()
    other_joins: tuple[Join, ...] = ()
    order_doubted: bool = False

    @property
    def difference_mm(self) -> float:
        """Sewn length of the first side less that of the second, mm."""
        return self.first_mm - self.second_mm
