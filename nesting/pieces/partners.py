"""What edges are sewn to: rows of edges as text, and the seams that a style declares.

Two edges are sewn together along their whole length; or one is sewn to a *row* of edges, laid end to
end along it; or a *run* of edges, sewn as one, to a row. A seam may be declared from either side.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Final

from nesting.pieces.outline import Edge
from nesting.pieces.piece import Piece, Style

JOIN: Final = " + "
"""Between the edges of a row where it is written as a text."""


@dataclass(frozen=True, slots=True)
class Seam:
    """A seam as declared on the edge ``said_on`` ("piece/edge"): the run that it belongs to, and the
    row that the run is sewn to, both in order along that edge from its start."""

    said_on: str
    run: tuple[str, ...]
    row: tuple[str, ...]


def said_row(row: Iterable[str]) -> str:
    """A row as a text: "Side front/shoulder + Front/shoulder"."""
    return JOIN.join(row)


def read_row(text: str) -> tuple[str, ...]:
    """The edges that a text names. It is cut at every " + " where all parts then name a piece and an
    edge; names may hold a plus themselves."""
    parts = tuple(p.strip() for p in text.split(JOIN))
    whole = text.strip()
    if len(parts) > 1 and all("/" in p for p in parts):
        return parts
    return (whole,) if whole else ()


def edges_by_name(pieces: Sequence[Piece]) -> dict[str, tuple[Piece, Edge]]:
    """Every edge by what partners call it: "piece/edge"."""
    return {f"{p.name}/{e.name}": (p, e) for p in pieces for e in p.edges}


def declared_seams(style: Style) -> tuple[Seam, ...]:
    """Each seam that a style declares, once.

    Where both sides declare it, the first in the style's order counts; an edge of a row that names
    the edge it is part of the seam of declares nothing beyond that row.
    """
    said = [
        Seam(f"{p.name}/{e.name}", e.run or (f"{p.name}/{e.name}",), e.partners)
        for p in style.pieces
        for e in p.edges
        if e.partners
    ]
    by_member: dict[str, list[int]] = defaultdict(list)
    for i, seam in enumerate(said):
        for member in seam.run:
            by_member[member].append(i)
    return tuple(
        seam
        for i, seam in enumerate(said)
        if not any(
            _covers((said[j], j), (seam, i))
            for j in {*by_member[seam.run[0]], *by_member[seam.row[0]]}
            if j != i
        )
    )


def _covers(one: tuple[Seam, int], other: tuple[Seam, int]) -> bool:
    """Whether the first seam holds all of the second, and more or the same said before."""
    (large, j), (small, i) = one, other
    run, row = set(small.run), set(small.row)
    sides = set(large.run), set(large.row)
    within = (run <= sides[0] and row <= sides[1]) or (run <= sides[1] and row <= sides[0])
    if not within:
        return False
    more = len(sides[0]) + len(sides[1]) - len(run) - len(row)
    return more > 0 or j < i
