"""The lay sheet: a layout drawn to scale, with what one needs to lay the pieces with a tape measure.

Rulers count from what a tape can touch: the squared end, the real selvedge, the fold.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
import shapely
from shapely.geometry import LineString, Polygon
from shapely.geometry.base import BaseGeometry

from nesting.cloth import Fold, SpotKind
from nesting.lacks import Lack
from nesting.layout import Layout, Placed, Zone
from nesting.pieces.piece import GrainRule, Hand
from nesting.polygon import FloatArray, as_points, bounds
from nesting.units import show_length
from service.formats.cut_paper import mark_stroke, notch_stroke
from service.formats.paper import (
    Anchor,
    Block,
    Ink,
    Paper,
    Stroke,
    Words,
    arrow,
    line,
    text_width,
)

SCALES: Final = (1, 2, 2.5, 4, 5, 6, 8, 10, 12.5, 15, 20, 25, 30, 40, 50, 75, 100, 150, 200, 500)
MARGIN: Final = 10.0
RULER: Final = 9.0
ROW: Final = 4.6
SMALLEST_TEXT: Final = 1.8
HATCH_STEP: Final = 4.0

SQUARED_END: Final = "the squared end"
ACROSS_FOLD: Final = "the fold across"
PART_END: Final = "where the folded part ends"

HAND_TEXT: Final = {
    "P": "a pair, cut through both plies",
    "D": "as drawn",
    "T": "turned over",
    "F": "on the fold, one whole piece",
}


@dataclass(frozen=True, slots=True)
class Distances:
    """Where a piece lies, mm, from what a tape can touch. ``near`` and ``far`` are counted along the
    selvedge from ``start`` (the squared end; a fold across the cloth; where that fold's part ends);
    ``fold`` is None where its zone has no fold along the selvedge."""

    start: str
    near: float
    far: float
    fold: float | None
    selvedge: float


def hand_letter(placed: Placed) -> str:
    """The letter that is written in a piece: P, D, T or F (``HAND_TEXT``)."""
    if placed.on_fold:
        return "F"
    if len(placed.hands) > 1:
        return "P"
    return "T" if placed.hands[0] is Hand.TURNED else "D"


def distances(placed: Placed, layout: Layout) -> Distances:
    """The distances of a piece's nearest points from end, fold and real selvedge."""
    x0, y0, x1, y1 = bounds(placed.cut_line)
    zone = next(z for z in layout.zones if z.id == placed.zone)
    start, zero = SQUARED_END, 0.0
    if any("x0" in z.fold_edges for z in layout.zones):
        # A fold across the cloth hides an end: count from what is in sight.
        across = "x0" in zone.fold_edges
        start, zero = (ACROSS_FOLD if across else PART_END), zone.x0
    selvedge = layout.cloth.selvedge_mm
    if "y0" in zone.fold_edges:
        fold, edge = y0 - zone.y0, _outer(zone, layout) - y1
    elif "y1" in zone.fold_edges:
        fold, edge = zone.y1 - y1, y0 - zone.y0
    else:
        fold, edge = None, (_outer(zone, layout) - y1 if zone.y0 > 0 else y0)
    return Distances(start, x0 - zero, x1 - zero, fold, edge + selvedge)


def lay_sheets(
    layout: Layout,
    *,
    style: str,
    lines: Sequence[str] = (),
    page: tuple[float, float] = (420.0, 297.0),
    system: str = "metric",
) -> list[Paper]:
    """The sheets of one cloth's layout on pages of ``page`` (width, height in mm; A3 unless told), turned
    where that lets the drawing be larger: the drawing at the largest of SCALES that fits, and the list
    of pieces, on further pages where it is long.

    ``lines`` are written under the title (what to buy, for instance); ``system`` is ``metric`` or
    ``imperial``.
    """
    cloth = layout.cloth
    x0, x1 = _along(layout)
    y0, y1 = _across(layout)
    head = [_title(layout, style), *lines, *_warnings()]
    rows, notes = _columns(layout, system), _notes(layout)
    top = MARGIN + 12.0 + ROW * (len(head) - 1)
    foot = RULER + 8.0 + MARGIN + ROW * (len(notes) + 2)

    def scale_on(width: float, height: float) -> float:
        listed = min(ROW * len(rows), 0.3 * height)
        room = width - 2 * MARGIN - 2 * RULER, height - top - foot - listed
        fits = (s for s in SCALES if (x1 - x0) / s <= room[0] and (y1 - y0) / s <= room[1])
        return next(fits, SCALES[-1])

    width, height = min(page, page[::-1], key=lambda p: scale_on(*p))
    scale = scale_on(width, height)
    high = (y1 - y0) / scale
    view = _View(1 / scale, np.array([MARGIN + RULER - x0 / scale, height - top - y1 / scale]))
    table = height - top - high - RULER - 8.0
    count = max(int((table - MARGIN - ROW * (len(notes) + 2)) / ROW), 0)
    title = f"{style}: {cloth.role}, lay sheet"
    blocks = [
        _head_block(head, scale, width, height),
        _cloth_block(layout, view),
        _ruler_along(layout, view, system),
        _ruler_across(layout, view, system),
        *(_piece_block(i + 1, p, layout, view, system) for i, p in enumerate(layout.placed)),
        _table_block(rows[:count], notes, table, width),
    ]
    papers = [Paper(width, height, title, tuple(blocks))]
    most = max(int((height - 2 * MARGIN - 20.0) / ROW) - 1, 1)
    for start in range(count, len(rows), most):
        go_on = Words(MARGIN, height - MARGIN - 5.0, f"{head[0]} (list of pieces, continued)", 4.0)
        further = _table_block(rows[start : start + most], [], height - MARGIN - 16.0, width)
        papers.append(Paper(width, height, title, (Block("title", (go_on,)), further)))
    return papers


def layout_plot(layout: Layout, *, style: str) -> Paper:
    """The layout at true size on a paper as large as the cloth, for a plotter or a cutting machine."""
    x0, x1 = _along(layout)
    y0, y1 = _across(layout)
    view = _View(1.0, np.array([MARGIN - x0, MARGIN - y0]))
    blocks = (
        _cloth_block(layout, view),
        *(_plotted(i + 1, p, layout, view) for i, p in enumerate(layout.placed)),
    )
    title = f"{style}: {layout.cloth.role}, layout at true size"
    return Paper(x1 - x0 + 2 * MARGIN, y1 - y0 + 2 * MARGIN, title, blocks)


def _plotted(number: int, p: Placed, layout: Layout, view: _View) -> Block:
    """A piece with its marks too: at true size they can be followed."""
    block = _piece_block(number, p, layout, view, "metric")
    strokes = (mark_stroke(m) for m in p.marks)
    marks = tuple(replace(s, points=view.points(s.points)) for s in strokes)
    return replace(block, items=(*block.items, *marks))


def layout_end(layout: Layout) -> float:
    """Where the layout ends along the frame's x, mm (half the length used on a crosswise fold)."""
    return max((z.x1 for z in layout.zones), default=0.0)


@dataclass(frozen=True, slots=True, eq=False)
class _View:
    """From the cloth frame to paper mm."""

    k: float
    origin: FloatArray

    def points(self, xy: FloatArray) -> FloatArray:
        return as_points(np.asarray(xy) * self.k + self.origin)

    def at(self, x: float, y: float) -> tuple[float, float]:
        return float(x * self.k + self.origin[0]), float(y * self.k + self.origin[1])


def _outer(zone: Zone, layout: Layout) -> float:
    """The inner selvedge edge above a zone: the outermost side of the zones beside it; on a double
    fold both selvedges meet at the line between the zones."""
    beside = [z for z in layout.zones if (z.x0 < zone.x1 and zone.x0 < z.x1) or z is zone]
    if any("y1" in z.fold_edges for z in beside):
        return min(z.y1 for z in beside)
    return max(z.y1 for z in beside)


def _has_lower_fold(layout: Layout) -> bool:
    return any("y0" in z.fold_edges for z in layout.zones)


def _along(layout: Layout) -> tuple[float, float]:
    """From the raw end, or the fold across the cloth, to the raw end after the last piece, mm."""
    folded = any("x0" in z.fold_edges for z in layout.zones)
    end = layout.cloth.end_allowance_mm
    return 0.0 if folded else -end, layout_end(layout) + end


def _across(layout: Layout) -> tuple[float, float]:
    """From the real lower edge (selvedge or fold) to the real upper one, mm."""
    s = layout.cloth.selvedge_mm
    high = max((z.y1 for z in layout.zones), default=0.0)
    return (0.0 if _only_folded(layout) else -s), high + s


def _only_folded(layout: Layout) -> bool:
    return bool(layout.zones) and all("y0" in z.fold_edges or z.y0 > 0 for z in layout.zones)


def _title(layout: Layout, style: str) -> str:
    cloth = layout.cloth
    fold = "open, right side up" if layout.fold is Fold.OPEN else f"{layout.fold.value} fold"
    nap = ", one way (nap)" if cloth.nap else ""
    return f"{style}: {cloth.role}, {fold}{nap}"


def _warnings() -> tuple[str, ...]:
    return ("Measure the cloth's width and lay every piece before the first cut.",)


def _head_block(head: Sequence[str], scale: float, width: float, height: float) -> Block:
    y = height - MARGIN - 5.0
    items: list[Stroke | Words] = [Words(MARGIN, y, head[0], 5.0, bold=True)]
    items.append(Words(width - MARGIN, y, f"scale 1 : {scale:g}", 4.0, Anchor.END))
    items += [Words(MARGIN, y - 2.0 - ROW * (i + 1), text, 3.2) for i, text in enumerate(head[1:])]
    return Block("title", tuple(items))


def _cloth_block(layout: Layout, view: _View) -> Block:
    (x0, x1), (y0, y1), end = _along(layout), _across(layout), layout_end(layout)
    items: list[Stroke | Words] = []
    if x0 < 0:
        items += [
            line(Ink.ZONE, view.at(0, y0), view.at(0, y1), title="squared end"),
            line(Ink.RULER, view.at(x0, y0), view.at(x0, y1), title="raw end"),
        ]
    items += [
        line(Ink.ZONE, view.at(end, y0), view.at(end, y1), title="end of the layout"),
        line(Ink.RULER, view.at(x1, y0), view.at(x1, y1), title="raw end"),
    ]
    for zone in layout.zones:
        items += _zone_lines(zone, layout, view)
    for flaw in layout.cloth.flaws:
        p = view.points(as_points(flaw.outline))
        items.append(Stroke(p, Ink.MARK, closed=True, title=f"flaw {flaw.name}".strip()))
        fx0, fy0, fx1, fy1 = bounds(p)
        items += [line(Ink.MARK, (fx0, fy0), (fx1, fy1)), line(Ink.MARK, (fx0, fy1), (fx1, fy0))]
    drawn = shapely.box(x0, y0, x1, y1)
    for lack in layout.lacks:
        items += _lack(lack, drawn, view)
    return Block("cloth", tuple(items))


def _lack(lack: Lack, drawn: Polygon, view: _View) -> list[Stroke | Words]:
    """A flaw crossed out, missing cloth hatched, each with its word; as much of it as is drawn."""
    seen = Polygon(lack.outline).intersection(drawn)
    if not isinstance(seen, Polygon) or seen.area < 1.0:
        return []
    p = view.points(as_points(np.array(seen.exterior.coords[:-1])))
    said = f"{lack.kind.value} {lack.name}".strip()
    shape = Polygon(p)
    x0, y0, x1, y1 = shape.bounds
    items: list[Stroke | Words] = [Stroke(p, Ink.MARK, closed=True, title=said)]
    if lack.kind is SpotKind.FLAW:
        items += [line(Ink.MARK, (x0, y0), (x1, y1)), line(Ink.MARK, (x0, y1), (x1, y0))]
    else:
        items += [Stroke(part, Ink.HATCH) for part in _hatched(shape)]
    at = shape.representative_point()
    if lack.kind is SpotKind.MISSING and y1 + 4.0 < view.at(0, drawn.bounds[3])[1]:
        # Over it, where the hatching does not strike it through.
        items.append(Words(at.x, y1 + 1.2, lack.kind.value, 2.6, Anchor.MIDDLE))
    elif text_width(lack.kind.value, 2.6) < x1 - x0:
        items.append(Words(at.x, at.y - 0.9, lack.kind.value, 2.6, Anchor.MIDDLE))
    else:
        items.append(Words(x1 + 1.0, at.y - 0.9, lack.kind.value, 2.6))
    return items


def _hatched(shape: Polygon) -> list[FloatArray]:
    """Slanted lines through a convex shape, on paper."""
    x0, y0, x1, y1 = shape.bounds
    high = y1 - y0
    found = []
    for x in np.arange(x0 - high + HATCH_STEP / 2, x1, HATCH_STEP):
        cut = LineString([(x, y0), (x + high, y1)]).intersection(shape)
        if isinstance(cut, LineString) and cut.length > 0:
            found.append(as_points(np.array(cut.coords)))
    return found


def _zone_lines(zone: Zone, layout: Layout, view: _View) -> list[Stroke | Words]:
    s = layout.cloth.selvedge_mm
    items: list[Stroke | Words] = []
    outer = _outer(zone, layout)
    doubled = any("y1" in z.fold_edges for z in layout.zones) and zone.plies > 1
    for side, y, out in (("y0", zone.y0, -1.0), ("y1", zone.y1, 1.0)):
        if side in zone.fold_edges:
            items += _fold_lines(view.at(zone.x0, y), view.at(zone.x1, y), out)
        elif (side == "y1" and y == outer and not doubled) or (side == "y0" and y == 0):
            items += [
                line(Ink.RULER, view.at(zone.x0, y), view.at(zone.x1, y), title="usable width"),
                line(
                    Ink.SELVEDGE,
                    view.at(zone.x0, y + out * s),
                    view.at(zone.x1, y + out * s),
                    title="selvedge",
                ),
            ]
        else:
            items.append(
                line(Ink.ZONE, view.at(zone.x0, y), view.at(zone.x1, y), title=f"zone {zone.id}")
            )
    if "x0" in zone.fold_edges:
        items += _fold_lines(view.at(zone.x0, zone.y1), view.at(zone.x0, zone.y0), -1.0)
    if zone.x0 > 0:
        items.append(
            line(Ink.ZONE, view.at(zone.x0, zone.y0), view.at(zone.x0, zone.y1), title=zone.id)
        )
    plies = f"{zone.plies} plies" if zone.plies > 1 else "1 ply"
    if zone.x1 == layout_end(layout):
        x, y = view.at(zone.x1 + layout.cloth.end_allowance_mm, (zone.y0 + zone.y1) / 2)
        items.append(Words(x + 1.5, y, plies, 2.4))
    else:
        x, y = view.at(zone.x0, zone.y1 if doubled else outer + s)
        items.append(Words(x, y + (3.2 if "y1" in zone.fold_edges else 1.5), plies, 2.4))
    return items


def _fold_lines(a: tuple[float, float], b: tuple[float, float], out: float) -> list[Stroke | Words]:
    """The fold, with a hatch outside it: there is no cloth edge there, the cloth goes on."""
    p, q = np.array(a), np.array(b)
    length = float(np.hypot(*(q - p)))
    if length == 0:
        return []
    along = (q - p) / length
    side = np.array([-along[1], along[0]]) * out
    items: list[Stroke | Words] = [Stroke(as_points(np.array([p, q])), Ink.FOLD, title="fold")]
    for t in np.arange(0.0, length, 3.0):
        foot = p + along * t
        items.append(Stroke(as_points(np.array([foot, foot + 2.0 * (side + along)])), Ink.HATCH))
    x, y = _pair(p + along * min(16.0, length / 2) + side * 4.0)
    items.append(Words(x, y - (2.0 if side[1] < 0 else 0.0), "fold", 2.6))
    return items


def _ruler_along(layout: Layout, view: _View, system: str) -> Block:
    """Along the lower edge, from the squared end."""
    (_, x1), (y0, _) = _along(layout), _across(layout)
    items: list[Stroke | Words] = []
    base = view.at(0, y0)[1] - 8.0
    items.append(line(Ink.RULER, (view.at(0, 0)[0], base), (view.at(x1, 0)[0], base)))
    for mm, text in _ticks(x1, view.k, system):
        x = view.at(mm, 0)[0]
        items.append(line(Ink.RULER, (x, base), (x, base - (2.0 if text else 1.0))))
        if text:
            items.append(Words(x, base - 4.8, text, 2.4, Anchor.MIDDLE))
    return Block("ruler along the selvedge", tuple(items), "from the squared end")


def _ruler_across(layout: Layout, view: _View, system: str) -> Block:
    """Across, from the real lower edge: selvedge or fold."""
    (x0, _), (low, high) = _along(layout), _across(layout)
    base = view.at(x0, 0)[0] - 3.0
    items: list[Stroke | Words] = [
        line(Ink.RULER, (base, view.at(0, low)[1]), (base, view.at(0, high)[1]))
    ]
    for mm, text in _ticks(high - low, view.k, system):
        y = view.at(0, low + mm)[1]
        items.append(line(Ink.RULER, (base, y), (base - (2.0 if text else 1.0), y)))
        if text:
            items.append(Words(base - 2.6, y - 0.8, text, 2.4, Anchor.END))
    lower = "the fold" if _has_lower_fold(layout) and low == 0 else "the selvedge"
    return Block("ruler across", tuple(items), f"from {lower}")


def _ticks(length: float, k: float, system: str) -> list[tuple[float, str]]:
    """(mm, text or "") of ruler ticks, a numbered one at least 8 mm from the next on paper."""
    unit, name, steps = (25.4, "in", (1, 2, 6, 12, 36)) if system == "imperial" else (
        10.0, "cm", (1, 2, 5, 10, 20, 50, 100)
    )  # fmt: skip
    big = next((s for s in steps if s * unit * k >= 8.0), steps[-1])
    small = max((s for s in steps if big % s == 0 and s < big and s * unit * k >= 1.5), default=big)
    ticks = []
    for i in range(int(length / (small * unit) + 1e-9) + 1):
        numbered = (i * small) % big == 0
        text = f"{i * small}" + (f" {name}" if i == 0 else "")
        ticks.append((i * small * unit, text if numbered else ""))
    return ticks


def _piece_block(number: int, p: Placed, layout: Layout, view: _View, system: str) -> Block:
    d = distances(p, layout)
    where = [f"{_said(d.near, system)} from {d.start}"]
    where += [] if d.fold is None else [f"{_said(d.fold, system)} from the fold"]
    where.append(f"{_said(d.selvedge, system)} from the selvedge")
    letter = hand_letter(p)
    title = f"{number} {p.piece}, copy {p.copy}, {HAND_TEXT[letter]}; {', '.join(where)}"
    items: list[Stroke | Words] = [
        Stroke(view.points(p.cut_line), Ink.CUT, closed=True, label="cut", title=title),
        Stroke(view.points(p.net_line), Ink.NET, closed=True, title="net line"),
    ]
    snips = (notch_stroke(n, p.cut_line) for n in p.notches)
    items += [replace(s, points=view.points(s.points)) for s in snips]
    grain = view.points(p.grain)
    size = min(3.0, 0.2 * float(np.hypot(*(grain[1] - grain[0]))))
    one_way = p.grain_rule is GrainRule.ONE_WAY
    items += arrow(grain[0], grain[1], size=size, both=not one_way)
    items += _name_in(number, p, letter, view)
    return Block(f"{number} {p.piece} {letter}", tuple(items), title)


def _name_in(number: int, p: Placed, letter: str, view: _View) -> list[Words]:
    """Number, name and hand where there is room for them, the number and hand alone where not."""
    outline = Polygon(view.points(p.cut_line)).buffer(-0.4)
    grain = LineString(view.points(p.grain))
    larger = max(1.0, 6.0 * view.k)
    full, short = f"{number} {p.piece} {letter}", f"{number}{letter}"
    for text, sizes in ((full, (3.2, 2.8, 2.4, 2.1, SMALLEST_TEXT)), (short, (2.6, 2.0, 1.6))):
        for room in (outline.difference(grain.buffer(0.7)), outline):
            for size in (larger * s for s in sizes):
                for turn in (0.0, 90.0):
                    spot = _spot(room, text_width(text, size), size, turn)
                    if spot is not None:
                        return [_centred(*spot, text, size, turn)]
    point = Polygon(view.points(p.cut_line)).buffer(0).representative_point()
    return [_centred(point.x, point.y, short, 1.4, 0.0)]


def _centred(x: float, y: float, text: str, size: float, turn: float) -> Words:
    shift = 0.35 * size
    dx, dy = (shift, 0.0) if turn else (0.0, -shift)
    return Words(x + dx, y + dy, text, size, Anchor.MIDDLE, turn, bold=True)


def _spot(room: BaseGeometry, w: float, h: float, turn: float) -> tuple[float, float] | None:
    """Where a text of w x h mm lies inside ``room``, as near to its middle as a grid of places has it."""
    if room.is_empty:
        return None
    half_x, half_y = (h, w) if turn else (w, h)
    half_x, half_y = half_x / 2, half_y / 2
    x0, y0, x1, y1 = room.bounds
    if x1 - x0 < 2 * half_x or y1 - y0 < 2 * half_y:
        return None
    middle = room.centroid
    places = [
        (x, y)
        for x in np.linspace(x0 + half_x, x1 - half_x, 15)
        for y in np.linspace(y0 + half_y, y1 - half_y, 15)
    ]
    places.sort(key=lambda q: float(np.hypot(q[0] - middle.x, q[1] - middle.y)))
    xs, ys = np.array(places).T
    boxes = shapely.box(xs - half_x, ys - half_y, xs + half_x, ys + half_y)
    shapely.prepare(room)
    inside = np.flatnonzero(shapely.contains(room, boxes))
    return (float(xs[inside[0]]), float(ys[inside[0]])) if len(inside) else None


_HEADINGS = (
    "",
    "piece",
    "hand",
    "copy",
    "turn",
    "from squared end",
    "from fold",
    "from selvedge",
)
_AT = (0.0, 9.0, 65.0, 77.0, 95.0, 115.0, 205.0, 230.0)
_AT_END = 255.0


def _columns(layout: Layout, system: str) -> list[tuple[str, ...]]:
    total: dict[tuple[str, str], int] = {}
    for p in layout.placed:
        key = (p.piece, hand_letter(p))
        total[key] = total.get(key, 0) + 1
    seen: dict[tuple[str, str], int] = {}
    rows: list[tuple[str, ...]] = []
    for i, p in enumerate(layout.placed):
        key = (p.piece, hand_letter(p))
        seen[key] = seen.get(key, 0) + 1
        d = distances(p, layout)
        rows.append(
            (
                f"{i + 1}",
                p.piece,
                key[1],
                f"{seen[key]} of {total[key]}",
                f"{p.turn_deg:g}°{' over' if p.turned_over else ''}",
                f"{_said(d.near, system)} to {_said(d.far, system)}"
                + ("" if d.start == SQUARED_END else f" from {d.start}"),
                "" if d.fold is None else _said(d.fold, system),
                _said(d.selvedge, system),
            )
        )
    return rows


def _notes(layout: Layout) -> list[str]:
    used = sorted({hand_letter(p) for p in layout.placed}, key="PDTF".index)
    key = "; ".join(f"{letter} {HAND_TEXT[letter]}" for letter in used)
    steps = [f"{i + 1}. {step}" for i, step in enumerate(layout.steps_text)]
    return [f"Cut on the solid line; dashes are the net line. {key}", *steps]


def _table_block(
    rows: Sequence[tuple[str, ...]], notes: Sequence[str], y: float, width: float
) -> Block:
    fit = min((width - 2 * MARGIN) / _AT_END, 1.0)
    at = [MARGIN + x * fit for x in _AT]
    ends = [*at[1:], MARGIN + _AT_END * fit]
    size = 2.8 * max(fit, 0.75)
    items: list[Stroke | Words] = []
    for i, row in enumerate([_HEADINGS, *rows]):
        line_y = y - ROW * i - (1.0 if i else 0.0)
        for text, x, end in zip(row, at, ends, strict=True):
            fitted = _fitted(text, end - x - 1.0, size)
            items.append(Words(x, line_y, fitted, size, bold=i == 0))
    items.append(line(Ink.RULER, (MARGIN, y - 1.4), (width - MARGIN, y - 1.4)))
    last = y - ROW * (len(rows) + 2)
    items += [Words(MARGIN, last - ROW * i, note, size) for i, note in enumerate(notes)]
    return Block("list of pieces", tuple(items))


def _fitted(text: str, room: float, size: float) -> str:
    most = max(int(room / text_width("x", size)), 3)
    return text if len(text) <= most else text[: most - 1] + "…"


def _said(mm: float, system: str) -> str:
    return show_length(mm if abs(mm) >= 0.05 else 0.0, system=system)


def _pair(p: FloatArray) -> tuple[float, float]:
    return float(p[0]), float(p[1])
