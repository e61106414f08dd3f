"""One piece from its labelled lines: outline and edges, grain, count, notches, darts, marks."""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import replace

import numpy as np
from shapely.geometry import LineString
from shapely.geometry import Point as ShapelyPoint

from nesting.findings import Finding, Level
from nesting.pieces.outline import NO_ALLOWANCE, Allowance, AllowanceState, Corner, Edge, EdgeKind
from nesting.pieces.partners import read_row
from nesting.pieces.piece import (
    Count,
    Dart,
    DrawnAs,
    Grain,
    GrainRule,
    Mark,
    MarkKind,
    Notch,
    Piece,
)
from nesting.polygon import FloatArray, bounds
from service.formats.building import FARTHEST_MM, JOIN_MM
from service.formats.drawn_lines import DrawnLine, Sketch, is_closed, problem
from service.formats.ring import Ring
from service.formats.words import (
    LineWords,
    PieceWords,
    Role,
    WordError,
    is_bare_role,
    is_line_role,
    read_line_words,
    read_piece_words,
)


def drawn_piece(
    sketch: Sketch,
    defaults: PieceWords,
    source: str,
    findings: list[Finding],
    problems: list[Finding],
) -> Piece | None:
    try:
        words = read_piece_words(sketch.label)
    except WordError as e:
        problems.append(problem("words", sketch.label[:80], str(e), WORDS_HINT))
        return None
    before = len(problems)
    if not words.name.isprintable() or len(words.name) > 80:
        problems.append(
            problem("name", words.name[:40], "a piece's name has 1 to 80 plain characters", "")
        )
        return None
    said = [(line, _line_words(line, sketch, words.name, problems)) for line in sketch.lines]
    widths = [words.allowances, defaults.allowances, *(w.allowance for _, w in said if w)]
    outline = _outline(said, words, findings, problems, widths_said=any(widths))
    if outline is None or len(problems) > before:
        return None
    line, drawn = outline
    points = line.points
    if not np.isfinite(points).all() or np.abs(points).max() > FARTHEST_MM:
        problems.append(
            problem("too-far", words.name, "it lies beyond 100 m", "Check the drawing's unit.")
        )
        return None
    if np.ptp(points, axis=0).max() < JOIN_MM:
        problems.append(
            problem(
                "no-area", words.name, "its outline has no size", "Draw it again, or delete it."
            )
        )
        return None
    origin = np.array(bounds(points)[:2])
    ring = Ring.of([s - origin for s in line.segments])
    others = [(o, w) for o, w in said if o is not line and w is not None]
    edges = _edges(ring, others, origin, words, defaults, drawn, findings, problems)
    piece = Piece(
        name=words.name,
        edges=edges,
        grain=_grain(others, origin, words, findings, problems),
        grain_rule=words.grain_rule or defaults.grain_rule or GrainRule.EITHER_WAY,
        count=_count(words, edges, findings, problems),
        cloth=words.cloth or defaults.cloth or "shell",
        drawn_as=drawn,
        notches=_notches(others, origin, edges, words.name, problems),
        darts=_darts(others, origin, edges, words.name, problems),
        marks=_marks(others, origin),
        origin=source,
    )
    return piece if len(problems) == before else None


WORDS_HINT = (
    "Write labels like “Front; pair; shell”, “hem; 4 cm”; the drawing convention lists every word."
)


def _line_words(
    line: DrawnLine, sketch: Sketch, piece: str, problems: list[Finding]
) -> LineWords | None:
    # A lone path called "Hem facing; pair" is a piece of that name, not a line that is a hem.
    if not (is_bare_role if sketch.plain else is_line_role)(line.label):
        return None
    try:
        return read_line_words(line.label)
    except WordError as e:
        problems.append(problem("words", f"{piece} / {line.name}"[:120], str(e), WORDS_HINT))
        return None


LARGEST_POINT_MM = 8.0
"""A closed mark up to this size stands for its middle: a hole or a button, not a pocket."""

_Said = list[tuple[DrawnLine, LineWords | None]]
_Known = list[tuple[DrawnLine, LineWords]]


def _outline(
    said: _Said,
    words: PieceWords,
    findings: list[Finding],
    problems: list[Finding],
    *,
    widths_said: bool,
) -> tuple[DrawnLine, DrawnAs] | None:
    """The line that is the outline, and whether it is the net or the cut line. Where both are drawn,
    the net line is it only if ``widths_said``: allowances are said in words."""
    name = words.name
    labelled = [(o, w) for o, w in said if w is not None and w.role is Role.OUTLINE]
    found = [o for o, _ in labelled] or [o for o, w in said if w is None and is_closed(o)]
    outlines = _outer_runs(found, name, findings)
    nets = [o for o, w in labelled if w.drawn is DrawnAs.NET and o in outlines]
    cuts = [o for o, w in labelled if w.drawn is DrawnAs.CUT and o in outlines]
    if len(nets) == 1 and len(cuts) == 1 and len(outlines) == 2:
        outlines = nets if widths_said else cuts
        findings.append(_two_lines(name, widths_said=widths_said))
    if len(outlines) != 1:
        came = "none" if not outlines else f"{len(outlines)} closed paths"
        problems.append(
            problem(
                "outline",
                name,
                f"a piece has one outline, {came} came",
                "Label the one that is the outline “net” or “cut”, and the other lines by what they "
                "are.",
            )
        )
        return None
    line = outlines[0]
    if not is_closed(line):
        gap = math.dist(line.segments[0][0], line.segments[-1][-1])
        problems.append(
            problem(
                "open-outline",
                name,
                f"the outline is open: {gap:.2f} mm between its ends",
                "Close the path in the drawing (join the two end points).",
            )
        )
        return None
    drawn = next((w.drawn for o, w in labelled if o is line), None) or words.drawn
    if drawn is None:
        findings.append(
            Finding(
                "line-unsaid",
                Level.WARNING,
                "it is not said whether the outline is the net line or the cut line; taken as the "
                "net line, to which allowances are added",
                where=name,
                hint="Label the outline “net” or “cut”.",
            )
        )
        drawn = DrawnAs.NET
    unused = [o for o, w in said if w is None and o is not line and o.part == 0]
    if unused:
        findings.append(
            Finding(
                "unused-line",
                Level.WARNING,
                f"{len(unused)} line(s) without a label were not used",
                where=name,
                hint="Label them: grain, fold, notch, dart, drill, line ... or ignore.",
            )
        )
    return line, drawn


def _two_lines(name: str, *, widths_said: bool) -> Finding:
    used = (
        "the net line is used, and the cut line is made from the allowances that are said in words"
        if widths_said
        else "no allowance is said in words, so the cut line is used as it is drawn"
    )
    return Finding(
        "two-lines",
        Level.WARNING,
        f"both a net and a cut line are drawn; {used}",
        where=name,
        hint="Compare the cut piece with the drawing before cutting.",
    )


def _outer_runs(lines: list[DrawnLine], name: str, findings: list[Finding]) -> list[DrawnLine]:
    """Of a compound path only its largest run is the outline; the others are told of."""
    kept: list[DrawnLine] = []
    start = 0
    for end in range(1, len(lines) + 1):
        if end < len(lines) and lines[end].part > 0:
            continue
        runs = lines[start:end]
        kept.append(max(runs, key=lambda o: float(np.prod(np.ptp(o.points, axis=0)))))
        if len(runs) > 1:
            findings.append(
                Finding(
                    "inner-lines",
                    Level.WARNING,
                    f"the outline's path holds {len(runs) - 1} more line(s), which were not used",
                    where=name,
                    hint="Break the path apart and label the inner lines: line, drill, dart ...",
                )
            )
        start = end
    return kept


def _edges(
    ring: Ring,
    others: _Known,
    origin: FloatArray,
    words: PieceWords,
    defaults: PieceWords,
    drawn: DrawnAs,
    findings: list[Finding],
    problems: list[Finding],
) -> tuple[Edge, ...]:
    """The outline's edges: corner to corner, parted further where edge lines begin and end."""
    stretches: list[tuple[float, float, LineWords]] = []
    for line, w in others:
        if w.role is not Role.EDGE:
            continue
        stretch = ring.stretch(line.points - origin)
        if stretch is None:
            problems.append(
                problem(
                    "off-outline",
                    f"{words.name} / {line.name or w.role}",
                    "the line does not lie along the outline",
                    f"Draw it over the outline, within {Ring.NEAR_MM:g} mm, from corner to corner.",
                )
            )
            continue
        stretches.append((*stretch, w))
    cuts = [at for a, b, _ in stretches for at in (a, b)]
    made: list[Edge] = []
    ends: list[Corner] = []
    names: Counter[str] = Counter()
    unsaid: list[str] = []
    for i, (a, b, points) in enumerate(ring.edges(cuts)):
        over = next((w for c, d, w in stretches if ring.within(a, b, c, d)), None)
        w = over if over is not None else LineWords(Role.EDGE)
        kind = w.edge_kind or EdgeKind.SEAM
        base = w.name or (kind.value if w.edge_kind else f"edge {i + 1}")
        names[base] += 1
        name = base if names[base] == 1 else f"{base} {names[base]}"
        said = w.allowance or words.allowances.get(kind) or defaults.allowances.get(kind)
        if said is None and kind in (EdgeKind.SEAM, EdgeKind.HEM):
            if drawn is DrawnAs.CUT:
                said = Allowance(AllowanceState.INCLUDED)
            else:
                unsaid.append(name)
        made.append(
            Edge(
                name,
                points,
                kind,
                said or NO_ALLOWANCE,
                w.inlay_mm,
                read_row(w.partner),
                pressed=w.pressed,
                folds_mm=w.folds_mm,
                ease_mm=w.ease_mm,
            )
        )
        ends.append(w.ends)
    if unsaid:
        findings.append(
            Finding(
                "allowance-unsaid",
                Level.WARNING,
                f"no allowance is said for {len(unsaid)} of {len(made)} edges: none will be added",
                where=words.name,
                hint="Say it in the piece's label (“seam 15 mm; hem 4 cm”), in the drawing's title "
                "for all, or on a line over the edge.",
            )
        )
    return _with_corners(made, ends, words.name, problems)


def _with_corners(
    edges: list[Edge], ends: list[Corner], name: str, problems: list[Finding]
) -> tuple[Edge, ...]:
    """Each corner as the edges on either side of it say: an edge speaks for both of its ends."""
    made = []
    for edge, here, after, there in zip(
        edges, ends, [*edges[1:], edges[0]], [*ends[1:], ends[0]], strict=True
    ):
        beyond = Corner.NEXT_TURNS_BACK if there is Corner.THIS_TURNS_BACK else there
        if Corner.AUTO not in (here, beyond) and here is not beyond:
            problems.append(
                problem(
                    "corner",
                    f"{name} / {edge.name}",
                    f"“{edge.name}” and “{after.name}” say two things of the corner between them",
                    "Say how the ends are made on one of the two edges only.",
                )
            )
        made.append(replace(edge, corner=here if here is not Corner.AUTO else beyond))
    return tuple(made)


def _grain(
    others: _Known,
    origin: FloatArray,
    words: PieceWords,
    findings: list[Finding],
    problems: list[Finding],
) -> Grain | None:
    lines = [o.points - origin for o, w in others if w.role is Role.GRAIN]
    if len(lines) > 1:
        problems.append(
            problem(
                "grain",
                words.name,
                f"a piece has one grain line, {len(lines)} came",
                "Keep one; draw it from tail to head.",
            )
        )
        return None
    if not lines:
        if words.grain_rule is not GrainRule.ANY_WAY:
            findings.append(
                Finding(
                    "no-grain",
                    Level.WARNING,
                    "no grain line is drawn: the piece cannot be laid until one is set",
                    where=words.name,
                    hint="Draw a line labelled “grain” from tail to head, or say “any way”.",
                )
            )
        return None
    tail, head = _pt(lines[0][0]), _pt(lines[0][-1])
    if math.dist(tail, head) < 1.0:
        problems.append(
            problem("grain", words.name, "the grain line has no length", "Draw it longer.")
        )
        return None
    return Grain(tail, head)


def _count(
    words: PieceWords, edges: tuple[Edge, ...], findings: list[Finding], problems: list[Finding]
) -> Count:
    folded = any(e.kind is EdgeKind.FOLD for e in edges)
    if words.on_fold and not folded:
        problems.append(
            problem(
                "no-fold-edge",
                words.name,
                "it is to be cut on the fold, but no line is labelled “fold”",
                "Draw a line labelled “fold” over the edge that lies on the fold.",
            )
        )
    if words.count is None:
        findings.append(
            Finding(
                "count-unsaid",
                Level.WARNING,
                f"no count is said: one{' on the fold' if folded else ', as drawn'}",
                where=words.name,
                hint="Say it in the label: “pair”, “2 drawn”, “on fold”.",
            )
        )
        return Count(1, 0)
    return words.count


def _notches(
    others: _Known,
    origin: FloatArray,
    edges: tuple[Edge, ...],
    piece: str,
    problems: list[Finding],
) -> tuple[Notch, ...]:
    made: list[Notch] = []
    for line, w in others:
        if w.role is not Role.NOTCH:
            continue
        hit = _nearest_edge(edges, line.points - origin)
        if hit is None:
            problems.append(
                problem(
                    "off-outline",
                    f"{piece} / {line.name or 'notch'}",
                    "the notch does not touch the outline",
                    "Draw it across the outline, or with one end on it.",
                )
            )
            continue
        made.append(Notch(hit[0].name, hit[1], w.marks, w.name))
    return tuple(made)


def _nearest_edge(edges: tuple[Edge, ...], points: FloatArray) -> tuple[Edge, float] | None:
    """The edge that a mark touches, and the distance along it, mm."""
    mark = LineString(points) if len(points) > 1 else ShapelyPoint(points[0])
    best: tuple[float, Edge, float] | None = None
    for e in edges:
        path = LineString(e.points)
        away = path.distance(mark)
        if best is None or away < best[0]:
            crossing = path.intersection(mark)
            at = crossing.representative_point() if not crossing.is_empty else None
            near = at or min(
                (ShapelyPoint(p) for p in points), key=lambda q: float(path.distance(q))
            )
            best = (away, e, float(path.project(near)))
    if best is None or best[0] > Ring.NEAR_MM:
        return None
    return best[1], best[2]


def _darts(
    others: _Known,
    origin: FloatArray,
    edges: tuple[Edge, ...],
    piece: str,
    problems: list[Finding],
) -> tuple[Dart, ...]:
    made: list[Dart] = []
    for line, w in others:
        if w.role is not Role.DART:
            continue
        where = f"{piece} / {line.name or 'dart'}"
        p = line.points - origin
        first, second = _nearest_edge(edges, p[:1]), _nearest_edge(edges, p[-1:])
        if first is None or second is None or first[0] is not second[0] or len(p) < 3:
            problems.append(
                problem(
                    "dart",
                    where,
                    "a dart is a line from one edge to its point and back to the same edge",
                    "Draw leg, point, leg in one path; both ends on the same edge.",
                )
            )
            continue
        away = [ShapelyPoint(q).distance(LineString([p[0], p[-1]])) for q in p]
        point = _pt(p[int(np.argmax(away))])
        a, b = sorted((first[1], second[1]))
        made.append(Dart(w.name or f"dart {len(made) + 1}", first[0].name, a, b, point))
    return tuple(made)


def _marks(others: _Known, origin: FloatArray) -> tuple[Mark, ...]:
    made: list[Mark] = []
    for line, w in others:
        if w.mark_kind is None:
            continue
        p = line.points - origin
        x0, y0, x1, y1 = bounds(p)
        point = is_closed(line) and max(x1 - x0, y1 - y0) <= LARGEST_POINT_MM
        if point or w.mark_kind in (MarkKind.DRILL, MarkKind.BUTTON):
            points: tuple[tuple[float, float], ...] = (((x0 + x1) / 2, (y0 + y1) / 2),)
        else:
            points = tuple(_pt(q) for q in p)
        made.append(Mark(w.mark_kind, points, w.name))
    return tuple(made)


def _pt(p: FloatArray) -> tuple[float, float]:
    return float(p[0]), float(p[1])
