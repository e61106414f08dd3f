"""What one unit of a drawing is, when the drawing does not say: the choices, and what a choice means."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import Final

import numpy as np

from nesting.errors import NestingError
from nesting.polygon import path_length
from nesting.units import INCH_MM, parse_length, show_length
from service.errors import FormatError, UnitError
from service.formats.drawn_lines import DrawnLine, largest_extent
from service.formats.words import Role, WordError, is_line_role, read_line_words

_SQUARES_MM = ((50.0, "5 cm"), (100.0, "10 cm"), (25.4, "1 in"), (50.8, "2 in"), (101.6, "4 in"))
WHOLE: Final = "drawing"
"""The name that stands for all lines together where a choice names a piece."""

UNITS: Final[dict[str, tuple[float, str]]] = {
    "96": (INCH_MM / 96, "96 units to the inch (most programs today)"),
    "90": (INCH_MM / 90, "90 units to the inch (older drawing programs)"),
    "72": (INCH_MM / 72, "72 units to the inch (layout programs)"),
    "mm": (1.0, "one unit is a millimetre"),
    "cm": (10.0, "one unit is a centimetre"),
    "in": (INCH_MM, "one unit is an inch"),
    "pt": (INCH_MM / 72, "one unit is a printer's point"),
}
"""Choices by name: mm to one unit, and what it means."""

SVG_CODES: Final = ("96", "90", "72", "mm", "cm", "in")


def unit_error(
    lines: Sequence[DrawnLine], source: str, *, codes: Sequence[str] = SVG_CODES
) -> UnitError:
    """The refusal of a drawing without a unit: each choice says how large a piece would come out."""
    name, w, h = largest_extent(lines)
    if not name and lines:
        name = WHOLE
        w, h = np.ptp(np.concatenate([line.points for line in lines]), axis=0)

    def size(mm: float) -> str:
        return f"{name} {show_length(h * mm)} tall, {show_length(w * mm)} wide"

    choices = [
        (code, f"{text}{f': {size(mm)}' if name else ''}{_square_hint(lines, mm)}")
        for code, (mm, text) in ((code, UNITS[code]) for code in codes)
    ]
    outcomes = [f"{c} ({show_length(h * UNITS[c][0])} tall)" if name else c for c in codes]
    example = f"tall {name or WHOLE} = 62.4 cm"
    choices.append((example, "a piece's height as you measured it, with your own name and figure"))
    return UnitError(
        f"{source} says no physical unit, so its size is not known",
        where=source,
        hint=f"Choose the unit by the size that {name or 'the drawing'} comes out: "
        f"{', '.join(outcomes)}; or give a measured length such as “{example}”; or set the unit in the "
        "drawing program.",
        choices=choices,
    )


def _square_hint(lines: Sequence[DrawnLine], mm: float) -> str:
    """A test square that comes out even is strong evidence; it is told, not acted on."""
    for line in lines:
        if not line.closed or len(line.segments) != 4:
            continue
        w, h = np.ptp(line.points, axis=0) * mm
        for side, text in _SQUARES_MM:
            if abs(w - side) < 0.002 * side and abs(h - side) < 0.002 * side:
                return f" (a square in the drawing would be exactly {text})"
    return ""


_MEASURED = re.compile(r"^(?:(tall|wide)\s+(.+?)|(check))\s*=\s*(.+)$", re.IGNORECASE)


def chosen_mm(choice: str, lines: Sequence[DrawnLine], source: str) -> float:
    """mm to one user unit, from ``unit_choice``."""
    text = choice.strip()
    if text.lower() in UNITS:
        return UNITS[text.lower()][0]
    if re.fullmatch(r"\d+(\.\d+)?", text) and 10 <= float(text) <= 10_000:
        return INCH_MM / float(text)
    match = _MEASURED.match(text)
    if match is None:
        raise _bad_choice(choice, source, "it is none of the choices")
    side, name, _, length_text = match.groups()
    try:
        length = parse_length(length_text)
    except NestingError as e:
        raise _bad_choice(choice, source, e.message) from None
    if length < 1:
        raise _bad_choice(
            choice, source, "a measured length is at least 1 mm; the longer the better"
        )
    if side is None:
        check = check_lines(lines)
        if len(check) != 1:
            raise _bad_choice(
                choice, source, f"the drawing has {len(check)} lines labelled “check”"
            )
        return length / units_of(check[0][0], source)
    extent = _extent_of(name, lines)
    if extent is None:
        raise _bad_choice(choice, source, f"the drawing has no one outline called “{name[:60]}”")
    return length / extent[1 if side.lower() == "tall" else 0]


def _extent_of(name: str, lines: Sequence[DrawnLine]) -> tuple[float, float] | None:
    """Width and height of the piece's largest closed line, in user units."""
    wanted = name.strip().lower()
    if wanted == WHOLE and lines:
        w, h = np.ptp(np.concatenate([line.points for line in lines]), axis=0)
        return (float(w), float(h)) if w > 0 and h > 0 else None
    mine = [
        line
        for line in lines
        if wanted
        in (
            lab.split(";")[0].strip().lower()
            for lab in (line.label, *(g.label for g in line.groups))
        )
        or line.name.strip().lower() == wanted
    ]
    _, w, h = largest_extent(mine)
    return (w, h) if w > 0 and h > 0 else None


def _bad_choice(choice: str, source: str, why: str) -> UnitError:
    return UnitError(
        f"the unit “{choice[:60]}” cannot be used: {why}",
        where=source,
        hint="Choose 96, 90, 72, mm, cm, in, pt, or a measured length: “tall Front = 62.4 cm”, "
        "“check = 50 cm”.",
        choices=[(code, text) for code, (_, text) in UNITS.items()],
    )


def check_lines(lines: Sequence[DrawnLine]) -> list[tuple[DrawnLine, float | None]]:
    """The check lines, each with the length in mm that its label says, if any."""
    found = []
    for line in lines:
        if is_line_role(line.label):
            try:
                words = read_line_words(line.label)
            except WordError:
                continue
            if words.role is Role.CHECK:
                found.append((line, words.length_mm))
    return found


def units_of(line: DrawnLine, source: str) -> float:
    """A check line's length in the drawing's units. Raises FormatError when it has none."""
    length = path_length(line.points)
    if length <= 0:
        raise FormatError(f"{source}: the check line has no length", where=source)
    return length
