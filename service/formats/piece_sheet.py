"""The piece sheet, our own JSON: one style, its pieces as edges, rectangles or typed points.

    {"format": "grainfold piece sheet", "version": 1, "unit": "cm", "style": "Apron",
     "defaults": {"allowance": {"seam": 1.5, "hem": 4}},
     "pieces": [
       {"name": "Skirt", "count": {"on fold": 1},
        "outline": {"rectangle": {"width": 45, "length": 60},
                    "sides": {"left": {"kind": "fold"}, "bottom": {"kind": "hem"}}}},
       {"name": "Tie", "count": {"drawn": 2}, "outline": {"rectangle": {"width": 4, "length": "1.2 m"}}}
     ]}

Every field is described by ``piece_sheet_schema()``. What is checked here is the sheet (fields, words,
lengths, names that must exist, outlines that must close); whether a piece can be sewn and laid is
``nesting.pieces.check``'s business.
"""

from __future__ import annotations

import difflib
import json
from collections.abc import Iterable
from typing import Any

import numpy as np
from pydantic import ValidationError

from nesting.findings import Finding, Level
from nesting.pieces.outline import (
    NO_ALLOWANCE,
    Allowance,
    AllowanceState,
    Corner,
    Edge,
    EdgeKind,
    Pressed,
)
from nesting.pieces.piece import (
    Count,
    Dart,
    DrawnAs,
    Grain,
    Mark,
    Notch,
    Piece,
    Style,
)
from nesting.polygon import FloatArray, as_points, without_repeats
from service.errors import FormatError, TooLargeError
from service.formats.building import (
    JOIN_MM,
    counter_clockwise_piece,
    grain_through,
    size_finding,
)
from service.formats.curves import flatten_cubic
from service.formats.sheet_models import (
    FORMAT,
    UNITS,
    VERSION,
    AllowanceSheet,
    DartSheet,
    EdgeSaid,
    EdgeSheet,
    NotchSheet,
    OutlineSheet,
    PieceSheet,
    PieceSheetPiece,
    SheetDefaults,
    SheetHead,
)

MEDIA_TYPE = "application/vnd.grainfold.piece-sheet+json"
MAX_BYTES = 10_000_000
RECTANGLE_SIDES = ("bottom", "right", "top", "left")


def read_piece_sheet(data: bytes, *, source: str) -> tuple[Style, tuple[Finding, ...]]:
    """The style of a piece sheet, and what was noticed.

    ``source`` is the file's name, for messages and as the pieces' origin. Raises FormatError with
    every problem found (``problems``), each naming piece and field; TooLargeError above MAX_BYTES.
    """
    raw = _load(data, source)
    problems: list[Finding] = []
    head = _read_head(raw, problems)
    pieces: list[Piece] = []
    findings: list[Finding] = []
    for i, said in enumerate(_raw_pieces(raw, problems)):
        piece = _read_piece(said, i, raw, head, problems)
        if piece is not None:
            made, noticed = _make_piece(piece, head.defaults if head else SheetDefaults(), source)
            problems += [f for f in noticed if f.level is Level.REFUSED]
            findings += [f for f in noticed if f.level is not Level.REFUSED]
            pieces += [made] if made else []
    problems += _repeated((p.name for p in pieces), "piece", "")
    if problems or head is None:
        raise _refusal(source, problems)
    return Style(head.style, tuple(pieces), head.note), tuple(findings)


def write_piece_sheet(style: Style) -> dict[str, Any]:
    """The style as a piece sheet in mm that reads back to the same values (outlines to 1e-9 mm)."""
    return {
        "format": FORMAT,
        "version": VERSION,
        "unit": "mm",
        "style": style.name,
        "note": style.note,
        "pieces": [_written_piece(p) for p in style.pieces],
    }


def piece_sheet_text(sheet: dict[str, Any]) -> str:
    """A sheet as JSON text that a person can read and a version control can compare: indented, but
    with every list of numbers, and every object without objects in it, on one line."""
    return _pretty(sheet, "") + "\n"


def piece_sheet_schema() -> dict[str, Any]:
    """JSON Schema (2020-12) of the piece sheet, each field with description and example."""
    schema = PieceSheet.model_json_schema(by_alias=True)
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": f"{FORMAT}, version {VERSION}",
        **{k: v for k, v in schema.items() if k != "title"},
    }


# Reading: JSON, head, pieces


def _load(data: bytes, source: str) -> dict[str, Any]:
    if len(data) > MAX_BYTES:
        raise TooLargeError(
            f"{source} has {len(data) / 1e6:.0f} MB; a piece sheet may have {MAX_BYTES // 10**6} MB",
            where=source,
            hint="Put fewer styles in a sheet, or draw curves as curves instead of many points.",
        )
    try:
        raw = json.loads(
            data.decode("utf-8-sig"),
            parse_constant=_no_constant,
            object_pairs_hook=_no_repeats,
        )
    except UnicodeDecodeError:
        raise _not_json(source, "it is not UTF-8 text") from None
    except json.JSONDecodeError as e:
        raise _not_json(source, f"line {e.lineno}, column {e.colno}: {e.msg}") from None
    except RecursionError:
        raise _not_json(source, "it is nested too deep") from None
    except ValueError as e:
        raise _not_json(source, str(e)) from None
    if not isinstance(raw, dict):
        raise _not_json(source, "a sheet is an object in curly brackets")
    if raw.get("format") != FORMAT:
        raise FormatError(
            f"{source} is JSON, but not a {FORMAT}: its “format” is missing or another",
            where=source,
            hint=f'Start it with {{"format": "{FORMAT}", "version": {VERSION}, "unit": "cm", ...}}.',
        )
    if raw.get("version") != VERSION or isinstance(raw.get("version"), bool):
        raise FormatError(
            f"{source} says version {raw.get('version')!r} of the piece sheet; version {VERSION} is "
            "read here",
            where=source,
            hint="Update grainfold, or write the sheet again from the program that made it.",
        )
    return raw


def _no_constant(word: str) -> float:
    raise ValueError(f"{word} is not a number that can be cut")


def _no_repeats(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    made = dict(pairs)
    if len(made) < len(pairs):
        names = [k for k, _ in pairs]
        twice = next(k for k in names if names.count(k) > 1)
        raise ValueError(f"“{twice[:80]}” is said twice in one object")
    return made


def _not_json(source: str, why: str) -> FormatError:
    return FormatError(
        f"{source} cannot be read as a piece sheet: {why[:300]}",
        where=source,
        hint="A piece sheet is JSON text in UTF-8; the schema is served at /api/schema/piece-sheet.",
    )


def _read_head(raw: dict[str, Any], problems: list[Finding]) -> SheetHead | None:
    rest = {k: v for k, v in raw.items() if k != "pieces"}
    try:
        return SheetHead.model_validate(rest, context={"unit": _unit(raw)})
    except ValidationError as e:
        problems += _said(e, rest, "", tuple(SheetHead.model_fields) + ("pieces",))
        return None


def _unit(raw: dict[str, Any]) -> str:
    unit = raw.get("unit")
    return unit if isinstance(unit, str) and unit in UNITS else "mm"


def _raw_pieces(raw: dict[str, Any], problems: list[Finding]) -> list[Any]:
    pieces = raw.get("pieces")
    if isinstance(pieces, list) and 1 <= len(pieces) <= 500:
        return pieces
    came = f"{len(pieces)} came" if isinstance(pieces, list) else "none came"
    problems.append(
        _problem("pieces", "pieces", f"a sheet lists 1 to 500 pieces, {came}", "Add the pieces.")
    )
    return []


def _read_piece(
    said: Any, i: int, raw: dict[str, Any], head: SheetHead | None, problems: list[Finding]
) -> PieceSheetPiece | None:
    name = said.get("name") if isinstance(said, dict) else None
    where = name.strip() if isinstance(name, str) and name.strip() else f"piece {i + 1}"
    try:
        return PieceSheetPiece.model_validate(said, context={"unit": _unit(raw)})
    except ValidationError as e:
        problems += _said(e, said, where[:80], ())
        return None


def _refusal(source: str, problems: list[Finding]) -> FormatError:
    shown = [f"{p.where}: {p.message}" if p.where else p.message for p in problems]
    more = f"; and {len(shown) - 5} more" if len(shown) > 5 else ""
    return FormatError(
        f"{source} cannot be used: " + "; ".join(shown[:5]) + more,
        where=problems[0].where or source,
        hint=problems[0].hint,
        problems=problems,
    )


# What went wrong, in words


def _problem(code: str, where: str, message: str, hint: str = "") -> Finding:
    return Finding(code, Level.REFUSED, message, where=where, hint=hint)


def _said(error: ValidationError, raw: Any, where: str, names: tuple[str, ...]) -> list[Finding]:
    """Each cause of a validation error once, in words, with the place by names."""
    found: dict[tuple[str, str], Finding] = {}
    for e in error.errors(include_url=False):
        place = " / ".join(filter(None, [where, _place(e["loc"], raw)]))
        message, hint = _words(e, names)
        found.setdefault((place, message), _problem("field", place, message, hint))
    return list(found.values())


def _place(loc: tuple[int | str, ...], raw: Any) -> str:
    words: list[str] = []
    here = raw
    for step in loc:
        if isinstance(step, int):
            here = here[step] if isinstance(here, list) and step < len(here) else None
            name = here.get("name") if isinstance(here, dict) else None
            said = name if isinstance(name, str) and name.strip() else f"{step + 1}"
            words.append(f"{words.pop() if words else ''} {said[:80]}".strip())
        elif isinstance(here, dict) and (step in here or step == loc[-1]):
            here = here.get(step)
            words.append(step)
        # Anything else is the tag of a union member: nothing that a person wrote.
    return " / ".join(words)


def _words(e: Any, names: tuple[str, ...]) -> tuple[str, str]:
    kind, last = e["type"], e["loc"][-1] if e["loc"] else ""
    if kind == "missing":
        return f"“{last}” is missing", f"Add “{last}”; the schema says what it holds."
    if kind == "extra_forbidden":
        near = difflib.get_close_matches(str(last), names or _ALL_NAMES, n=1)
        hint = f"Did you mean “{near[0]}”?" if near else "Take it out; the schema lists the fields."
        return f"“{str(last)[:80]}” is not a field here", hint
    if kind == "value_error":
        return str(e["ctx"]["error"]), ""
    if kind == "literal_error":
        return f"expected {e['ctx']['expected']}", ""
    if kind in ("too_short", "too_long") and "actual_length" in e["ctx"]:
        ctx = e["ctx"]
        bound = (
            f"{ctx['min_length']} or more are needed"
            if kind == "too_short"
            else f"{ctx['max_length']} at most are read"
        )
        return f"{bound}, {ctx['actual_length']} came", ""
    text = str(e["msg"])
    return text[0].lower() + text[1:], ""


def _field_names(schema: dict[str, Any]) -> tuple[str, ...]:
    parts = [schema, *schema.get("$defs", {}).values()]
    return tuple(dict.fromkeys(n for p in parts for n in p.get("properties", {})))


_ALL_NAMES = _field_names(PieceSheet.model_json_schema(by_alias=True))


def _repeated(names: Iterable[str], what: str, where: str) -> list[Finding]:
    seen: set[str] = set()
    twice = []
    for name in names:
        if name in seen and name not in twice:
            twice.append(name)
        seen.add(name)
    return [
        _problem(
            "name-twice",
            where or name,
            f"two {what}s are called “{name}”",
            f"Give each {what} a name of its own.",
        )
        for name in twice
    ]


# From the sheet's piece to ours


def _make_piece(
    said: PieceSheetPiece, defaults: SheetDefaults, source: str
) -> tuple[Piece | None, list[Finding]]:
    noticed: list[Finding] = []
    drawn = said.drawn or defaults.drawn
    edges = _edges(said, defaults, drawn, noticed)
    noticed += _repeated((e.name for e in edges), "edge", said.name)
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
            partner=e.partner,
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
            _problem(
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
        _problem("no-length", f"{piece} / {name}", "the edge has no length", "Leave it out.")
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
                _problem(
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
        _problem(
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
                _problem(
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
            _problem(
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
        _problem("no-such-edge", where, f"there is no edge “{edge}”", f"The edges are: {names}.")
    )
    return float("inf")


def _beyond(where: str, edge: str, distance: float, length: float) -> Finding:
    return _problem(
        "beyond-edge",
        where,
        f"{distance:.1f} mm is beyond the end of “{edge}”, which is {length:.1f} mm long",
        "Measure along the edge as drawn, from its start.",
    )


# Writing


def _written_piece(p: Piece) -> dict[str, Any]:
    made: dict[str, Any] = {"name": p.name, "cloth": p.cloth, "drawn": p.drawn_as.value}
    if p.grain is not None:
        made["grain"] = {"tail": list(p.grain.tail), "head": list(p.grain.head)}
    made["grain_rule"] = p.grain_rule.value
    made["count"] = {"drawn": p.count.drawn, "turned": p.count.turned}
    made["outline"] = {
        "start": [float(v) for v in p.edges[0].points[0]],
        "edges": [_written_edge(e) for e in p.edges],
    }
    if p.notches:
        made["notches"] = [
            _filled({"edge": n.edge, "distance": n.distance_mm, "marks": n.marks, "name": n.name})
            for n in p.notches
        ]
    if p.darts:
        made["darts"] = [
            {
                "name": d.name,
                "edge": d.edge,
                "first": d.first_mm,
                "second": d.second_mm,
                "point": list(d.point),
                "fold": d.fold.value,
            }
            for d in p.darts
        ]
    if p.marks:
        made["marks"] = [
            _filled({"kind": m.kind.value, "points": [list(x) for x in m.points], "name": m.name})
            for m in p.marks
        ]
    if p.origin:
        made["origin"] = p.origin
    return made


def _written_edge(e: Edge) -> dict[str, Any]:
    made: dict[str, Any] = {"name": e.name, "kind": e.kind.value}
    if len(e.points) == 2:
        made["to"] = [float(v) for v in e.points[1]]
    else:
        made["points"] = [[float(v) for v in p] for p in e.points[1:]]
    a = e.allowance
    if (
        a.end_width_mm is None
        and not a.steps
        and not a.width_mm
        and a.state is not AllowanceState.ADD
    ):
        made["allowance"] = a.state.value
    else:
        allowance: dict[str, Any] = {"state": a.state.value, "width": a.width_mm}
        if a.end_width_mm is not None:
            allowance["end_width"] = a.end_width_mm
        if a.steps:
            allowance["steps"] = [list(s) for s in a.steps]
        made["allowance"] = allowance
    if e.inlay_mm:
        made["inlay"] = e.inlay_mm
    if e.partner:
        made["partner"] = e.partner
    if e.ease_mm:
        made["ease"] = e.ease_mm
    if e.corner is not Corner.AUTO:
        made["corner"] = e.corner.value
    if e.pressed is not Pressed.UNSAID:
        made["pressed"] = e.pressed.value
    if e.folds_mm:
        made["folds"] = list(e.folds_mm)
    return made


def _filled(fields: dict[str, Any]) -> dict[str, Any]:
    return {k: v for k, v in fields.items() if v != ""}


def _pretty(value: Any, indent: str) -> str:
    flat = json.dumps(value, ensure_ascii=False)
    plain = isinstance(value, list) and all(not isinstance(v, dict) for v in value)
    simple = isinstance(value, dict) and len(flat) < 100
    if not isinstance(value, (dict, list)) or not value or plain or simple:
        return flat
    inner = indent + " "
    if isinstance(value, dict):
        items = [f"{inner}{json.dumps(k)}: {_pretty(v, inner)}" for k, v in value.items()]
        return "{\n" + ",\n".join(items) + f"\n{indent}}}"
    return "[\n" + ",\n".join(inner + _pretty(v, inner) for v in value) + f"\n{indent}]"
