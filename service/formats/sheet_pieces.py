"""From a piece as its sheet says it to our piece: edges, allowances, grain, count, notches, darts."""

from __future__ import annotations

import numpy as np

from nesting.findings import Finding, Level
from nesting.pieces.outline import (
    NO_ALLOWANCE,
    Allowance,
    AllowanceState,
    Edge,
    EdgeKind,
)
from nesting.pieces.piece import (
    Count,
    Dart,
    DrawnAs,
    Grain,
    Mark,
    Notch,
    Piece,
)
from nesting.polygon import FloatArray, as_points, without_repeats
from service.formats.building import (
    JOIN_MM,
    counter_clockwise_piece,
    grain_through,
    size_finding,
)
from service.formats.curves import flatten_cubic
from service.formats.sheet_models import (
    AllowanceSheet,
    DartSheet,
    EdgeSaid,
    EdgeSheet,
    NotchSheet,
    OutlineSheet,
    PieceSheetPiece,
    SheetDefaults,
)
from service.formats.sheet_problems import problem, repeated

RECTANGLE_SIDES = ("bottom", "right", "top", "left")


def make_piece(
    said: PieceSheetPiece, defaults: SheetDefaults, source: str
) -> tuple[Piece | None, list[Finding]]:
    """Our piece of the sheet's, or None, and what was noticed; what refuses it is among that."""
    noticed: list[Finding] = []
    drawn = said.drawn or defaults.drawn
    edges = _edges(said, defaults, drawn, noticed)
    noticed += repeated((e.name for e in edges), "edge", said.name)
    lengths = {e.name: e.length_mm for e in edges}
    notches = tuple(_notch(n, lengths, said.name, noticed) for n in said.notches)
    darts = tuple(_dart(d, lengths, said.name, noticed) for d in said.darts)
    count = _count(said, edges, noticed)
    if any(f.level is Level.REFUSED for f in noticed):
        return None, noticed
    piece = Piece(
        name=said.name,
        edges=edges,
        grain=_grain(said, edges, noticed),
        grain_rule=said.grain_rule or defaults.grain_rule,
        count=count,
        cloth=said.cloth or defaults.cloth,
        drawn_as=drawn,
        notches=notches,
        darts=darts,
        marks=tuple(Mark(m.kind, tuple(m.points), m.name) for m in said.marks),
        origin=said.origin or source,
    )
    piece, turned = counter_clockwise_piece(piece)
    return piece, [size_finding(piece), *noticed, *turned]


def _edges(
    said: PieceSheetPiece, defaults: SheetDefaults, drawn: DrawnAs, noticed: list[Finding]
) -> tuple[Edge, ...]:
    outline = said.outline
    if outline.edges is not None and outline.start is not None:
        runs = _runs_of_edges(outline.start, outline.edges, said.name, noticed)
    else:
        runs = _runs_of_sides(outline, said.name, noticed)
    edges = tuple(
        Edge(
            name=e.name or name,
            points=points,
            kind=e.kind,
            allowance=_allowance(e, defaults, drawn),
            inlay_mm=e.inlay,
            partners=e.partner,
            run=e.run,
            corner=e.corner,
            pressed=e.pressed,
            folds_mm=tuple(e.folds),
            ease_mm=e.ease,
        )
        for name, points, e in runs
    )
    unsaid = [
        name
        for name, _, e in runs
        if e.kind in (EdgeKind.SEAM, EdgeKind.HEM)
        and e.allowance is None
        and _default(e.kind, defaults) is None
        and drawn is DrawnAs.NET
    ]
    if unsaid:
        noticed.append(
            Finding(
                "allowance-unsaid",
                Level.WARNING,
                f"no allowance is said for {', '.join(unsaid[:6])}"
                + (f" and {len(unsaid) - 6} more" if len(unsaid) > 6 else "")
                + ": none will be added",
                where=said.name,
                hint='Say it on the edge, or once for all: "defaults": {"allowance": {"seam": 1.5}}.',
            )
        )
    return edges


_Run = tuple[str, FloatArray, EdgeSaid]


def _runs_of_edges(
    start: tuple[float, float], edges: list[EdgeSheet], piece: str, noticed: list[Finding]
) -> list[_Run]:
    runs: list[_Run] = []
    here = np.array(start)
    for i, e in enumerate(edges):
        name = e.name or f"edge {i + 1}"
        points = np.vstack([here, _edge_points(here, e)])
        here = points[-1]
        runs.append((name, points, e))
    gap = float(np.hypot(*(here - np.array(start))))
    if gap > JOIN_MM:
        noticed.append(
            problem(
                "open-outline",
                piece,
                f"the outline is open: “{runs[-1][0]}” ends {gap:.2f} mm from the start",
                "Add the missing edge, or let the last edge end at the start point.",
            )
        )
    elif gap > 0:
        runs[-1][1][-1] = start
        noticed.append(
            Finding(
                "closed",
                Level.FIXED,
                f"the last edge ended {gap:.3f} mm from the start and was drawn to it",
                where=piece,
            )
        )
    made = [(name, without_repeats(points, closed=False), e) for name, points, e in runs]
    noticed += [
        problem("no-length", f"{piece} / {name}", "the edge has no length", "Leave it out.")
        for name, points, _ in made
        if len(points) < 2
    ]
    return made


def _edge_points(here: FloatArray, e: EdgeSheet) -> FloatArray:
    if e.points is not None:
        return np.array(e.points, dtype=float)
    segments = e.path if e.path is not None else [e]
    parts: list[FloatArray] = []
    for s in segments:
        if s.curve is not None:
            p1, p2, p3 = (np.array(p) for p in s.curve)
            parts.append(flatten_cubic(here, p1, p2, p3))
        else:
            parts.append(np.array([s.to], dtype=float))
        here = parts[-1][-1]
    return np.vstack(parts)


def _runs_of_sides(outline: OutlineSheet, piece: str, noticed: list[Finding]) -> list[_Run]:
    if outline.rectangle is not None:
        w, h = outline.rectangle.width, outline.rectangle.length
        if w <= 0 or h <= 0:
            noticed.append(
                problem(
                    "no-area",
                    f"{piece} / outline / rectangle",
                    "a rectangle's width and length are above 0",
                    "Measure both sides and type them in.",
                )
            )
        corners = np.array([(0.0, 0.0), (w, 0.0), (w, h), (0.0, h)])
        keys = list(RECTANGLE_SIDES)
    else:
        corners = without_repeats(as_points(outline.points or []), closed=True)
        keys = [f"{i + 1}" for i in range(len(corners))]
    sides = {k.strip().lower().removeprefix("edge "): (k, e) for k, e in outline.sides.items()}
    noticed += [
        problem(
            "no-such-side",
            f"{piece} / outline / sides / {k[:80]}",
            f"there is no side “{k[:80]}”",
            f"The sides are {', '.join(keys) if len(keys) < 9 else f'1 to {len(keys)}'}.",
        )
        for key, (k, _) in sides.items()
        if key not in keys
    ]
    rectangle = outline.rectangle is not None
    runs: list[_Run] = []
    for i, key in enumerate(keys):
        points = np.array([corners[i], corners[(i + 1) % len(corners)]])
        e = sides.get(key, ("", EdgeSaid()))[1]
        runs.append((e.name or (key if rectangle else f"edge {key}"), as_points(points), e))
    return runs


def _default(kind: EdgeKind, defaults: SheetDefaults) -> AllowanceSheet | None:
    if kind is EdgeKind.FOLD:
        return None
    value: AllowanceSheet | None = getattr(defaults.allowance, kind.value)
    return value


def _allowance(e: EdgeSaid, defaults: SheetDefaults, drawn: DrawnAs) -> Allowance:
    said = e.allowance if e.allowance is not None else _default(e.kind, defaults)
    if said is None:
        # A cut line has its allowance in it already: nothing may be added a second time.
        if drawn is DrawnAs.CUT and e.kind in (EdgeKind.SEAM, EdgeKind.HEM):
            return Allowance(AllowanceState.INCLUDED)
        return NO_ALLOWANCE
    return Allowance(said.state, said.width, said.end_width, tuple(said.steps))


def _grain(said: PieceSheetPiece, edges: tuple[Edge, ...], noticed: list[Finding]) -> Grain | None:
    if said.grain is None and said.outline.rectangle is None:
        return None
    outline = np.concatenate([e.points[:-1] for e in edges])
    if said.grain is None:
        noticed.append(
            Finding(
                "grain-of-rectangle",
                Level.NOTE,
                "the grain is taken along the rectangle's length",
                where=said.name,
                hint='Say "grain": "along" to have it across.',
            )
        )
        return grain_through(outline, (0.0, 1.0))
    if isinstance(said.grain, str):
        return grain_through(outline, (0.0, 1.0) if said.grain == "up" else (1.0, 0.0))
    return Grain(said.grain.tail, said.grain.head)


def _count(said: PieceSheetPiece, edges: tuple[Edge, ...], noticed: list[Finding]) -> Count:
    c = said.count
    if c.pair is not None:
        return Count(c.pair, c.pair)
    if c.on_fold is not None:
        if not any(e.kind is EdgeKind.FOLD for e in edges):
            noticed.append(
                problem(
                    "no-fold-edge",
                    f"{said.name} / count",
                    "the count says “on fold”, but no edge is of kind fold",
                    'Mark the edge that lies on the fold with "kind": "fold".',
                )
            )
        return Count(c.on_fold, 0)
    return Count(c.drawn or 0, c.turned or 0)


def _notch(n: NotchSheet, lengths: dict[str, float], piece: str, noticed: list[Finding]) -> Notch:
    length = _edge_length(n.edge, lengths, f"{piece} / notches {n.name}".strip(), noticed)
    if n.distance > length + JOIN_MM:
        noticed.append(_beyond(f"{piece} / notches {n.name}".strip(), n.edge, n.distance, length))
    distance = min(n.distance, length)
    at = distance if n.from_ == "start" else length - distance
    return Notch(n.edge, at, n.marks, n.name)


def _dart(d: DartSheet, lengths: dict[str, float], piece: str, noticed: list[Finding]) -> Dart:
    where = f"{piece} / darts {d.name}"
    length = _edge_length(d.edge, lengths, where, noticed)
    if max(d.first, d.second) > length + JOIN_MM:
        noticed.append(_beyond(where, d.edge, max(d.first, d.second), length))
    if d.first >= d.second:
        noticed.append(
            problem(
                "dart-legs",
                where,
                f"the second leg ({d.second:.1f} mm along the edge) must come after the first "
                f"({d.first:.1f} mm)",
                "Measure both along the edge in its own direction.",
            )
        )
    return Dart(d.name, d.edge, d.first, d.second, d.point, d.fold)


def _edge_length(edge: str, lengths: dict[str, float], where: str, noticed: list[Finding]) -> float:
    if edge in lengths:
        return lengths[edge]
    names = ", ".join(list(lengths)[:12])
    noticed.append(
        problem("no-such-edge", where, f"there is no edge “{edge}”", f"The edges are: {names}.")
    )
    return float("inf")


def _beyond(where: str, edge: str, distance: float, length: float) -> Finding:
    return problem(
        "beyond-edge",
        where,
        f"{distance:.1f} mm is beyond the end of “{edge}”, which is {length:.1f} mm long",
        "Measure along the edge as drawn, from its start.",
    )
