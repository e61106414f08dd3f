"""A change inside its style: the pieces that a change made take the old one's place, and what other
pieces are sewn to is followed to where it lies now."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

from nesting.errors import PieceError
from nesting.findings import Finding, Level
from nesting.pieces.outline import Edge
from nesting.pieces.piece import Piece, Style

WHOLE_MM: Final = 0.5
"""An edge as long as before by less than this is the whole edge."""


@dataclass(frozen=True, slots=True, eq=False)
class Exchange:
    """A style with a piece exchanged for others; ``touched`` names the other pieces whose sewing
    partners were followed to another name, ``findings`` tell of partners that cannot be followed."""

    style: Style
    touched: tuple[str, ...]
    findings: tuple[Finding, ...]


def exchanged(style: Style, name: str, made: Sequence[Piece]) -> Exchange:
    """The style with the piece ``name`` exchanged for ``made``, which stand in its place.

    A partner "name/edge" said anywhere is followed to the piece of ``made`` that holds the edge now.
    Where the edge was cut in two, or is gone, both sides of the declaration are dropped, and a
    finding says so. Raises PieceError where a name of ``made`` is another piece's already.
    """
    others = {p.name for p in style.pieces if p.name != name}
    names = [p.name for p in made]
    for taken in names:
        if taken in others or names.count(taken) > 1:
            raise PieceError(
                f"there is a piece {taken!r} already",
                hint="give the new piece another name",
                where=taken,
                code="piece-change",
            )
    pieces = [
        q for p in style.pieces for q in (made if p.name == name else (p,))
    ]  # the made ones where the old one stood
    old = next(p for p in style.pieces if p.name == name)
    moved = {f"{name}/{e.name}": _holders(e, name, made) for e in old.edges}
    findings: list[Finding] = []
    followed = [_followed(p, moved, findings) for p in pieces]
    touched = tuple(
        p.name for p, q in zip(pieces, followed, strict=True) if p is not q and p.name in others
    )
    return Exchange(
        replace(style, pieces=tuple(_mutual(followed, moved))), touched, tuple(findings)
    )


def _holders(edge: Edge, name: str, made: Sequence[Piece]) -> tuple[str, ...]:
    """Where an edge of the piece ``name`` lies now, as "piece/edge": one place if it is whole."""
    same = [(p, e) for p in made for e in p.edges if e.name == edge.name]
    whole = [(p, e) for p, e in same if abs(e.length_mm - edge.length_mm) < WHOLE_MM]
    if len(whole) > 1:
        # A piece that was only added beside the old one (a facing) has a copy of its edge.
        whole = [(p, e) for p, e in whole if p.name == name] or whole[:1]
    return tuple(f"{p.name}/{e.name}" for p, e in whole or same)


def _followed(piece: Piece, moved: dict[str, tuple[str, ...]], findings: list[Finding]) -> Piece:
    edges = []
    for edge in piece.edges:
        there = moved.get(edge.partner)
        if there is None or there == (edge.partner,):
            edges.append(edge)
        elif len(there) == 1:
            edges.append(replace(edge, partner=there[0]))
        else:
            edges.append(replace(edge, partner="", ease_mm=0.0))
            findings.append(_lost(f"{piece.name}/{edge.name}", edge.partner, there))
    if all(a is b for a, b in zip(edges, piece.edges, strict=True)):
        return piece
    return replace(piece, edges=tuple(edges))


def _mutual(pieces: Sequence[Piece], moved: dict[str, tuple[str, ...]]) -> list[Piece]:
    """The parts of an edge that was cut in two no longer say what the whole one was sewn to."""
    parts = {part for there in moved.values() if len(there) > 1 for part in there}
    result = []
    for piece in pieces:
        edges = tuple(
            replace(e, partner="", ease_mm=0.0) if f"{piece.name}/{e.name}" in parts else e
            for e in piece.edges
        )
        changed = any(a is not b for a, b in zip(edges, piece.edges, strict=True))
        result.append(replace(piece, edges=edges) if changed else piece)
    return result


def _lost(here: str, was: str, there: Sequence[str]) -> Finding:
    now = " and ".join(there)
    return Finding(
        "partner-lost",
        Level.WARNING,
        f"{here} was sewn to {was}, which "
        + (f"is now cut in two ({now})" if there else "is no longer there")
        + ": that it is sewn to it is no longer said",
        where=here,
        hint="split its partner too and say which parts are sewn together"
        if there
        else "say what it is sewn to now",
    )
