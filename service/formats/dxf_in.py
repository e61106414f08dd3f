"""DXF in: outlines of a plain drawing, by layer and by place; no pattern exchange standard is claimed.

Layers are read by their names as the drawing convention's words (CUT, NET, FOLD, GRAIN, NOTCH ...); what
lies inside an outline belongs to it, and the largest text in it is its name. Blocks that are inserted
are groups of their own.
"""

from __future__ import annotations

import io
import logging
import math
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from typing import Any, Final

import numpy as np
from ezdxf import path as dxf_path
from ezdxf import recover

from nesting.findings import Finding, Level
from nesting.pieces.piece import Style
from nesting.polygon import FloatArray
from service.errors import FormatError, TooLargeError
from service.formats.building import FARTHEST_MM, JOIN_MM
from service.formats.drawing import read_drawing
from service.formats.drawn_lines import DrawnLine, Group, refusal
from service.formats.placing import PlacedText, grouped_by_place
from service.formats.unit_choice import chosen_mm, unit_error
from service.formats.words import is_bare_role

logging.getLogger("ezdxf").addHandler(logging.NullHandler())
"""The library tells each mended tag on stderr: our finding tells how many there were."""

MAX_BYTES: Final = 20_000_000
MAX_ENTITIES: Final = 50_000
MAX_DEPTH: Final = 20
MAX_SEGMENTS: Final = 300_000

ARC_PARTS: Final = 16
"""Cubics to an arc: a quarter circle as one cubic is off by 2.7e-4 of its radius, 0.3 mm on a cloak's
hem; a sixteenth of a circle by less than a ten-millionth."""

SPLINE_LEVEL: Final = 8
FARTHEST_UNITS: Final = 1e9

MM_PER_INSUNITS: Final[dict[int, float]] = {
    1: 25.4, 2: 304.8, 4: 1.0, 5: 10.0, 6: 1000.0, 8: 25.4e-6, 9: 0.0254, 10: 914.4, 13: 1e-3, 14: 100.0,
}  # fmt: skip
"""$INSUNITS of the DXF reference that can be meant for cloth; 0 or none says nothing."""

_READ = frozenset(("LINE", "LWPOLYLINE", "POLYLINE", "ARC", "CIRCLE", "ELLIPSE", "SPLINE"))
_TEXTS = frozenset(("TEXT", "MTEXT"))
_LAYER_WORDS = {
    "marks": "line",
    "mark": "line",
    "drills": "drill",
    "notches": "notch",
    "cuts": "cut",
    "note": "ignore",
    "notes": "ignore",
}


def read_dxf(
    data: bytes, *, source: str, unit_choice: str | None = None
) -> tuple[Style, tuple[Finding, ...]]:
    """The style of a DXF drawing, and what was noticed.

    Units come from $INSUNITS; a drawing without is refused with UnitError and the choices, which are
    those of ``unit_choice`` (``mm``, ``cm``, ``in``, or ``tall Front = 62.4 cm``). Raises FormatError
    with every problem, TooLargeError.
    """
    document, findings = _document(data, source)
    walk = _Walk(source)
    _collect(document.modelspace(), walk, (), 0)
    texts = walk.texts
    scale = _scale(document, walk, source, unit_choice, findings)
    lines = _chained([_scaled(line, scale) for line in walk.lines])
    placed = [PlacedText(t.x * scale, t.y * scale, t.size * scale, t.text) for t in texts]
    reading = read_drawing(grouped_by_place(lines, placed), title="", source=source)
    problems = [*walk.problems, *reading.problems]
    if problems:
        raise refusal(source, problems)
    if walk.skipped:
        said = ", ".join(f"{n} {kind}" for kind, n in sorted(walk.skipped.items()))
        findings.append(Finding("left-out", Level.NOTE, f"left out: {said[:300]}", where=source))
    return reading.style, (*findings, *reading.findings)


@dataclass(slots=True)
class _Walk:
    source: str
    lines: list[DrawnLine] = field(default_factory=list)
    texts: list[PlacedText] = field(default_factory=list)
    problems: list[Finding] = field(default_factory=list)
    skipped: Counter[str] = field(default_factory=Counter)
    entities: int = 0
    segments: int = 0
    groups: int = 0

    def count(self, entities: int, segments: int) -> None:
        self.entities += entities
        self.segments += segments
        if self.entities > MAX_ENTITIES or self.segments > MAX_SEGMENTS:
            raise TooLargeError(
                f"{self.source} holds more than {MAX_ENTITIES} entities or {MAX_SEGMENTS} lines and "
                "curves, its copies counted",
                where=self.source,
                hint="Explode nothing; take out what is no piece, and copies of blocks.",
            )


def _document(data: bytes, source: str) -> tuple[Any, list[Finding]]:
    if len(data) > MAX_BYTES:
        raise TooLargeError(
            f"{source} has {len(data) / 1e6:.0f} MB; a DXF may have {MAX_BYTES / 1e6:.0f} MB",
            where=source,
            hint="Take out what is no piece, then save it again.",
        )
    try:
        document, auditor = recover.read(io.BytesIO(data))
        document.modelspace()
    except Exception as e:  # whatever breaks in the library on a damaged file is the file's fault
        raise FormatError(
            f"{source} cannot be read as DXF: {str(e)[:200]}",
            where=source,
            hint="Open it in the program that made it and save it as DXF (text, R2000 or later).",
        ) from None
    findings: list[Finding] = []
    mended = len(auditor.fixes) + len(auditor.errors)
    if mended:
        findings.append(
            Finding(
                "mended",
                Level.WARNING,
                f"the file has {mended} fault(s) in its structure, which were read round",
                where=source,
                hint="Compare the pieces with the drawing before cutting.",
            )
        )
    return document, findings


def _collect(entities: Iterable[Any], walk: _Walk, groups: tuple[Group, ...], depth: int) -> None:
    for entity in entities:
        walk.count(1, 0)
        kind = entity.dxftype()
        if kind == "INSERT":
            _insert(entity, walk, groups, depth)
        elif kind in _TEXTS:
            _text(entity, walk)
        elif kind in _READ:
            _line(entity, walk, groups)
        else:
            walk.skipped[kind] += 1


def _insert(entity: Any, walk: _Walk, groups: tuple[Group, ...], depth: int) -> None:
    name = str(entity.dxf.name)
    copies = max(entity.dxf.get("row_count", 1), 1) * max(entity.dxf.get("column_count", 1), 1)
    block = entity.block()
    if block is None:
        walk.problems.append(_problem(name, "the block that is inserted is not in the file"))
        return
    walk.count(copies * len(block), 0)
    if depth >= MAX_DEPTH:
        walk.problems.append(_problem(name, f"blocks are nested more than {MAX_DEPTH} deep"))
        return
    inserts = entity.multi_insert() if copies > 1 else (entity,)
    for insert in inserts:
        walk.groups += 1
        label = "" if name.startswith("*") else name
        try:
            parts = list(insert.virtual_entities())
        except Exception as e:
            walk.problems.append(_problem(name, f"the block cannot be placed: {str(e)[:120]}"))
            return
        lines, texts = len(walk.lines), len(walk.texts)
        inner = (*groups, Group(walk.groups, label))
        _collect(parts, walk, inner, depth + 1)
        # A block's name cannot hold semicolons; a text in it can, and then says more than the name.
        words = next((t.text for t in walk.texts[texts:] if ";" in t.text), "")
        if words:
            named = (*groups, replace(inner[-1], label=words))
            walk.lines[lines:] = [
                replace(x, groups=(*named, *x.groups[len(named) :])) for x in walk.lines[lines:]
            ]


def _text(entity: Any, walk: _Walk) -> None:
    plain = entity.plain_text()
    text = plain.split("\n")[0] if isinstance(plain, str) else ""
    at = entity.dxf.insert
    if (
        entity.dxftype() == "TEXT"
        and entity.dxf.get("halign", 0)
        and entity.dxf.hasattr("align_point")
    ):
        at = entity.dxf.align_point
    size = entity.dxf.get("height" if entity.dxftype() == "TEXT" else "char_height", 1.0)
    if all(map(math.isfinite, (at.x, at.y, size))):
        walk.texts.append(PlacedText(float(at.x), float(at.y), float(size), text))


def _line(entity: Any, walk: _Walk, groups: tuple[Group, ...]) -> None:
    layer = str(entity.dxf.layer)
    label = _label(layer)
    try:
        paths = list(dxf_path.make_path(entity, segments=ARC_PARTS, level=SPLINE_LEVEL).sub_paths())
    except Exception as e:  # of a damaged entity the library may raise anything
        walk.problems.append(
            _problem(f"{entity.dxftype()} on layer {layer}", f"it cannot be read: {str(e)[:120]}")
        )
        return
    for one in paths:
        segments = _segments(one)
        walk.count(0, len(segments))
        if not segments:
            continue
        # Written so that a NaN fails it too.
        if not all((np.abs(s) < FARTHEST_UNITS).all() for s in segments):
            walk.problems.append(
                _problem(
                    f"{entity.dxftype()} on layer {layer}",
                    "it has a point that is no number, or beyond all use",
                )
            )
            return
        walk.lines.append(DrawnLine(label, label or layer, groups, segments, bool(one.is_closed)))


def _label(layer: str) -> str:
    """A layer's name as a word of the convention, or nothing."""
    low = layer.strip().lower().replace("_", " ")
    word = _LAYER_WORDS.get(low, low)
    return word if is_bare_role(word) else ""


def _segments(one: Any) -> tuple[FloatArray, ...]:
    made: list[FloatArray] = []
    here = np.array([one.start.x, one.start.y])
    for command in one.commands():
        end = np.array([command.end.x, command.end.y])
        kind = command.type.name
        if kind == "LINE_TO":
            segment = np.array([here, end])
        elif kind == "CURVE3_TO":
            q = np.array([command.ctrl.x, command.ctrl.y])
            segment = np.array([here, here + 2 / 3 * (q - here), end + 2 / 3 * (q - end), end])
        else:
            c1, c2 = command.ctrl1, command.ctrl2
            segment = np.array([here, (c1.x, c1.y), (c2.x, c2.y), end])
        if not np.allclose(segment, segment[0], rtol=0, atol=1e-9):
            made.append(segment)
        here = end
    return tuple(made)


def _scale(
    document: Any, walk: _Walk, source: str, choice: str | None, findings: list[Finding]
) -> float:
    declared = MM_PER_INSUNITS.get(int(document.header.get("$INSUNITS", 0) or 0))
    if choice is not None and choice.strip():
        findings.append(
            Finding(
                "unit-chosen",
                Level.NOTE if declared is None else Level.WARNING,
                f"the size follows from your choice: {choice.strip()}"
                + ("" if declared is None else "; the drawing itself says another unit"),
                where=source,
            )
        )
        return chosen_mm(choice, walk.lines, source)
    if not walk.lines:
        raise refusal(source, [*walk.problems, _problem(source, "no piece was found in it")])
    if declared is None:
        raise unit_error(walk.lines, source, codes=("mm", "cm", "in"))
    extent = _extent(walk.lines) * declared
    if walk.lines and not 10.0 <= extent <= 20_000.0:
        findings.append(
            Finding(
                "unit-doubtful",
                Level.WARNING,
                f"by its declared unit the whole drawing is {extent:.4g} mm across",
                where=source,
                hint="Many programs leave the unit at inches: choose the unit yourself.",
            )
        )
    return declared


def _extent(lines: Sequence[DrawnLine]) -> float:
    points = [s for line in lines for s in line.segments]
    return float(np.ptp(np.concatenate(points), axis=0).max()) if points else 0.0


def _scaled(line: DrawnLine, scale: float) -> DrawnLine:
    return replace(line, segments=tuple(s * scale for s in line.segments))


def _chained(lines: list[DrawnLine]) -> list[DrawnLine]:
    """Open lines that meet end to end on one layer of one group become one line: outlines are often
    drawn as single lines and arcs. Where three ends meet nothing is guessed."""
    joined: list[DrawnLine] = []
    pools: dict[tuple[str, str, tuple[Group, ...]], list[DrawnLine]] = {}
    for line in lines:
        open_ended = math.dist(line.segments[0][0], line.segments[-1][-1]) > JOIN_MM
        if open_ended and not line.closed and _may_join(line):
            pools.setdefault((line.label, line.name, line.groups), []).append(line)
        else:
            joined.append(line)
    for pool in pools.values():
        joined += _chain(pool)
    return joined


def _may_join(line: DrawnLine) -> bool:
    """Grain lines, notches and marks stay as drawn: only what may be an outline is joined."""
    return line.label in ("", "cut", "net", "cut line", "net line", "outline")


def _chain(pool: list[DrawnLine]) -> list[DrawnLine]:
    ends: dict[tuple[int, int], list[tuple[int, int]]] = {}
    for i, line in enumerate(pool):
        for which, p in ((0, line.segments[0][0]), (1, line.segments[-1][-1])):
            if np.abs(p).max() < FARTHEST_MM:
                ends.setdefault(_cell(p), []).append((i, which))
    left = set(range(len(pool)))
    made = []
    for i in range(len(pool)):
        if i not in left:
            continue
        left.discard(i)
        run = list(pool[i].segments)
        for _ in range(2):
            while (found := _next(run[-1][-1], pool, ends, left)) is not None:
                j, which = found
                left.discard(j)
                segments = pool[j].segments
                more = segments if which == 0 else tuple(s[::-1] for s in reversed(segments))
                run += [_from(run[-1][-1], more[0]), *more[1:]]
            run = [s[::-1] for s in reversed(run)]
        closed = len(run) > 1 and math.dist(run[0][0], run[-1][-1]) <= JOIN_MM
        made.append(replace(pool[i], segments=tuple(run), closed=closed))
    return made


def _from(start: FloatArray, segment: FloatArray) -> FloatArray:
    moved = segment.copy()
    moved[0] = start
    return moved


def _cell(p: FloatArray) -> tuple[int, int]:
    return math.floor(p[0] / JOIN_MM), math.floor(p[1] / JOIN_MM)


def _next(
    at: FloatArray,
    pool: list[DrawnLine],
    ends: dict[tuple[int, int], list[tuple[int, int]]],
    left: set[int],
) -> tuple[int, int] | None:
    cx, cy = _cell(at)
    near = [
        (i, which)
        for dx in (-1, 0, 1)
        for dy in (-1, 0, 1)
        for i, which in ends.get((cx + dx, cy + dy), ())
        if math.dist(at, pool[i].segments[-which][-which]) <= JOIN_MM
    ]
    if len(near) > 2:
        # More than two ends meet here: which goes on is not ours to guess.
        return None
    return next(((i, which) for i, which in near if i in left), None)


def _problem(where: str, message: str) -> Finding:
    return Finding(
        "drawing",
        Level.REFUSED,
        message,
        where=where[:120],
        hint="Open the drawing, mend or redraw that part, and save it again.",
    )
