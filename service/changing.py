"""Changes of a piece as asked on the wire: the pure change, inside its style, as a new sheet."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from nesting.allowances.defaults import (
    HEMS_MM,
    SEAMS_MM,
    allowances_by_kind,
    with_defaults,
)
from nesting.allowances.included import net_piece
from nesting.findings import Finding, Level
from nesting.pieces.dart_moves import move_dart, shorten_dart, true_dart
from nesting.pieces.facing import facing, hem_facing
from nesting.pieces.in_style import exchanged
from nesting.pieces.lengthen import lengthen
from nesting.pieces.mend import end_edge, redraw
from nesting.pieces.mirror import mirror
from nesting.pieces.outline import NO_ALLOWANCE, Allowance, AllowanceState, EdgeKind
from nesting.pieces.parts import change_error, dart_named, edge_named, unused
from nesting.pieces.piece import Count, DartFold, Piece, Style
from nesting.pieces.split import TOUCH_MM, drawn_on, split
from nesting.pieces.stand import add_buttons, add_stand
from nesting.pieces.unfold import unfold
from nesting.pieces.widths import has_included, widest
from nesting.polygon import FloatArray, as_points
from service import schemas_changes as said
from service import views
from service.errors import RefusedError
from service.formats.curves import smooth_through
from service.formats.piece_sheet import written_counting
from service.formats.sheet_writing import written_partners, written_piece
from service.wardrobe import style_of
from service.wishes import in_mm, signed_mm

NET_FIRST = ("split", "move dart", "stand", "facing", "hem facing", "redraw", "end edge")
"""Changes that are made on the net line: a piece drawn with its allowance gets one first."""


COUNTING = ("leave_out", "count_in")
"""Fields of a body measure that name pieces."""


@dataclass(frozen=True, slots=True, eq=False)
class Made:
    """What a change made of a piece, in words and pieces."""

    text: str
    pieces: tuple[Piece, ...]
    findings: tuple[Finding, ...] = ()


def changed_sheet(sheet: dict[str, Any], name: str, change: said.Change) -> dict[str, Any]:
    """The answer to a change of the piece ``name`` of a sheet: the new sheet, what is new in it and
    how that is drawn and cut. Nothing is kept.

    Raises FormatError for a sheet that cannot be read, PieceError naming piece and edge, and
    RefusedError naming the field (``change.width``).
    """
    style, _ = style_of(sheet, source="the sheet")
    piece = next((p for p in style.pieces if p.name == name), None)
    if piece is None:
        raise RefusedError(
            f"there is no piece “{name}” in {style.name}",
            where="piece",
            hint="Name one of: " + ", ".join(p.name for p in style.pieces[:12]) + ".",
        )
    made = made_of(piece, change, {p.name for p in style.pieces})
    exchange = exchanged(style, name, made.pieces)
    new = _new_sheet(sheet, style, exchange.style, name, [p.name for p in made.pieces])
    kept = {p.name: p for p in style_of(new, source="the changed sheet")[0].pieces}
    names = [p.name for p in made.pieces]
    entries = {p["name"].strip(): p for p in new["pieces"]}
    return {
        "text": made.text,
        "sheet": new,
        "made": names,
        "gone": [] if name in names else [name],
        "touched": list(exchange.touched),
        "pieces": [entries[n] for n in names],
        "views": [views.piece_view(kept[n]) for n in names],
        "findings": [views.finding_view(f) for f in (*made.findings, *exchange.findings)],
    }


def made_of(piece: Piece, change: said.Change, taken: set[str]) -> Made:
    """The pure change that is asked. ``taken`` are the names of the style's pieces."""
    findings: tuple[Finding, ...] = ()
    if change.kind in NET_FIRST and has_included(piece.edges):
        piece = net_piece(piece)
        findings = (_net_first(piece),)
    made = _made(piece, change, taken)
    return replace(made, findings=(*findings, *made.findings))


def _made(piece: Piece, change: said.Change, taken: set[str]) -> Made:
    match change:
        case said.Split():
            return _split(piece, change, taken)
        case said.MoveDart():
            return _move_dart(piece, change)
        case said.ShortenDart():
            by = _mm(change.by, "by")
            text = f"Dart {change.dart} of {piece.name} is {by:g} mm shorter."
            return Made(text, (shorten_dart(piece, change.dart, by),))
        case said.TrueDart():
            text = f"The legs of dart {change.dart} of {piece.name} are equally long."
            return Made(text, (true_dart(piece, change.dart),))
        case said.Stand():
            return _stand(piece, change)
        case said.Buttons():
            return _buttons(piece, change)
        case said.Facing():
            return _facing(piece, change, taken)
        case said.HemFacing():
            return _hem_facing(piece, change, taken)
        case said.Lengthen():
            return _lengthen(piece, change)
        case said.Unfold():
            if not piece.fold_edges:
                raise change_error(piece, "there is no fold edge", "mark the edge that is doubled")
            return Made(f"{piece.name} is drawn whole.", (unfold(piece),))
        case said.Mirror():
            return _mirror(piece, change)
        case said.Redraw():
            line = _line(change.line, "line")
            text = f"{change.edge} of {piece.name} is redrawn."
            return Made(text, (redraw(piece, change.edge, line, at=change.at),))
        case said.EndEdge():
            length = _mm(change.length, "length")
            text = f"{change.edge} of {piece.name} ends after {length:.1f} mm."
            return Made(text, (end_edge(piece, change.edge, length, at=change.at),))
        case said.UsualAllowances():
            return _allowances(piece, change)


def _split(piece: Piece, change: said.Split, taken: set[str]) -> Made:
    names = change.names or _two_names(piece, taken)
    line = _line(_from_dart_to_dart(piece, change), "line")
    if change.smooth:
        line = as_points(smooth_through(line))
    line = drawn_on(piece, line, at_start=not change.from_dart, at_end=not change.to_dart)
    notches = None
    if change.notches is not None:
        notches = [_mm(n, f"notches.{i}") for i, n in enumerate(change.notches)]
    allowance = (
        _allowance(change.allowance, "allowance")
        if change.allowance is not None
        else _widest_seam(piece)
    )
    parts = split(
        piece,
        line,
        names=names,
        allowance=allowance,
        seam=change.seam,
        notches=notches,
        darts=(change.from_dart, change.to_dart),
    )
    text = f"{piece.name} is split at {change.seam} into {names[0]} and {names[1]}."
    return Made(text, parts)


def _from_dart_to_dart(piece: Piece, change: said.Split) -> list[tuple[float, float]]:
    """The line with the points of the darts it starts and ends at, unless it has them already."""
    points = list(change.line)
    for dart, at in ((change.from_dart, 0), (change.to_dart, -1)):
        if dart:
            point = dart_named(piece, dart).point
            if not points or math.dist(points[at], point) > TOUCH_MM:
                points.insert(0 if at == 0 else len(points), point)
    return points


def _two_names(piece: Piece, taken: set[str]) -> tuple[str, str]:
    first = unused(f"{piece.name} 1", taken)
    return first, unused(f"{piece.name} 2", {*taken, first})


def _widest_seam(piece: Piece) -> Allowance:
    """What the piece's seams have added, at most; nothing if nothing is added anywhere."""
    widths = [
        widest(e)
        for e in piece.edges
        if e.kind is EdgeKind.SEAM and e.allowance.state is AllowanceState.ADD
    ]
    return Allowance(AllowanceState.ADD, max(widths)) if widths else NO_ALLOWANCE


def _move_dart(piece: Piece, change: said.MoveDart) -> Made:
    moved = move_dart(
        piece,
        change.dart,
        change.edge,
        _mm(change.distance, "distance"),
        name=change.name,
        share=change.share,
        fold=None if change.fold is None else DartFold(change.fold),
        blend_mm=_mm(change.smooth, "smooth"),
    )
    how = "closed" if change.share == 1 else f"closed by {change.share:.0%} of its angle"
    text = f"Dart {change.dart} of {piece.name} is {how} and opened on {change.edge}."
    return Made(text, (moved,))


def _stand(piece: Piece, change: said.Stand) -> Made:
    width = _mm(change.width, "width")
    doubled = edge_named(piece, change.edge).kind is EdgeKind.FOLD
    made = add_stand(piece, change.edge, width, stand=change.name)
    text = f"{piece.name} has a stand of {width:g} mm beyond {change.edge}"
    if not doubled:
        return Made(f"{text}.", (made,))
    pair = Count(piece.count.total, piece.count.total)
    return Made(f"{text}, and is cut as a pair.", (replace(made, count=pair),))


def _buttons(piece: Piece, change: said.Buttons) -> Made:
    made = add_buttons(
        piece,
        count=change.count,
        first_mm=_mm(change.first, "first"),
        last_mm=_mm(change.last, "last"),
        diameter_mm=_mm(change.diameter, "diameter"),
        holes=change.holes,
        line=change.line,
    )
    return Made(f"{piece.name} has {change.count} buttons.", (made,))


def _facing(piece: Piece, change: said.Facing, taken: set[str]) -> Made:
    depth = _mm(change.depth, "depth")
    name = change.name or unused(f"{piece.name} facing", taken)
    made = facing(
        piece,
        change.edges,
        depth,
        name=name,
        inner=_allowance(change.inner, "inner"),
        cloth=change.cloth,
    )
    text = f"{name}, {depth:g} mm deep, is made along {', '.join(change.edges)} of {piece.name}."
    return Made(text, (piece, made))


def _hem_facing(piece: Piece, change: said.HemFacing, taken: set[str]) -> Made:
    depth, width = _mm(change.depth, "depth"), _mm(change.allowance, "allowance")
    name = change.name or unused(f"{piece.name} hem facing", taken)
    made = hem_facing(
        piece,
        change.edge,
        depth,
        Allowance(AllowanceState.ADD, width),
        name=name,
        inner=_allowance(change.inner, "inner"),
        cloth=change.cloth,
    )
    return Made(f"{name}, {depth:g} mm deep, faces {change.edge} of {piece.name}.", made)


def _lengthen(piece: Piece, change: said.Lengthen) -> Made:
    by = signed_mm(change.by, "change.by")
    a, b = change.line
    made = lengthen(piece, a, b, by, blend_mm=_mm(change.blend, "blend"))
    how = "lengthened" if by > 0 else "shortened"
    return Made(f"{piece.name} is {how} by {abs(by):g} mm.", (made,))


def _mirror(piece: Piece, change: said.Mirror) -> Made:
    made = mirror(piece)
    if change.counts == "keep" or piece.fold_edges:
        return Made(f"{piece.name} is its mirror image.", (made,))
    swapped = Count(piece.count.turned, piece.count.drawn)
    text = f"{piece.name} is drawn as its mirror image; the same cloth is cut."
    return Made(text, (replace(made, count=swapped),))


def _allowances(piece: Piece, change: said.UsualAllowances) -> Made:
    words = {
        EdgeKind.SEAM: _usual(change.seam, SEAMS_MM, "seam"),
        EdgeKind.HEM: _usual(change.hem, HEMS_MM, "hem"),
    }
    for name in change.keep:
        edge_named(piece, name)
    by_kind = allowances_by_kind(words[EdgeKind.SEAM] or 0.0, words[EdgeKind.HEM] or 0.0)
    wanted = {kind: by_kind[kind] for kind, width in words.items() if width is not None}
    drawn = [e.name for e in piece.edges if e.allowance.state is AllowanceState.INCLUDED]
    made = with_defaults(piece, wanted, *change.keep, *drawn)
    told = " and ".join(f"{k.value}s {w:.1f} mm" for k, w in words.items() if w is not None)
    findings = () if not drawn else (_left_included(piece, drawn),)
    return Made(f"Of {piece.name}, {told or 'nothing'} is added.", (made,), findings)


def _usual(value: said.Length | None, table: Any, field: str) -> float | None:
    if isinstance(value, str) and value.strip().lower() in table:
        return float(table[value.strip().lower()])
    return None if value is None else _mm(value, field)


def _new_sheet(
    sheet: dict[str, Any], before: Style, after: Style, name: str, made: Sequence[str]
) -> dict[str, Any]:
    """The sheet with the made pieces written in its own unit, partners followed in the others'
    entries, and everything else as it came."""
    unit = sheet["unit"]
    entries = dict(zip((p.name for p in before.pieces), sheet["pieces"], strict=True))
    old = {p.name: p for p in before.pieces}
    pieces = []
    for piece in after.pieces:
        same = old.get(piece.name)
        if piece is same:
            pieces.append(entries[piece.name])
        elif piece.name in made or same is None:
            pieces.append(written_piece(piece, unit))
        else:
            pieces.append(_with_partners(entries[piece.name], same, piece, unit))
    new = {**sheet, "pieces": pieces}
    if after.measures != before.measures:
        measures = [
            {**{k: v for k, v in said.items() if k not in COUNTING}, **written_counting(m)}
            for said, m in zip(sheet["body"]["measures"], after.measures, strict=True)
        ]
        new["body"] = {**sheet["body"], "measures": measures}
    return new


def _with_partners(entry: dict[str, Any], old: Piece, new: Piece, unit: str) -> dict[str, Any]:
    """An entry whose edges are sewn to other names now. Edges given as edges are changed in place;
    any other form of outline is written anew."""
    outline = entry["outline"]
    if not outline.get("edges"):
        return written_piece(new, unit)
    now = {e.name: e for e in new.edges}
    was = {e.name: e for e in old.edges}
    edges = []
    for i, edge in enumerate(outline["edges"]):
        called = (edge.get("name") or f"edge {i + 1}").strip()
        made, same = now[called], was[called]
        if (made.partners, made.run) == (same.partners, same.run):
            edges.append(edge)
        else:
            gone = ("partner", "run") if made.ease_mm else ("partner", "run", "ease")
            kept = {k: v for k, v in edge.items() if k not in gone}
            edges.append({**kept, **written_partners(made)})
    return {**entry, "outline": {**outline, "edges": edges}}


def _allowance(value: said.AllowanceSaid | str | None, field: str) -> Allowance:
    if not isinstance(value, said.AllowanceSaid) or value.state == "none":
        return NO_ALLOWANCE
    return Allowance(AllowanceState.ADD, _mm(value.width, f"{field}.width"))


def _line(points: Sequence[Sequence[float]], field: str) -> FloatArray:
    if len(points) < 2:
        raise RefusedError(
            "a line has two points or more", where=f"change.{field}", hint="Draw it on the piece."
        )
    line = as_points(np.array(points, dtype=float))
    if (np.hypot(*np.diff(line, axis=0).T) < 1e-3).any():
        raise RefusedError(
            "two points of the line lie on each other",
            where=f"change.{field}",
            hint="Leave one of them out.",
        )
    return line


def _mm(value: said.Length, field: str) -> float:
    return in_mm(value, f"change.{field}")


def _net_first(piece: Piece) -> Finding:
    return Finding(
        "net-line-first",
        Level.NOTE,
        f"{piece.name} was drawn with its allowance: the net line was found first, and what the "
        "drawing included is added to it now",
        where=piece.name,
    )


def _left_included(piece: Piece, names: Sequence[str]) -> Finding:
    return Finding(
        "allowance-included",
        Level.NOTE,
        f"{', '.join(names)} of {piece.name} are drawn with their allowance: nothing is added there",
        where=piece.name,
        hint="say that the edge is drawn net if it is",
    )
