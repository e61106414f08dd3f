"""A change inside its style: the pieces that a change made take the old one's place, and what other
pieces are sewn to is followed to where it lies now."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

import shapely

from nesting.errors import PieceError
from nesting.findings import Finding, Level
from nesting.pieces.measures import BodyMeasure
from nesting.pieces.outline import Edge
from nesting.pieces.partners import declared_seams, edges_by_name, said_row
from nesting.pieces.parts import place_on
from nesting.pieces.piece import Piece, Style
from nesting.pieces.sides import Named
from nesting.pieces.truing import walk_rows
from nesting.pieces.walk import LENGTH_MM
from nesting.polygon import FloatArray, point_along

WHOLE_MM: Final = 0.5
"""An edge as long as before by less than this is the whole edge."""

ON_MM: Final = 0.05
"""A part of an edge lies on the old edge when no point of it is farther off than this."""

IN_PARTS: Final = "partner-in-parts"

Places = dict[str, tuple[str, ...]]
"""Where each edge of the old piece lies now: one edge, or its parts in order from its start."""


@dataclass(frozen=True, slots=True, eq=False)
class Exchange:
    """A style with a piece exchanged for others; ``touched`` names the other pieces whose sewing
    partners were followed to another name, ``findings`` tell of partners that are in parts now, or
    that cannot be followed."""

    style: Style
    touched: tuple[str, ...]
    findings: tuple[Finding, ...]


def exchanged(style: Style, name: str, made: Sequence[Piece]) -> Exchange:
    """The style with the piece ``name`` exchanged for ``made``, which stand in its place.

    A partner "name/edge" said anywhere is followed to the piece of ``made`` that holds the edge now.
    Where the edge was cut in parts, the row of these takes its place, in the order in which they lie
    along the edge that is sewn to them, and a finding says so; where it is gone, so is the partner,
    and a finding says that. Raises PieceError where a name of ``made`` is another piece's already.
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
    old = next(p for p in style.pieces if p.name == name)
    moved = {f"{name}/{e.name}": _holders(old, e, made) for e in old.edges}
    pieces = [q for p in style.pieces for q in (made if p.name == name else (p,))]
    findings: list[Finding] = []
    follow = _Follow(style, moved, findings)
    followed = [follow.piece(p, made=p.name not in others) for p in pieces]
    pairs = _pairs(followed, set(names))
    paired = [_with_pairs(p, pairs) for p in followed]
    touched = tuple(
        p.name for p, q in zip(pieces, paired, strict=True) if p is not q and p.name in others
    )
    measures = tuple(_counted(m, name, names) for m in style.measures)
    new = replace(style, pieces=tuple(paired), measures=measures)
    told = [f for f in findings if f.code != IN_PARTS or f.where not in pairs]
    return Exchange(new, touched, (*told, *_part_to_part(pairs)))


def _pairs(pieces: Sequence[Piece], made: set[str]) -> dict[str, str]:
    """Edges that are sewn to each other part to part: of a seam that a change left as a run sewn to a
    row, with its joins in the same places on both sides."""
    edges = edges_by_name(pieces)
    pairs: dict[str, str] = {}
    for seam in declared_seams(Style("", tuple(pieces))):
        both = (*seam.run, *seam.row)
        if len(seam.run) != len(seam.row) or len(seam.run) < 2 or any(n not in edges for n in both):
            continue
        if not any(edges[n][0].name in made for n in both):
            continue
        first, second = ([(edges[n][0], edges[n][1].name) for n in r] for r in (seam.run, seam.row))
        walk = walk_rows(first, second, anchor=seam.run.index(seam.said_on))
        joins = zip(walk.joins, walk.other_joins, strict=True)
        if all(abs(a.sewn_mm - b.sewn_mm) <= LENGTH_MM for a, b in joins):
            for one, two in zip(seam.run, seam.row, strict=True):
                pairs |= {one: two, two: one}
    return pairs


def _with_pairs(piece: Piece, pairs: dict[str, str]) -> Piece:
    edges = []
    for edge in piece.edges:
        other = pairs.get(f"{piece.name}/{edge.name}")
        # An edge of the row that says nothing, or something else, is left as it is.
        if other in edge.partners:
            edges.append(replace(edge, partners=(other,), run=()))
        else:
            edges.append(edge)
    if all(a is b for a, b in zip(edges, piece.edges, strict=True)):
        return piece
    return replace(piece, edges=tuple(edges))


def _part_to_part(pairs: dict[str, str]) -> list[Finding]:
    return [
        Finding(
            "partner-pairs",
            Level.NOTE,
            f"both sides of the seam are cut in the same place: {one} is sewn to {two} now",
            where=one,
        )
        for one, two in pairs.items()
        if one < two
    ]


def _counted(measure: BodyMeasure, name: str, names: Sequence[str]) -> BodyMeasure:
    """A measure that says of the old piece that it counts, or does not, says so of the made ones."""
    if name not in (*measure.leave_out, *measure.count_in):
        return measure

    def now(said: tuple[str, ...]) -> tuple[str, ...]:
        return tuple(m for n in said for m in (names if n == name else (n,)))

    return replace(measure, leave_out=now(measure.leave_out), count_in=now(measure.count_in))


class _Follow:
    """What edges are sewn to, told by where the edges lie now. Orders are those of the old seams."""

    def __init__(self, style: Style, moved: Places, findings: list[Finding]) -> None:
        self.style, self.moved, self.findings = style, moved, findings
        self.edges = edges_by_name(style.pieces)
        self.was = {part: was for was, there in moved.items() for part in there}

    def piece(self, piece: Piece, *, made: bool) -> Piece:
        """The piece with its edges' partners and runs as they are named now."""
        edges = tuple(self._edge(f"{piece.name}/{e.name}", e, made) for e in piece.edges)
        if all(a is b for a, b in zip(edges, piece.edges, strict=True)):
            return piece
        return replace(piece, edges=edges)

    def _edge(self, here: str, edge: Edge, made: bool) -> Edge:
        was = self.was.get(here, "") if made else here
        partners = self._partners(here, was, edge)
        run = self._row(was, edge.run, partner=False)
        parts = self.moved.get(was, ()) if made else ()
        if len(parts) > 1 and partners and partners != (here,) and not run:
            # Its own partner names all parts already, if that is one edge and still whole.
            run = () if len(partners) == 1 and self._named_back(was) else parts
        if partners == edge.partners and run == edge.run:
            return edge
        return replace(edge, partners=partners, run=run, ease_mm=edge.ease_mm if partners else 0.0)

    def _partners(self, here: str, was: str, edge: Edge) -> tuple[str, ...]:
        if edge.partners == (was,):
            # Sewn to its own mirror image, as each of its parts is.
            return (here,)
        for name in edge.partners:
            there = self.moved.get(name, (name,))
            if not there:
                self.findings.append(_lost(here, name))
            elif len(there) > 1:
                self.findings.append(_in_parts(here, name, there))
        return self._row(was, edge.partners, partner=True)

    def _row(self, was: str, said: tuple[str, ...], *, partner: bool) -> tuple[str, ...]:
        """A row that the old edge ``was`` says, of partners or of its run, in the same order."""
        row: list[str] = []
        for name in said:
            there = self.moved.get(name, (name,))
            # Partners run against each other, unless one of them is turned over to be sewn.
            if len(there) > 1 and (name in self._turned(was)) != partner:
                there = there[::-1]
            row += there
        return tuple(row)

    def _turned(self, name: str) -> frozenset[str]:
        """The edges of the old seam said on an edge whose pieces are turned over against its own."""
        if name not in self.edges:
            return frozenset()
        edge = self.edges[name][1]
        run = edge.run if name in edge.run else (name,)
        if any(n not in self.edges for n in (*run, *edge.partners)) or not edge.partners:
            return frozenset()
        first, second = ([self._named(n) for n in row] for row in (run, edge.partners))
        return walk_rows(first, second, anchor=run.index(name)).turned

    def _named(self, name: str) -> Named:
        piece, edge = self.edges[name]
        return piece, edge.name

    def _named_back(self, was: str) -> bool:
        """Whether the one partner of an old edge names it too, alone or in a row."""
        (partner,) = self.edges[was][1].partners[:1]
        return partner in self.edges and was in self.edges[partner][1].partners


def _holders(old: Piece, edge: Edge, made: Sequence[Piece]) -> tuple[str, ...]:
    """Where an edge of the old piece lies now, in order from its start: one place if it is whole."""
    same = [(p, e) for p in made for e in p.edges if e.name == edge.name]
    whole = [(p, e) for p, e in same if abs(e.length_mm - edge.length_mm) < WHOLE_MM]
    if len(whole) > 1:
        # A piece that was only added beside the old one (a facing) has a copy of its edge.
        whole = [(p, e) for p, e in whole if p.name == old.name] or whole[:1]
    if whole:
        return tuple(f"{p.name}/{e.name}" for p, e in whole)
    line = shapely.LineString(edge.points)
    lying = [
        (p, e)
        for p in made
        for e in p.edges
        if _called_after(edge.name, e.name) and _lies_on(line, e)
    ]
    parts = lying or same
    parts.sort(key=lambda held: place_on(edge, _middle(held[1])))
    return tuple(f"{p.name}/{e.name}" for p, e in parts)


def _called_after(name: str, part: str) -> bool:
    """Whether a part is named as a cut names the parts of an edge: like it, or with a number."""
    return part == name or (part.startswith(f"{name} ") and part[len(name) + 1 :].isdigit())


def _lies_on(line: shapely.LineString, edge: Edge) -> bool:
    return bool(shapely.distance(line, shapely.points(edge.points)).max() < ON_MM)


def _middle(edge: Edge) -> FloatArray:
    return point_along(edge.points, edge.length_mm / 2)[0]


def _in_parts(here: str, was: str, there: Sequence[str]) -> Finding:
    return Finding(
        IN_PARTS,
        Level.NOTE,
        f"{was} is cut in {len(there)}: {here} is sewn to all its parts now, laid end to end "
        f"({said_row(there)})",
        where=here,
        hint="walk the seams to see them along each other",
    )


def _lost(here: str, was: str) -> Finding:
    return Finding(
        "partner-lost",
        Level.WARNING,
        f"{here} was sewn to {was}, which is no longer there: that it is sewn to it is no longer said",
        where=here,
        hint="say what it is sewn to now",
    )
