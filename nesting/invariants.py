"""Slow and certain proof that a layout is legal, by shapely alone. Shares no code with the engine.

What is proved: every piece is congruent to its cut piece, turned over exactly when it says so and
turned by exactly what it says; its turn is permitted by grain rule and nap; it lies inside its zone
and, with every ply traced back to the opened cloth as the tape measured it, clear of flaws and of what is
missing; no two pieces overlap; fold pieces lie on a fold; every asked hand is laid
exactly once (or reported as not laid); zones lie on the cloth and in order; the length covers all.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Mapping

import numpy as np
from shapely import LineString, Polygon, STRtree, box, get_coordinates
from shapely.affinity import affine_transform

from nesting.allowances.cut_piece import CutPiece
from nesting.cloth import Cloth
from nesting.errors import InvariantError
from nesting.layout import Layout, Placed, Zone
from nesting.pieces.piece import NAP_TURNS_DEG, TURNS_DEG, Hand
from nesting.polygon import FloatArray
from nesting.tolerance import CONTACT_MM, OVERLAP_MM

SAME_MM = 0.01
"""A laid outline may differ from its cut piece by less than this: rounding only."""


def prove(layout: Layout, halves: Mapping[str, CutPiece], wholes: Mapping[str, CutPiece]) -> None:
    """Raise InvariantError with every violation of ``layout``.

    ``halves`` are the cut pieces as cut (half outlines of pieces on the fold), ``wholes`` the same
    unfolded; both by piece name.
    """
    violations = list(violations_of(layout, halves, wholes))
    if violations:
        raise InvariantError("; ".join(violations[:5]), hint="Please report this layout.")


def violations_of(
    layout: Layout, halves: Mapping[str, CutPiece], wholes: Mapping[str, CutPiece]
) -> Iterable[str]:
    """Every way in which the layout is not legal, in words that name the piece."""
    for placed in layout.placed:
        cut = (halves if placed.on_fold else wholes)[placed.piece]
        yield from _shape(placed, cut)
        yield from _turn(placed, layout)
        yield from _place(placed, layout)
        yield from _hands(placed, wholes[placed.piece])
    yield from _overlaps(layout)
    yield from _counts(layout)
    yield from _zones(layout)


def _shape(placed: Placed, cut: CutPiece) -> Iterable[str]:
    """The laid outline is the cut piece, moved rigidly as hand, turn and grain say."""
    grain = _piece_grain(cut)
    along = math.atan2(*(grain[1] - grain[0])[::-1])
    angle = math.radians(placed.turn_deg)
    flip = -1.0 if placed.turned_over else 1.0
    to_x = _turned(cut.cut_line, -along) * (1.0, flip)
    shape = _turned(to_x, angle)
    tail = _turned(_turned(grain[:1], -along) * (1.0, flip), angle)
    expected = Polygon(shape + (placed.grain[0] - tail[0]))
    if expected.hausdorff_distance(Polygon(placed.cut_line)) > SAME_MM:
        yield f"{_said(placed)} is not its cut piece turned by {placed.turn_deg:g} degrees"
    lean = math.degrees(math.atan2(*(placed.grain[1] - placed.grain[0])[::-1])) - placed.turn_deg
    if abs((lean + 180) % 360 - 180) > 1e-4:
        yield f"{_said(placed)} leans {lean:.4f} degrees off its grain"


def _turn(placed: Placed, layout: Layout) -> Iterable[str]:
    turns = (NAP_TURNS_DEG if layout.cloth.one_way else TURNS_DEG)[placed.grain_rule]
    if placed.turn_deg % 360 not in turns:
        yield f"{_said(placed)} is turned {placed.turn_deg:g} degrees, which is not permitted"


def _place(placed: Placed, layout: Layout) -> Iterable[str]:
    shape = Polygon(placed.cut_line)
    zones = [z for z in layout.zones if z.id == placed.zone]
    if len(zones) != 1:
        yield f"{_said(placed)} lies in no zone"
        return
    zone = zones[0]
    e = CONTACT_MM
    if not box(zone.x0 - e, zone.y0 - e, zone.x1 + e, zone.y1 + e).covers(shape):
        yield f"{_said(placed)} sticks out of its zone"
    if zone.plies != placed.plies:
        yield f"{_said(placed)} says {placed.plies} plies, its zone has {zone.plies}"
    if placed.on_fold and not any(_on(side, zone, placed) for side in zone.fold_edges):
        yield f"{_said(placed)} does not lie on the fold"
    for flaw in layout.cloth.flaws:
        if shape.buffer(-OVERLAP_MM / 2).intersects(Polygon(flaw.outline)):
            yield f"{_said(placed)} lies over a flaw {flaw.name}"
    for ply in _opened(shape, zone, layout.cloth):
        yield from _on_cloth(ply, placed, layout.cloth)


def _opened(shape: Polygon, zone: Zone, cloth: Cloth) -> Iterable[Polygon]:
    """The piece in each ply where the cloth lies opened out: along from the raw end, across from the
    near selvedge's outer edge, after the wash."""
    usable = cloth.usable_width_mm
    if zone.plies == 1:
        folds: list[tuple[float, float]] = [(1.0, zone.y0)]
    elif "y1" in zone.fold_edges:
        folds = [(1.0, usable / 4), (-1.0, 5 * usable / 4)]
    elif "x0" in zone.fold_edges:
        folds = []  # Refused wherever something is missing.
    else:
        folds = [(1.0, zone.y1), (-1.0, zone.y1)]
    for sign, shift in folds:
        moved = [sign * 1.0, shift + cloth.selvedge_mm]
        yield affine_transform(shape, [1, 0, 0, moved[0], cloth.end_allowance_mm, moved[1]])


def _on_cloth(ply: Polygon, placed: Placed, cloth: Cloth) -> Iterable[str]:
    """Clear of every spot that the tape found, and on the near side of a slanted end."""
    inner = ply.buffer(-OVERLAP_MM / 2)
    along, across = 1 - cloth.shrink_along, 1 - cloth.shrink_across
    for spot in cloth.spots:
        far = cloth.full_width_mm if spot.across_to_mm is None else spot.across_to_mm
        there = box(
            spot.along_from_mm * along,
            spot.across_from_mm * across,
            spot.along_to_mm * along,
            far * across,
        )
        margin = max(spot.margin_mm - OVERLAP_MM, 0.0)
        near = there if margin == 0.0 else there.buffer(margin, join_style="mitre")
        if inner.intersects(near):
            yield f"{_said(placed)} lies over a {spot.kind.value} {spot.name}".rstrip()
    if cloth.available_mm is not None and cloth.far_length_mm is not None:
        # Squared off at both ends, the cloth ends on a straight line from selvedge to selvedge.
        end = cloth.end_allowance_mm
        near_x, far_x = (v * along - end for v in (cloth.available_mm, cloth.far_length_mm))
        width = cloth.usable_width_mm + 2 * cloth.selvedge_mm
        beyond = [
            x - (near_x + (far_x - near_x) * y / width)
            for x, y in get_coordinates(inner)
            if x < max(near_x, far_x)
        ]
        if any(by > CONTACT_MM for by in beyond):
            yield f"{_said(placed)} sticks out over the slanted end"


def _on(side: str, zone: object, placed: Placed) -> bool:
    """Whether the laid piece has an edge of length on that side of its zone."""
    at = float(getattr(zone, side))
    axis = 0 if side.startswith("x") else 1
    line = placed.cut_line
    ends = np.stack([line, np.roll(line, -1, axis=0)])
    near = np.abs(ends[:, :, axis] - at) <= CONTACT_MM
    lengths = np.hypot(*(ends[1] - ends[0]).T)
    return bool((lengths * near.all(axis=0)).sum() > 1.0)


def _hands(placed: Placed, whole: CutPiece) -> Iterable[str]:
    hands = Counter(placed.hands)
    if placed.on_fold:
        right = placed.plies == 2 and hands == {Hand.DRAWN: 1}
    elif placed.plies == 1:
        right = hands == {Hand.TURNED if placed.turned_over else Hand.DRAWN: 1}
    else:
        alike = hands == {Hand.DRAWN: 2} and _mirror_alike(whole)
        right = hands == {Hand.DRAWN: 1, Hand.TURNED: 1} or alike
    if not right:
        yield f"{_said(placed)} cannot yield {', '.join(h.value for h in placed.hands)}"


def _mirror_alike(cut: CutPiece) -> bool:
    """Whether the piece is its own mirror image about an axis along or across its grain."""
    grain = _piece_grain(cut)
    along = math.atan2(*(grain[1] - grain[0])[::-1])
    line = _turned(cut.cut_line, -along)
    shape = Polygon(line - (line.min(axis=0) + line.max(axis=0)) / 2)
    flips = ((1.0, -1.0), (-1.0, 1.0))
    shapes = [Polygon(np.array(shape.exterior.coords) * f) for f in flips]
    shapes += [Polygon(_turned(np.array(s.exterior.coords), math.pi / 2)) for s in shapes]
    return any(shape.hausdorff_distance(s) <= 0.1 for s in shapes)


def _overlaps(layout: Layout) -> Iterable[str]:
    shapes = [Polygon(p.cut_line).buffer(-OVERLAP_MM / 2) for p in layout.placed]
    if not shapes:
        return
    tree = STRtree(shapes)
    for i, j in tree.query(shapes, predicate="intersects").T:
        if i < j and not shapes[i].intersection(shapes[j]).is_empty:
            yield f"{_said(layout.placed[i])} overlaps {_said(layout.placed[j])}"


def _counts(layout: Layout) -> Iterable[str]:
    laid: Counter[tuple[str, Hand]] = Counter()
    for placed in layout.placed:
        laid.update((placed.piece, hand) for hand in placed.hands)
    for group in layout.not_laid:
        laid[group.piece, Hand.DRAWN] += group.drawn
        laid[group.piece, Hand.TURNED] += group.turned
    for want in layout.asked:
        for hand, count in ((Hand.DRAWN, want.drawn), (Hand.TURNED, want.turned)):
            if laid.pop((want.piece, hand), 0) != count:
                yield f"{want.piece} ({hand.value}) is not laid exactly {count} times"
    for (name, hand), count in laid.items():
        if count:
            yield f"{name} ({hand.value}) is laid {count} times but was not asked for"


def _zones(layout: Layout) -> Iterable[str]:
    usable = layout.cloth.usable_width_mm
    for zone in layout.zones:
        if zone.x0 < -CONTACT_MM or zone.x1 < zone.x0 or zone.y0 < -CONTACT_MM:
            yield f"zone {zone.id} lies off the cloth"
        if zone.y1 > usable + CONTACT_MM or (
            zone.plies == 2 and "x0" not in zone.fold_edges and zone.y1 > usable / 2 + CONTACT_MM
        ):
            yield f"zone {zone.id} is wider than the cloth"
    shapes = [box(z.x0, z.y0, z.x1, z.y1) for z in layout.zones if z.x1 > z.x0]
    for i, one in enumerate(shapes):
        if any(one.intersection(other).area > CONTACT_MM for other in shapes[:i]):
            yield "zones overlap"
    extent = max((float(p.cut_line[:, 0].max()) for p in layout.placed), default=0.0)
    if extent > layout.length_mm + CONTACT_MM:
        yield f"the pieces reach {extent:.1f} mm, beyond the length of {layout.length_mm:.1f} mm"


def _piece_grain(cut: CutPiece) -> FloatArray:
    if cut.piece.grain is not None:
        return np.array([cut.piece.grain.tail, cut.piece.grain.head], dtype=float)
    x0, y0, x1, y1 = LineString(cut.net_line).bounds
    x, y, h = (x0 + x1) / 2, (y0 + y1) / 2, (y1 - y0) / 4
    return np.array([(x, y - h), (x, y + h)])


def _turned(points: FloatArray, angle: float) -> FloatArray:
    c, s = math.cos(angle), math.sin(angle)
    return np.asarray(points @ np.array([[c, s], [-s, c]]), dtype=float)


def _said(placed: Placed) -> str:
    return f"{placed.piece} no. {placed.copy}"
