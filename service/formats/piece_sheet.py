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

import json
from typing import Any

from pydantic import ValidationError

from nesting.findings import Finding, Level
from nesting.pieces.measures import BodyMeasure
from nesting.pieces.piece import (
    Piece,
    Style,
)
from service.errors import FormatError, TooLargeError
from service.formats.sheet_models import (
    FORMAT,
    UNITS,
    VERSION,
    PieceSheet,
    PieceSheetPiece,
    SheetDefaults,
    SheetHead,
)
from service.formats.sheet_pieces import make_piece
from service.formats.sheet_problems import problem, repeated, told
from service.formats.sheet_writing import pretty, written_piece

MAX_BYTES = 10_000_000


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
            made, noticed = make_piece(piece, head.defaults if head else SheetDefaults(), source)
            problems += [f for f in noticed if f.level is Level.REFUSED]
            findings += [f for f in noticed if f.level is not Level.REFUSED]
            pieces += [made] if made else []
    problems += repeated((p.name for p in pieces), "piece", "")
    if problems or head is None:
        raise _refusal(source, problems)
    measures = tuple(
        BodyMeasure(m.line, m.body, m.ease, m.below, m.cloth, tuple(m.leave_out), tuple(m.count_in))
        for m in head.body.measures
    )
    return Style(head.style, tuple(pieces), head.note, measures), tuple(findings)


def write_piece_sheet(style: Style) -> dict[str, Any]:
    """The style as a piece sheet in mm that reads back to the same values (outlines to 1e-9 mm)."""
    return {
        "format": FORMAT,
        "version": VERSION,
        "unit": "mm",
        "style": style.name,
        "note": style.note,
        **({"body": {"measures": [_written(m) for m in style.measures]}} if style.measures else {}),
        "pieces": [written_piece(p) for p in style.pieces],
    }


def _written(measure: BodyMeasure) -> dict[str, Any]:
    return {
        "line": measure.line,
        "below": measure.below_mm,
        "body": measure.body_mm,
        "ease": measure.ease_mm,
        "cloth": measure.cloth,
        **written_counting(measure),
    }


def written_counting(measure: BodyMeasure) -> dict[str, Any]:
    """Which pieces a sheet says to leave out of a measure, or to count in."""
    said = {"leave_out": list(measure.leave_out), "count_in": list(measure.count_in)}
    return {k: v for k, v in said.items() if v}


def piece_sheet_text(sheet: dict[str, Any]) -> str:
    """A sheet as JSON text that a person can read and a version control can compare: indented, but
    with every list of numbers, and every object without objects in it, on one line."""
    return pretty(sheet, "") + "\n"


def piece_sheet_schema() -> dict[str, Any]:
    """JSON Schema (2020-12) of the piece sheet, each field with description and example."""
    schema = PieceSheet.model_json_schema(by_alias=True)
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": f"{FORMAT}, version {VERSION}",
        **{k: v for k, v in schema.items() if k != "title"},
    }


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
        problems += told(e, rest, "", tuple(SheetHead.model_fields) + ("pieces",))
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
        problem("pieces", "pieces", f"a sheet lists 1 to 500 pieces, {came}", "Add the pieces.")
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
        problems += told(e, said, where[:80], ())
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
