"""A layout brought to the table: windows of the cloth, where each lies in the light, what it shows.

Pure: a cloth's result (the JSON form kept by the store) and a table map in, a Projection out. The
page draws: canvas px = projector from table, after ``table_from_cloth`` of the window, of cloth mm.
A piece that a window's edge cuts through is named there as a part, and finished in a later window.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from collections.abc import Set as AbstractSet
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

import numpy as np
import shapely

from calibration.homography import Array
from calibration.table_map import TableMap
from service.errors import RefusedError

STRIP_MM = 54.0
"""Depth of the strip at the near edge that holds the words: two lines of 15 mm capitals."""

GAP_MM = 18.0
"""Bare table between the strip and the cloth: the hatch of a fold edge is lit there."""

MARGIN_PX = 10.0
"""The room for cloth stays this far inside the canvas: focus and overscan are worst at the rim."""

OVERLAP_MM = 120.0
"""Length that neighbouring windows share, for the crosses that are chalked and found again."""

CROSS_MM = 30.0
"""Registration crosses keep this far from the ends of the overlap and the edges of the cloth."""

CLEAR_MM = 5.0
"""A piece counts as wholly shown when it keeps this far from the window's edges."""

LEAST_MM = 250.0
"""Smallest room worth cutting in, along or across."""

LEVELS = 120
"""How many heights are tried for the largest room inside the lit outline."""

Point = tuple[float, float]
Box = tuple[float, float, float, float]


@dataclass(frozen=True, slots=True)
class Edge:
    """A line to lay the cloth along, cloth mm, and what lies there, in words."""

    line: tuple[Point, Point]
    said: str


@dataclass(frozen=True, slots=True)
class Lack:
    """A flaw, or where cloth is missing: ``kind`` says which."""

    kind: str
    outline: tuple[Point, ...]


@dataclass(frozen=True, slots=True)
class Spread:
    """Cloth lying one way: zones side by side. ``outline`` is the physical cloth, with selvedges and
    ends. Folded and opened stretches of one lay are spreads of their own, cut one after the other.

    ``lay_text`` says how the cloth is laid, ``edges`` are lines of it besides folds and selvedges.
    ``across_mm`` is where the cloth is cut straight across before the next spread is opened out, None
    in the last one. ``lacks`` is what of the cloth no piece may touch.
    """

    id: str
    box: Box
    outline: tuple[Point, ...]
    plies_text: str
    fold_lines: tuple[tuple[Point, Point], ...]
    selvedges: tuple[tuple[Point, Point], ...]
    squared_end: tuple[Point, Point] | None
    lay_text: str
    edges: tuple[Edge, ...]
    across_mm: float | None
    lacks: tuple[Lack, ...] = ()


@dataclass(frozen=True, slots=True)
class Part:
    """A piece that goes on beyond this window's ``sides`` (``x0``, ``x1``, ``y0``, ``y1``)."""

    key: str
    sides: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Window:
    """A stretch of cloth in the light. ``box`` (x0, y0, x1, y1) is in cloth mm, ``table_from_cloth``
    (3, 3) lays it on the table. ``first`` are the pieces to be cut here, in cutting order: each
    piece is in exactly one window's ``first``. ``crosses`` are shared with the next window."""

    index: int
    spread: str
    box: Box
    table_from_cloth: tuple[tuple[float, float, float], ...]
    whole: tuple[str, ...]
    part: tuple[Part, ...]
    first: tuple[str, ...]
    crosses: tuple[Point, ...]


@dataclass(frozen=True, slots=True)
class Shown:
    """A piece to be cut. Lines are in cloth mm; ``fold_line`` is the edge that lies on the fold."""

    key: str
    label: str
    piece: str
    copy: int
    hand_text: str
    plies: int
    spread: str
    box: Box
    fold_line: tuple[Point, Point] | None
    label_at: Point
    label_room_mm: float
    placement: Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class Projection:
    """Everything the table page draws. ``room`` is the rectangle of table mm that the windows fill,
    ``strip`` the one beside it for words; ``order`` is the cutting order through all windows."""

    room: Box
    strip: Box
    spreads: tuple[Spread, ...]
    windows: tuple[Window, ...]
    pieces: tuple[Shown, ...]
    order: tuple[str, ...]


def project(cloth: Mapping[str, Any], table_map: TableMap) -> Projection:
    """The projection of one cloth's result through a table map.

    ``cloth`` is the result in its wire form (zones, placements, selvedge_mm, end_allowance_mm).
    Raises RefusedError when the lit room is too small to cut in. Cutting order within a window: the
    largest pieces first, for they are hardest to re-lay and most cloth is left when they fail.
    """
    lit = largest_box(table_map)
    room: Box = (lit[0], lit[1] + STRIP_MM + GAP_MM, lit[2], lit[3])
    if room[2] - room[0] < LEAST_MM or room[3] - room[1] < LEAST_MM:
        raise RefusedError(
            f"The light covers {lit[2] - lit[0]:.0f} x {lit[3] - lit[1]:.0f} mm of the table as a "
            f"rectangle; {LEAST_MM:.0f} x {LEAST_MM + STRIP_MM + GAP_MM:.0f} mm is the least to cut by.",
            code="room_too_small",
            hint="Raise the projector or point it squarer at the table, then calibrate again.",
        )
    spreads = _spreads(cloth)
    pieces = tuple(_shown(p, spreads, cloth["zones"]) for p in cloth["placements"])
    windows: list[Window] = []
    for spread in spreads:
        mine = [p for p in pieces if p.spread == spread.id]
        windows += _windows(spread, mine, room, len(windows))
    order = tuple(key for w in windows for key in w.first)
    strip: Box = (lit[0], lit[1], lit[2], lit[1] + STRIP_MM)
    return Projection(room, strip, spreads, tuple(windows), pieces, order)


def largest_box(table_map: TableMap) -> Box:
    """Largest rectangle (x0, y0, x1, y1) square to the table's axes in the lit, trusted part, mm."""
    lit = shapely.Polygon(table_map.lit_outline(margin_px=MARGIN_PX, per_side=64))
    part: list[shapely.Geometry] = [lit]
    if table_map.trusted_mm is not None:
        trusted = lit.intersection(shapely.Polygon(table_map.trusted_mm))
        part = list(getattr(trusted, "geoms", [trusted]))
    outline = max(
        (p for p in part if isinstance(p, shapely.Polygon)), key=lambda p: p.area, default=None
    )
    if outline is None or outline.is_empty:
        return (0.0, 0.0, 0.0, 0.0)
    y = np.linspace(outline.bounds[1], outline.bounds[3], LEVELS)
    left, right = _sides(outline, y)
    best: tuple[float, Box] = (0.0, (0.0, 0.0, 0.0, 0.0))
    for i in range(LEVELS - 1):
        # Between heights i and j the room reaches from the innermost left to the innermost right.
        x0 = np.maximum.accumulate(left[i:])[1:]
        x1 = np.minimum.accumulate(right[i:])[1:]
        area = np.maximum(x1 - x0, 0) * (y[i + 1 :] - y[i])
        j = int(np.argmax(area))
        if area[j] > best[0]:
            best = (float(area[j]), (float(x0[j]), float(y[i]), float(x1[j]), float(y[i + 1 + j])))
    return best[1]


def _sides(outline: shapely.Polygon, y: Array) -> tuple[Array, Array]:
    """Left and right reach of an outline at heights ``y``; outside it, an empty reach."""
    x0, _, x1, _ = outline.bounds
    left, right = np.full(len(y), np.inf), np.full(len(y), -np.inf)
    for i, height in enumerate(y):
        cut = outline.intersection(shapely.LineString([(x0 - 1, height), (x1 + 1, height)]))
        if not cut.is_empty:
            left[i], _, right[i], _ = cut.bounds
    return left, right


def _spreads(cloth: Mapping[str, Any]) -> tuple[Spread, ...]:
    """Zones grouped into cloth that lies one way: zones side by side share a stretch of x."""
    zones = sorted(cloth["zones"], key=lambda z: (z["x0"], z["y0"]))
    groups: list[list[Mapping[str, Any]]] = []
    for zone in zones:
        if groups and zone["x0"] < max(z["x1"] for z in groups[-1]) - 1e-6:
            groups[-1].append(zone)
        else:
            groups.append([zone])
    # Opened stretches come after folded ones: the cloth is opened out once, not back and forth.
    return tuple(
        _spread(f"s{i + 1}", group, cloth, first=i == 0, last=i == len(groups) - 1)
        for i, group in enumerate(groups)
    )


def _spread(
    name: str,
    zones: Sequence[Mapping[str, Any]],
    cloth: Mapping[str, Any],
    *,
    first: bool,
    last: bool,
) -> Spread:
    selvedge, end = float(cloth["selvedge_mm"]), float(cloth["end_allowance_mm"])
    x0, x1 = min(z["x0"] for z in zones), max(z["x1"] for z in zones)
    low = min(zones, key=lambda z: float(z["y0"]))
    high = max(zones, key=lambda z: float(z["y1"]))
    fold_low, fold_high = "y0" in low["fold_edges"], "y1" in high["fold_edges"]
    y0 = float(low["y0"]) - (0 if fold_low else selvedge)
    y1 = float(high["y1"]) + (0 if fold_high else selvedge)
    fold_end = any("x0" in z["fold_edges"] for z in zones)
    left = float(x0) - (end if first and not fold_end else 0)
    # The upper ply of a crosswise fold ends at the right, with the squared end of the cloth.
    right = float(x1) + (end if last or fold_end else 0)
    folds = [((left, y), (right, y)) for y, f in ((y0, fold_low), (y1, fold_high)) if f]
    # The fold's side of the cloth is its inside: the line runs so that cloth is on its left.
    folds = [(a, b) if a[1] == y0 else (b, a) for a, b in folds]
    if fold_end:
        folds.append(((left, y1), (left, y0)))
    selvedges = [((left, y), (right, y)) for y, f in ((y0, fold_low), (y1, fold_high)) if not f]
    return Spread(
        id=name,
        box=(left, y0, right, y1),
        outline=((left, y0), (right, y0), (right, y1), (left, y1)),
        plies_text=_plies_text([int(z["plies"]) for z in zones]),
        fold_lines=tuple(folds),
        selvedges=tuple(selvedges),
        squared_end=((left, y0), (left, y1)) if first and not fold_end else None,
        lay_text=_lay_text(zones, first=first, last=last),
        edges=tuple(_edges(zones, (left, y0, right, y1), first=first)),
        across_mm=None if last else float(x1),
        lacks=tuple(_lacks(cloth, {z["id"] for z in zones}, shapely.box(left, y0, right, y1))),
    )


def _lay_text(zones: Sequence[Mapping[str, Any]], *, first: bool, last: bool) -> str:
    """How the cloth is laid, from the fold edges of its zones."""
    folds = {edge for z in zones for edge in z["fold_edges"]}
    if not folds:
        if first:
            return "Spread the cloth in one ply, right side up."
        return "Open the rest out in one ply, right side up, its cut end on the lit line."
    if "x0" in folds:
        end = "both ends together" if last else "the squared end on the lit line"
        return f"Fold the cloth across, right sides together: the fold at the hatched end, {end}."
    if {"y0", "y1"} <= folds:
        return (
            "Fold both selvedges to the middle, right sides together: a fold along each hatched "
            "edge, selvedges meeting at the lit line."
        )
    if len({z["plies"] for z in zones}) > 1:
        depth = max(float(z["y1"]) for z in zones if z["fold_edges"])
        return (
            f"Fold the cloth {depth / 10:.1f} cm deep, right sides together: the fold along the "
            "hatched edge, two plies as far as the lit line."
        )
    return (
        "Fold the cloth lengthwise, right sides together: the fold along the hatched edge, selvedge "
        "on selvedge."
    )


def _edges(zones: Sequence[Mapping[str, Any]], box: Box, *, first: bool) -> Iterator[Edge]:
    """Where zones side by side meet, and the ends that are not the cloth's own squared one."""
    x0, y0, x1, y1 = box
    across = sorted(zones, key=lambda z: float(z["y0"]))
    for low, high in pairwise(across):
        level = float(low["y1"])
        same = low["plies"] == high["plies"]
        said = "selvedges meet here" if same else "one ply beyond this line"
        yield Edge(((x0, level), (x1, level)), said)
    if any("x0" in z["fold_edges"] for z in zones):
        yield Edge(((x1, y0), (x1, y1)), "squared end here")
    elif not first:
        yield Edge(((x0, y0), (x0, y1)), "cut end here")


def _lacks(
    cloth: Mapping[str, Any], zones: AbstractSet[str], cloth_box: shapely.Polygon
) -> Iterator[Lack]:
    """What the cloth lacks where a spread lies; what lies beyond the layout's end is not lit."""
    for lack in cloth.get("lacks", ()):
        if lack["zone"] in zones:
            seen = shapely.Polygon(lack["outline"]).intersection(cloth_box)
            if isinstance(seen, shapely.Polygon) and seen.area > 1.0:
                ring = tuple((float(x), float(y)) for x, y in seen.exterior.coords[:-1])
                yield Lack(lack["kind"], ring)


def _plies_text(plies: Sequence[int]) -> str:
    kinds = sorted(set(plies))
    if kinds == [1]:
        return "one ply, right side up"
    if kinds == [2]:
        return "two plies, right sides together"
    return "part in one ply, part in two"


def _shown(
    placement: Mapping[str, Any], spreads: Sequence[Spread], zones: Sequence[Mapping[str, Any]]
) -> Shown:
    line = np.asarray(placement["cut_line"], dtype=np.float64)
    polygon = shapely.Polygon(line)
    circle = shapely.maximum_inscribed_circle(polygon, tolerance=2.0)
    (x, y), _ = circle.coords
    zone = next(z for z in zones if z["id"] == placement["zone"])
    spread = next(s for s in spreads if _holds(s, zone))
    piece, copy = str(placement["piece"]), int(placement["copy"])
    box = polygon.bounds
    return Shown(
        key=f"{piece}#{copy}",
        label=piece,
        piece=piece,
        copy=copy,
        hand_text=_hand_text(placement),
        plies=int(placement["plies"]),
        spread=spread.id,
        box=(float(box[0]), float(box[1]), float(box[2]), float(box[3])),
        fold_line=_fold_line(placement, line, zone),
        label_at=(float(x), float(y)),
        label_room_mm=float(circle.length),
        placement=placement,
    )


def _holds(spread: Spread, zone: Mapping[str, Any]) -> bool:
    middle = (zone["x0"] + zone["x1"]) / 2
    return bool(spread.box[0] <= middle <= spread.box[2])


def _hand_text(placement: Mapping[str, Any]) -> str:
    if placement["on_fold"]:
        return "on the fold"
    hands = list(placement["hands"])
    if sorted(hands) == ["drawn", "turned"]:
        return "pair"
    said = "as drawn" if hands[0] == "drawn" else "turned over"
    return said if len(hands) == 1 else f"two {said}"


def _fold_line(
    placement: Mapping[str, Any], line: Array, zone: Mapping[str, Any]
) -> tuple[Point, Point] | None:
    """Where a piece on the fold touches a fold edge of its zone; cloth on the left of the line."""
    if not placement["on_fold"]:
        return None
    for edge in zone["fold_edges"]:
        axis, level = int(edge[0] == "y"), float(zone[edge])
        on = line[np.abs(line[:, axis] - level) < 0.05]
        if len(on) < 2:
            continue
        a, b = on[np.argmin(on[:, 1 - axis])], on[np.argmax(on[:, 1 - axis])]
        ends = ((float(a[0]), float(a[1])), (float(b[0]), float(b[1])))
        return ends if edge in ("y0", "x1") else (ends[1], ends[0])
    return None


def _windows(spread: Spread, pieces: Sequence[Shown], room: Box, start_index: int) -> list[Window]:
    x0, y0, x1, y1 = spread.box
    length, depth = room[2] - room[0], room[3] - room[1]
    starts = _starts(x0, x1, length, [(p.box[0], p.box[2]) for p in pieces])
    rows = _starts(y0, y1, depth, [(p.box[1], p.box[3]) for p in pieces])
    boxes: list[Box] = []
    for i, x in enumerate(starts):
        # Back and forth across: the cloth is shifted one way at a time.
        there = rows if i % 2 == 0 else rows[::-1]
        boxes += [(x, y, min(x + length, x1), min(y + depth, y1)) for y in there]
    # Cloth that holds no piece need not come into the light at all.
    while len(boxes) > 1 and not any(_touches(p.box, boxes[-1]) for p in pieces):
        boxes.pop()
    whole = [[p for p in pieces if _inside(p.box, box, spread.box)] for box in boxes]
    touched = [[p for p in pieces if _touches(p.box, box)] for box in boxes]
    taken: set[str] = set()
    windows: list[Window] = []
    for i, box in enumerate(boxes):
        later = {p.key for group in whole[i + 1 :] for p in group}
        mine = [
            p for p in touched[i] if p.key not in taken and (p in whole[i] or p.key not in later)
        ]
        mine.sort(key=lambda p: (-_area(p), p.key))
        taken |= {p.key for p in mine}
        windows.append(
            Window(
                index=start_index + i,
                spread=spread.id,
                box=box,
                table_from_cloth=(
                    (1.0, 0.0, room[0] - box[0]),
                    (0.0, 1.0, room[1] - box[1]),
                    (0.0, 0.0, 1.0),
                ),
                whole=tuple(p.key for p in whole[i]),
                part=tuple(_part(p, box, spread.box) for p in touched[i] if p not in whole[i]),
                first=tuple(p.key for p in mine),
                crosses=_crosses(box, boxes[i + 1]) if i + 1 < len(boxes) else (),
            )
        )
    return windows


def _starts(
    low: float, high: float, room: float, spans: Sequence[tuple[float, float]]
) -> list[float]:
    """Where windows of size ``room`` begin so that each span is whole in one, if it can be.

    The next window starts just before the first span not yet shown whole, but always far enough on
    to be worth the move, and never so far that less than the overlap is shared.
    """
    starts = [low]
    done: set[int] = set()
    while starts[-1] + room < high - 1e-6:
        at = starts[-1]
        done |= {
            i
            for i, (a, b) in enumerate(spans)
            if (a >= at + CLEAR_MM or at == low) and b <= at + room - CLEAR_MM
        }
        farthest = at + room - OVERLAP_MM
        waiting = [a - 2 * CLEAR_MM for i, (a, _) in enumerate(spans) if i not in done]
        wanted = min([*waiting, farthest])
        starts.append(wanted if wanted >= at + room / 3 else farthest)
        if starts[-1] + room >= high:
            starts[-1] = max(high - room, at + 1.0)
    return starts


def _inside(box: Box, window: Box, spread: Box) -> bool:
    """Is the piece wholly shown, clear of the edges that more cloth lies beyond?"""
    low = all(
        b >= w + (CLEAR_MM if w > s + 1e-6 else -1e-6)
        for b, w, s in zip(box[:2], window[:2], spread[:2], strict=True)
    )
    high = all(
        b <= w - (CLEAR_MM if w < s - 1e-6 else -1e-6)
        for b, w, s in zip(box[2:], window[2:], spread[2:], strict=True)
    )
    return low and high


def _touches(box: Box, window: Box) -> bool:
    return box[0] < window[2] and box[2] > window[0] and box[1] < window[3] and box[3] > window[1]


def _part(piece: Shown, window: Box, spread: Box) -> Part:
    """The sides at which the piece comes too near to a window's edge that more cloth lies beyond."""
    near = {
        "x0": window[0] > spread[0] + 1e-6 and piece.box[0] < window[0] + CLEAR_MM,
        "x1": window[2] < spread[2] - 1e-6 and piece.box[2] > window[2] - CLEAR_MM,
        "y0": window[1] > spread[1] + 1e-6 and piece.box[1] < window[1] + CLEAR_MM,
        "y1": window[3] < spread[3] - 1e-6 and piece.box[3] > window[3] - CLEAR_MM,
    }
    return Part(piece.key, tuple(side for side, out in near.items() if out))


def _area(piece: Shown) -> float:
    return float(shapely.Polygon(piece.placement["cut_line"]).area)


def _crosses(here: Box, there: Box) -> tuple[Point, ...]:
    """Three places shared by two windows, as far apart as the overlap lets them be."""
    x0, y0 = max(here[0], there[0]) + CROSS_MM, max(here[1], there[1]) + CROSS_MM
    x1, y1 = min(here[2], there[2]) - CROSS_MM, min(here[3], there[3]) - CROSS_MM
    return ((x0, y0), (x1, (y0 + y1) / 2), (x0, y1))
