"""An SVG tree to labelled lines in user units of its root, y still down.

Follows groups, transforms, ``use``, ``symbol`` and nested ``svg`` itself, with bounds: a drawing of a
thousand bytes can ask for a billion copies. Nothing outside the file is ever fetched.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass, field
from xml.etree.ElementTree import Element

import numpy as np

from nesting.findings import Finding, Level
from nesting.polygon import FloatArray
from service.errors import TooLargeError
from service.formats import svg_path
from service.formats.drawn_lines import DrawnLine, Group
from service.formats.safe_xml import local_name
from service.formats.svg_lengths import (
    SvgValueError,
    Viewport,
    applied,
    in_user_units,
    split_length,
    transform_matrix,
    translation,
    view_box,
    viewport_matrix,
)
from service.formats.svg_path import Subpath

MAX_USES = 20_000
MAX_SEGMENTS = 300_000
MAX_DEPTH = 200

_PASSED_OVER = frozenset(
    (
        "defs",
        "clipPath",
        "mask",
        "marker",
        "pattern",
        "metadata",
        "title",
        "desc",
        "style",
        "script",
    )
    + (
        "linearGradient",
        "radialGradient",
        "filter",
        "symbol",
        "namedview",
        "cursor",
        "view",
        "font",
    )
)
_SHAPES = frozenset(("path", "rect", "circle", "ellipse", "line", "polyline", "polygon"))
_UNREAD = {
    "text": "text",
    "image": "picture",
    "foreignObject": "foreign object",
    "switch": "switch",
}


@dataclass(slots=True)
class Walk:
    """What a walk has found: ``lines`` in root user units; ``findings`` on what was left out."""

    source: str
    ids: dict[str, Element]
    lines: list[DrawnLine] = field(default_factory=list)
    findings: list[Finding] = field(default_factory=list)
    problems: list[Finding] = field(default_factory=list)
    uses: int = 0
    segments: int = 0
    groups: int = 0
    left_out: dict[str, int] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class _Place:
    """Where in the tree: matrix to root units, the viewport, groups around, ids being expanded."""

    matrix: FloatArray
    viewport: Viewport
    groups: tuple[Group, ...]
    inside: tuple[str, ...]
    depth: int
    label: str = ""


def walk_svg(root: Element, viewport: Viewport, source: str) -> Walk:
    """All lines below ``root``, in the user units inside its viewBox."""
    walk = Walk(source, {i: e for e in root.iter() if (i := e.get("id"))})
    _check_style_sheets(root, walk)
    place = _Place(np.eye(3), viewport, (), (), 0)
    for child in root:
        _visit(child, place, walk)
    for what, count in walk.left_out.items():
        walk.findings.append(
            Finding(
                "left-out",
                Level.WARNING if what in ("hidden element", "picture") else Level.NOTE,
                f"left out: {count} {what}{'s' if count > 1 else ''}",
                where=source,
                hint=_HINTS.get(what, ""),
            )
        )
    return walk


_HINTS = {
    "hidden element": "If a hidden one is a piece, make it visible and save again.",
    "picture": "Trace the picture's outline with a path; pictures are not measured.",
    "text": "Names and counts are read from the labels of groups and paths, not from text.",
}


def label_of(element: Element) -> str:
    """What the maker called an element: its ``label`` attribute (of any namespace), ``data-name``, its
    <title>, or its id unless a program made that up. "" when it has no such name."""
    for name, value in element.attrib.items():
        if local_name(name) in ("label", "aria-label") and value.strip():
            return value.strip()
    if element.get("data-name", "").strip():
        return element.get("data-name", "").strip()
    for child in element:
        if local_name(child.tag) == "title" and (child.text or "").strip():
            return (child.text or "").strip()
    return label_from_id(element.get("id", ""))


_MADE_UP = re.compile(
    r"^(path|rect|rectangle|circle|ellipse|line|polyline|polygon|use|g|group|layer|svg|shape|vector"
    r"|curve|object|compound|layer_x0020_|_x3c_.*_x3e_|_clone)[-_ .]?[\d_ -]*$",
    re.IGNORECASE,
)


def label_from_id(text: str) -> str:
    """An id as words: escapes such as ``_x3B_`` undone, ``_`` a space, a trailing copy number off."""
    if not text or _MADE_UP.match(text):
        return ""
    words = re.sub(
        r"_x([0-9A-Fa-f]{2,6})_",
        lambda m: chr(int(m.group(1), 16)) if int(m.group(1), 16) < 0x110000 else " ",
        text,
    )
    words = re.sub(r"(?:[-_]\d+)+[-_]*$", "", words)
    return re.sub(r"[_\s]+", " ", words).strip()


def _visit(element: Element, place: _Place, walk: Walk) -> None:
    name = local_name(element.tag)
    if not name or name in _PASSED_OVER:
        return
    if _hidden(element):
        walk.left_out["hidden element"] = walk.left_out.get("hidden element", 0) + 1
        return
    if name in _UNREAD:
        what = _UNREAD[name]
        walk.left_out[what] = walk.left_out.get(what, 0) + 1
        return
    try:
        if name in ("g", "a"):
            _group(element, place, walk)
        elif name == "svg":
            _nested(element, place, walk, element.get("width"), element.get("height"))
        elif name == "use":
            _use(element, place, walk)
        elif name in _SHAPES:
            _shape(name, element, place, walk)
    except (SvgValueError, svg_path.PathDataError) as e:
        walk.problems.append(
            Finding(
                "drawing",
                Level.REFUSED,
                str(e),
                where=label_of(element) or element.get("id") or f"a {name}",
                hint="Open the drawing, mend or redraw that part, and save it as plain SVG.",
            )
        )


def _deeper(place: _Place, walk: Walk, matrix: FloatArray, **changes: object) -> _Place:
    if place.depth >= MAX_DEPTH:
        raise TooLargeError(
            f"{walk.source} nests groups and copies more than {MAX_DEPTH} deep", where=walk.source
        )
    fields: dict[str, object] = {
        "viewport": place.viewport,
        "groups": place.groups,
        "inside": place.inside,
        "label": place.label,
        **changes,
    }
    return _Place(place.matrix @ matrix, depth=place.depth + 1, **fields)  # type: ignore[arg-type]


def _group(element: Element, place: _Place, walk: Walk) -> None:
    inner = _deeper(
        place, walk, transform_matrix(_transform(element)), groups=_with_group(element, place, walk)
    )
    for child in element:
        _visit(child, inner, walk)


def _with_group(element: Element, place: _Place, walk: Walk) -> tuple[Group, ...]:
    walk.groups += 1
    return (*place.groups, Group(walk.groups, label_of(element)))


def _nested(
    element: Element, place: _Place, walk: Walk, width_text: str | None, height_text: str | None
) -> None:
    """A nested svg or a used symbol: a viewport of its own."""
    outer = place.viewport
    x = in_user_units(element.get("x"), "x", outer)
    y = in_user_units(element.get("y"), "y", outer)
    width = in_user_units(width_text, "x", outer, outer.width)
    height = in_user_units(height_text, "y", outer, outer.height)
    if width <= 0 or height <= 0:
        return
    if element.get("refX") or element.get("refY"):
        raise SvgValueError("refX and refY are not read: ungroup or unlink the symbol")
    box = view_box(element.get("viewBox"))
    matrix = transform_matrix(_transform(element)) @ translation(x, y)
    viewport = Viewport(width, height)
    if box is not None:
        ratio = element.get("preserveAspectRatio", "")
        matrix = matrix @ viewport_matrix(box, width, height, ratio)
        viewport = Viewport(box[2], box[3])
    inner = _deeper(
        place, walk, matrix, viewport=viewport, groups=_with_group(element, place, walk)
    )
    for child in element:
        _visit(child, inner, walk)


def _use(element: Element, place: _Place, walk: Walk) -> None:
    walk.uses += 1
    if walk.uses > MAX_USES:
        raise TooLargeError(
            f"{walk.source} asks for more than {MAX_USES} copies (use elements)",
            where=walk.source,
            hint="Unlink the copies, keep one of each piece, and say how many in its name.",
        )
    href = next((v for n, v in element.attrib.items() if local_name(n) == "href"), "").strip()
    target = walk.ids.get(href[1:]) if href.startswith("#") else None
    if target is None:
        what = "outside the file" if not href.startswith("#") else "not in the file"
        raise SvgValueError(f"a copy refers to “{href[:60]}”, which is {what}")
    if href in place.inside:
        raise SvgValueError(f"a copy of “{href[:60]}” contains itself")
    shift = translation(
        in_user_units(element.get("x"), "x", place.viewport),
        in_user_units(element.get("y"), "y", place.viewport),
    )
    inner = _deeper(
        place,
        walk,
        transform_matrix(_transform(element)) @ shift,
        inside=(*place.inside, href),
        groups=_with_group(element, place, walk),
        label=label_of(element) or place.label,
    )
    if local_name(target.tag) in ("symbol", "svg"):
        own = (None, None) if local_name(target.tag) == "symbol" else _size_of(target)
        _nested(target, inner, walk, element.get("width", own[0]), element.get("height", own[1]))
    else:
        _visit(target, inner, walk)


def _size_of(element: Element) -> tuple[str | None, str | None]:
    return element.get("width"), element.get("height")


def _shape(name: str, element: Element, place: _Place, walk: Walk) -> None:
    subpaths = _SHAPE_READERS[name](element, place.viewport, MAX_SEGMENTS - walk.segments)
    matrix = place.matrix @ transform_matrix(_transform(element))
    label = label_of(element) or place.label
    if element.get("clip-path", "none") != "none":
        walk.left_out["clip"] = walk.left_out.get("clip", 0) + 1
    for i, sub in enumerate(subpaths):
        walk.segments += len(sub.segments)
        if walk.segments > MAX_SEGMENTS:
            raise TooLargeError(
                f"{walk.source} holds more than {MAX_SEGMENTS} lines and curves",
                where=walk.source,
                hint="Take out what is no piece, and simplify traced lines.",
            )
        walk.lines.append(
            DrawnLine(
                label=label,
                name=label or element.get("id", ""),
                groups=place.groups,
                segments=tuple(applied(matrix, s) for s in sub.segments),
                closed=sub.closed,
                part=i,
            )
        )


def _number(element: Element, name: str, axis: str, viewport: Viewport) -> float:
    return in_user_units(element.get(name), axis, viewport)


def _read_path(element: Element, viewport: Viewport, most: int) -> list[Subpath]:
    return svg_path.parse_path(element.get("d", ""), most=max(most, 1))


def _read_rect(element: Element, viewport: Viewport, most: int) -> list[Subpath]:
    x, y, w, h = (
        _number(element, n, a, viewport)
        for n, a in (("x", "x"), ("y", "y"), ("width", "x"), ("height", "y"))
    )
    if w < 0 or h < 0:
        raise SvgValueError("a rectangle's width and height are 0 or more")
    rx, ry = element.get("rx", "auto"), element.get("ry", "auto")
    rx, ry = (ry if rx == "auto" else rx), (rx if ry == "auto" else ry)
    radii = in_user_units(rx, "x", viewport), in_user_units(ry, "y", viewport)
    return svg_path.rectangle(x, y, w, h, *radii) if w and h else []


def _read_ellipse(element: Element, viewport: Viewport, most: int) -> list[Subpath]:
    cx, cy = _number(element, "cx", "x", viewport), _number(element, "cy", "y", viewport)
    if element.get("r") is not None:
        r = _number(element, "r", "r", viewport)
        rx, ry = r, r
    else:
        rx, ry = _number(element, "rx", "x", viewport), _number(element, "ry", "y", viewport)
    return svg_path.ellipse(cx, cy, rx, ry) if rx > 0 and ry > 0 else []


def _read_line(element: Element, viewport: Viewport, most: int) -> list[Subpath]:
    x1, y1, x2, y2 = (_number(element, n, n[0], viewport) for n in ("x1", "y1", "x2", "y2"))
    return svg_path.polyline([(x1, y1), (x2, y2)], closed=False)


def _read_poly(element: Element, viewport: Viewport, most: int) -> list[Subpath]:
    words = element.get("points", "").replace(",", " ").split()
    if len(words) % 2:
        raise SvgValueError("a list of points holds an odd count of numbers")
    numbers = [split_length(w)[0] for w in words]
    points = list(zip(numbers[::2], numbers[1::2], strict=True))
    return svg_path.polyline(points, closed=local_name(element.tag) == "polygon")


_SHAPE_READERS: dict[str, Callable[[Element, Viewport, int], list[Subpath]]] = {
    "path": _read_path,
    "rect": _read_rect,
    "circle": _read_ellipse,
    "ellipse": _read_ellipse,
    "line": _read_line,
    "polyline": _read_poly,
    "polygon": _read_poly,
}


def _style(element: Element) -> dict[str, str]:
    pairs = (p.partition(":") for p in element.get("style", "").split(";"))
    return {k.strip().lower(): v.strip() for k, _, v in pairs}


def _hidden(element: Element) -> bool:
    style = _style(element)
    return (
        style.get("display", element.get("display", "")) == "none"
        or style.get("visibility", element.get("visibility", "")) == "hidden"
    )


def _transform(element: Element) -> str | None:
    style = _style(element)
    if "transform" in style or element.get("transform-origin") or "transform-origin" in style:
        raise SvgValueError("its place is set by a style (transform), which is not read")
    return element.get("transform")


def _check_style_sheets(root: Element, walk: Walk) -> None:
    """Style sheets are not read: say so where one could move or hide a line."""
    for element in root.iter():
        if local_name(element.tag) == "style":
            text = "".join(element.itertext())
            if re.search(r"(?<![-\w])(transform|display|visibility|[rxyd]|[cr][xy])\s*:", text):
                walk.findings.append(
                    Finding(
                        "style-sheet",
                        Level.WARNING,
                        "a style sheet in the drawing may move, size or hide lines; it was not read",
                        where=walk.source,
                        hint="Check the sizes below, or save as plain SVG with attributes.",
                    )
                )
                return
