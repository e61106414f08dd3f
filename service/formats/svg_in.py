"""SVG in: a drawing with physical units and a few words on its groups and lines, to a style."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final
from xml.etree.ElementTree import Element

import numpy as np

from nesting.findings import Finding, Level
from nesting.pieces.piece import Style
from nesting.polygon import FloatArray, path_length
from nesting.units import INCH_MM, show_length
from service.errors import FormatError
from service.formats.drawing import read_drawing
from service.formats.drawn_lines import DrawnLine, refusal
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
from service.formats.unit_choice import check_lines, chosen_mm, unit_error, units_of

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
  - `seam side; to Back/side; ease 6 mm`: an edge that is meant to be so much longer than its partner
  - `seam shoulder; to Side front/shoulder + Front/shoulder`: an edge that is sewn to a row of edges,
    in the order in which they lie along it
  - `seam; pressed open`, `seam; pressed towards`, `seam; pressed away`: how it is pressed, open,
    towards this piece or away from it
  - `hem; turns back`: its allowance is folded back along it, its ends shaped like what it will lie
    on; `seam; ends mitred`, `seam; ends square`, `seam; ends blunt`: how both its corners are cut
  - `hem; 4 cm; folded at 2 cm`: a hem that is turned twice, and where
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
        return _scale(chosen_mm(choice, lines, source)), [
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
    check = check_lines(lines)
    line, length = check[0] if len(check) == 1 else (None, None)
    if line is not None and length:
        return _scale(length / units_of(line, source)), [
            Finding(
                "unit-from-check",
                Level.NOTE,
                f"the drawing has no physical unit; its check line sets the size: "
                f"{show_length(length)}",
                where=source,
            )
        ]
    raise unit_error(lines, source)


def _checked(lines: Sequence[DrawnLine]) -> list[Finding]:
    """Check lines of a drawing in mm, against what they say."""
    findings = []
    for line, said in check_lines(lines):
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
