"""SVG in: a drawing with physical units and a few words on its groups and lines, to a style."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final
from xml.etree.ElementTree import Element

import numpy as np

from nesting.errors import NestingError
from nesting.findings import Finding, Level
from nesting.pieces.piece import Style
from nesting.polygon import FloatArray, path_length
from nesting.units import INCH_MM, parse_length, show_length
from service.errors import FormatError, UnitError
from service.formats.drawing import DrawnLine, largest_extent, read_drawing
from service.formats.safe_xml import local_name, parse_xml
from service.formats.svg_lengths import (
    PHYSICAL,
    PX_PER_INCH,
    SvgValueError,
    Viewport,
    applied,
    in_user_units,
    split_length,
    view_box,
    viewport_matrix,
)
from service.formats.svg_tree import walk_svg
from service.formats.words import Role, WordError, is_line_role, read_line_words

SVG_CONVENTION: Final = """\
# A drawing that grainfold can read

Any vector editor will do. Set the page in mm, cm or inches and draw at true size, as seen on the right
side of the cloth.

- **One file, one style.** The drawing's title names it, and may say what holds for every piece:
  `Stage apron; seam 15 mm; hem 4 cm`.
- **One group, one piece.** Name the group (or layer, or its title or id) by the piece and what is
  asked of it, words parted by semicolons, the name first: `Front; pair; lining`.
  - how many: `pair`, `2 pairs`, `2 drawn`, `1 turned`, `on fold`, `2 on fold`
  - cloth: `shell`, `lining`, `interlining`, `interfacing`, `contrast`, `pocketing`, `wadding`, or
    `cloth velvet` for any other
  - turns: `one way` (a one-headed grain line), `either way`, `quarter turns`, `bias`, `any way`
  - allowances: `seam 15 mm`, `hem 4 cm`, `finished none`, `seam included`
- **Lines in the group** are named by what they are:
  - `net` or `cut`: the outline, one closed path, as the net line or as the cut line
  - `grain`: from tail to head
  - `fold`: a line over the edge that lies on the fold
  - `seam side; 1.5 cm; to Back/side`, `hem; 4 cm`, `finished`, `edge waist; included; inlay 2 cm`: a
    line over a stretch of the outline, to name the edge or to give it an allowance of its own
  - `notch`, `double notch`: a short line that touches or crosses the outline
  - `dart bust`: leg, point, leg in one path, both ends on one edge
  - `drill`, `button`: a small circle; `buttonhole`, `centre line`, `balance`, `line`: a line
  - `ignore`: left out
- **A check line** named `check; 50 cm` is compared with its drawn length; in a drawing without
  physical units it sets the size.
- A layer that is called `net`, `cut`, `grain`, `fold` ... gives that name to lines that have none.
- A drawing of plain closed paths is read too: each path is a piece named by its label or id, and
  what is missing is told.

Corners are where the outline turns by more than 20 degrees; the stretch between two corners is an
edge. Text, pictures, colours and widths of lines are not read; hidden elements are left out and told.
"""

CHECK_SHARE = 0.005
"""A check line in a drawing with physical units may be off by half a per cent: more is another unit
or a stretched drawing."""

_OLD_DPI = (
    ("96", "96 units to the inch (most programs today)"),
    ("90", "90 units to the inch (older drawing programs)"),
    ("72", "72 units to the inch (layout programs)"),
)
_SQUARES_MM = ((50.0, "5 cm"), (100.0, "10 cm"), (25.4, "1 in"), (50.8, "2 in"), (101.6, "4 in"))


def read_svg(
    data: bytes, *, source: str, unit_choice: str | None = None
) -> tuple[Style, tuple[Finding, ...]]:
    """The style of an SVG drawing, and what was noticed. The convention is ``SVG_CONVENTION``.

    A drawing whose width and height carry no physical unit is refused with UnitError and the choices;
    ``unit_choice`` is one of them: ``96``, ``90``, ``72`` (units to the inch), ``mm``, ``cm``, ``in``,
    ``pt`` (one unit is that), or a measured length: ``tall Front = 62.4 cm``, ``wide Front = 31 cm``,
    ``check = 50 cm``. Raises FormatError with every problem found.
    """
    drawing = svg_lines(data, source=source, unit_choice=unit_choice)
    reading = read_drawing(drawing.lines, title=drawing.title, source=source)
    problems = [*drawing.problems, *reading.problems]
    if problems:
        raise refusal(source, problems)
    found = (*drawing.findings, *_checked(drawing.lines), *reading.findings)
    return reading.style, found


@dataclass(frozen=True, slots=True, eq=False)
class SvgLines:
    """An SVG's lines in mm, y up, before anything is made of them."""

    lines: tuple[DrawnLine, ...]
    title: str
    findings: tuple[Finding, ...]
    problems: tuple[Finding, ...]


def svg_lines(data: bytes, *, source: str, unit_choice: str | None = None) -> SvgLines:
    """The lines of an SVG drawing at true size. Raises FormatError, UnitError, TooLargeError."""
    root = parse_xml(data, source=source)
    if local_name(root.tag) != "svg":
        raise FormatError(
            f"{source} is XML, but not an SVG drawing (it starts with <{local_name(root.tag)[:40]}>)",
            where=source,
            hint="Save the drawing as plain SVG.",
        )
    try:
        page = _page(root)
    except SvgValueError as e:
        raise FormatError(
            f"{source}: {e}", where=source, hint="Set the page size again and save as plain SVG."
        ) from None
    walk = walk_svg(root, page.viewport, source)
    matrix, findings = _mm_from_units(page, walk.lines, source, unit_choice)
    title = next((t for c in root if local_name(c.tag) == "title" and (t := c.text or "")), "")
    return SvgLines(
        tuple(_in_mm(line, matrix) for line in walk.lines),
        title.strip(),
        (*findings, *walk.findings),
        tuple(walk.problems),
    )


def refusal(source: str, problems: Sequence[Finding]) -> FormatError:
    """One error for a file, with the first problems in its message and all of them in ``problems``."""
    shown = [f"{p.where}: {p.message}" if p.where else p.message for p in problems]
    more = f"; and {len(shown) - 5} more" if len(shown) > 5 else ""
    return FormatError(
        f"{source} cannot be used: " + "; ".join(shown[:5]) + more,
        where=problems[0].where or source,
        hint=problems[0].hint,
        problems=problems,
    )


# The page and its unit


@dataclass(frozen=True, slots=True, eq=False)
class _Page:
    """The root viewport: user units inside it, the matrix to px, and whether px are physical."""

    viewport: Viewport
    px: FloatArray
    physical: bool
    uneven: float


def _page(root: Element) -> _Page:
    box = view_box(root.get("viewBox"))
    sizes: list[tuple[float, str] | None] = []
    for name in ("width", "height"):
        text = root.get(name, "").strip()
        sizes.append(split_length(text) if text and text.lower() != "auto" else None)
    physical = [s is not None and s[1] in PHYSICAL for s in sizes]
    inner = Viewport(box[2], box[3]) if box else Viewport(300.0, 150.0)
    px = [
        in_user_units(root.get(name), axis, inner) if real else None
        for name, axis, real in zip(("width", "height"), "xy", physical, strict=True)
    ]
    if box is None or not any(physical):
        if box is None:
            width, height = (
                s[0] if s is not None and s[1] in ("", "px") else p or d
                for s, p, d in zip(sizes, px, (300.0, 150.0), strict=True)
            )
            inner = Viewport(width, height)
        return _Page(inner, np.eye(3), False, 1.0)
    width = px[0] if px[0] is not None else (px[1] or 0.0) * box[2] / box[3]
    height = px[1] if px[1] is not None else width * box[3] / box[2]
    if width <= 0 or height <= 0:
        raise SvgValueError("the page has no size")
    matrix = viewport_matrix(box, width, height, root.get("preserveAspectRatio", ""))
    return _Page(inner, matrix, True, float(matrix[0, 0] / matrix[1, 1]))


def _mm_from_units(
    page: _Page, lines: list[DrawnLine], source: str, choice: str | None
) -> tuple[FloatArray, list[Finding]]:
    """The matrix from root user units (y down) to mm (y up)."""
    if choice is not None and choice.strip():
        return _scale(_chosen(choice, lines, source)), [
            Finding(
                "unit-chosen",
                Level.WARNING if page.physical else Level.NOTE,
                f"the size follows from your choice: {choice.strip()}"
                + ("; the drawing itself says another unit" if page.physical else ""),
                where=source,
            )
        ]
    if page.physical:
        findings = []
        if abs(page.uneven - 1) > 1e-3:
            findings.append(
                Finding(
                    "stretched",
                    Level.WARNING,
                    f"the page stretches the drawing unevenly, {page.uneven:.3f} times in width",
                    where=source,
                    hint="Set preserveAspectRatio or the page size right, or check every piece.",
                )
            )
        flip = np.diag([INCH_MM / PX_PER_INCH, -INCH_MM / PX_PER_INCH, 1.0])
        return flip @ page.px, findings
    check = _check_lines(lines)
    line, length = check[0] if len(check) == 1 else (None, None)
    if line is not None and length:
        return _scale(length / _units_of(line, source)), [
            Finding(
                "unit-from-check",
                Level.NOTE,
                f"the drawing has no physical unit; its check line sets the size: "
                f"{show_length(length)}",
                where=source,
            )
        ]
    raise _unit_error(lines, source)


def _unit_error(lines: list[DrawnLine], source: str) -> UnitError:
    name, w, h = largest_extent(lines)

    def size(mm: float) -> str:
        if not name:
            return ""
        return f": {name} {show_length(h * mm)} tall, {show_length(w * mm)} wide"

    choices = [(code, f"{text}{size(INCH_MM / float(code))}") for code, text in _OLD_DPI]
    choices += [
        ("mm", f"one unit is a millimetre{size(1.0)}"),
        ("cm", f"one unit is a centimetre{size(10.0)}"),
        ("in", f"one unit is an inch{size(INCH_MM)}"),
    ]
    choices = [(c, f"{text}{_square_hint(lines, _PER_UNIT[c])}") for c, text in choices]
    choices.append(
        (
            f"tall {name or 'Front'} = 62.4 cm",
            "a piece's height as you measured it, with your own name and figure",
        )
    )
    return UnitError(
        f"{source} says no physical unit, so its size is not known",
        where=source,
        hint="Choose what one unit is (96, 90 or 72 to the inch, mm, cm, in), or give a measured "
        f"length such as “{choices[-1][0]}”; or set the page's size in mm in the drawing program.",
        choices=choices,
    )


_PER_UNIT: Final[dict[str, float]] = {
    **{code: INCH_MM / float(code) for code, _ in _OLD_DPI},
    "mm": 1.0,
    "cm": 10.0,
    "in": INCH_MM,
    "pt": INCH_MM / 72,
}


def _square_hint(lines: list[DrawnLine], mm: float) -> str:
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


def _chosen(choice: str, lines: list[DrawnLine], source: str) -> float:
    """mm to one user unit, from ``unit_choice``."""
    text = choice.strip()
    if text.lower() in _PER_UNIT:
        return _PER_UNIT[text.lower()]
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
        check = _check_lines(lines)
        if len(check) != 1:
            raise _bad_choice(
                choice, source, f"the drawing has {len(check)} lines labelled “check”"
            )
        return length / _units_of(check[0][0], source)
    extent = _extent_of(name, lines)
    if extent is None:
        raise _bad_choice(choice, source, f"the drawing has no one outline called “{name[:60]}”")
    return length / extent[1 if side.lower() == "tall" else 0]


def _extent_of(name: str, lines: list[DrawnLine]) -> tuple[float, float] | None:
    """Width and height of the piece's largest closed line, in user units."""
    wanted = name.strip().lower()
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
        choices=[*_OLD_DPI, ("mm", "one unit is a millimetre"), ("cm", "one unit is a centimetre")],
    )


def _check_lines(lines: Sequence[DrawnLine]) -> list[tuple[DrawnLine, float | None]]:
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


def _units_of(line: DrawnLine, source: str) -> float:
    length = path_length(line.points)
    if length <= 0:
        raise FormatError(f"{source}: the check line has no length", where=source)
    return length


def _checked(lines: Sequence[DrawnLine]) -> list[Finding]:
    """Check lines of a drawing in mm, against what they say."""
    findings = []
    for line, said in _check_lines(lines):
        if not said:
            continue
        drawn = path_length(line.points)
        off = drawn / said - 1
        if abs(off) > CHECK_SHARE:
            findings.append(
                Finding(
                    "check-line",
                    Level.WARNING,
                    f"the check line says {show_length(said)} but is drawn {show_length(drawn)} long: "
                    "the drawing's unit or scale is wrong",
                    where=line.name,
                    hint=f"Choose the unit by “check = {show_length(said)}”, or mend the drawing.",
                )
            )
        else:
            findings.append(
                Finding(
                    "check-line",
                    Level.NOTE,
                    f"the check line of {show_length(said)} is drawn right",
                    where=line.name,
                )
            )
    return findings


def _scale(mm: float) -> FloatArray:
    return np.diag([mm, -mm, 1.0])


def _in_mm(line: DrawnLine, matrix: FloatArray) -> DrawnLine:
    return replace(line, segments=tuple(applied(matrix, s) for s in line.segments))
