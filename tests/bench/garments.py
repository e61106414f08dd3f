"""Garment lays of our own for the bench: smooth outlines of 4 to 70 vertices, drafted by formula."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

import numpy as np

from nesting.engine.problem import Domain, Item, Lattice, Pose, Problem, Side
from nesting.polygon import as_points

HALF_TURNS = (Pose(0.0), Pose(180.0))
NAP = (Pose(0.0),)
WIDTH = 1400.0

Points = list[tuple[float, float]]


def curve(
    a: tuple[float, float], bend: tuple[float, float], b: tuple[float, float], n: int
) -> Points:
    """Points of a quadratic curve from ``a`` towards ``bend`` to ``b``, without ``b``."""
    t = np.linspace(0.0, 1.0, n, endpoint=False)[:, None]
    points = (1 - t) ** 2 * np.array(a) + 2 * t * (1 - t) * np.array(bend) + t**2 * np.array(b)
    return [(float(x), float(y)) for x, y in points]


def half_front(k: float = 1.0) -> Points:
    """Half a bodice from the hem (x = 0) to the shoulder, centre line along y = 0."""
    hem, under, tip = (0.0, 270 * k), (410 * k, 260 * k), (600 * k, 205 * k)
    neck, centre = (640 * k, 75 * k), (550 * k, 0.0)
    outline = [
        *curve(centre, (555 * k, 70 * k), neck, 10),
        *curve(neck, (620 * k, 140 * k), tip, 2),
        *curve(tip, (440 * k, 180 * k), under, 14),
        *curve(under, (250 * k, 235 * k), hem, 8),
        *curve(hem, (8 * k, 140 * k), (0.0, 0.0), 6),
    ]
    return _closed([*outline, (0.0, 0.0)])


def whole_back(k: float = 1.0) -> Points:
    """A whole back, mirrored about its centre line."""
    half = [
        *curve((620 * k, 0.0), (618 * k, 60 * k), (640 * k, 80 * k), 6),
        *curve((640 * k, 80 * k), (620 * k, 150 * k), (600 * k, 215 * k), 2),
        *curve((600 * k, 215 * k), (460 * k, 195 * k), (415 * k, 268 * k), 12),
        *curve((415 * k, 268 * k), (250 * k, 240 * k), (0.0, 275 * k), 8),
        (0.0, 275 * k),
    ]
    return _closed(half + [(x, -y) for x, y in reversed(half)][:-1])


def sleeve(k: float = 1.0) -> Points:
    """A set-in sleeve with a smooth cap."""
    t = np.linspace(-1.0, 1.0, 29)
    cap = [(430 * k + 140 * k * (0.5 + 0.5 * math.cos(math.pi * u)), 190 * k * u) for u in t]
    return _closed([(0.0, 125 * k), (0.0, -125 * k), *cap])


def collar(k: float = 1.0) -> Points:
    """A one-piece collar, gently curved."""
    inner = curve((0.0, 0.0), (210 * k, 28 * k), (420 * k, 0.0), 12)
    outer = curve((440 * k, 70 * k), (210 * k, 95 * k), (-20 * k, 70 * k), 12)
    return _closed([*inner, (420 * k, 0.0), *outer, (-20 * k, 70 * k)])


def facing(k: float = 1.0) -> Points:
    """A front facing: a long strip that follows the neck."""
    outer = curve((560 * k, 0.0), (565 * k, 75 * k), (640 * k, 85 * k), 10)
    inner = curve((640 * k, 130 * k), (500 * k, 60 * k), (420 * k, 60 * k), 10)
    return _closed([(0.0, 0.0), *outer, (640 * k, 85 * k), *inner, (0.0, 60 * k)])


def trouser(k: float = 1.0) -> Points:
    """A trouser front with a curved crotch."""
    crotch = curve((690 * k, 0.0), (715 * k, 45 * k), (990 * k, 60 * k), 16)
    side = curve((990 * k, 270 * k), (760 * k, 320 * k), (400 * k, 270 * k), 14)
    return _closed(
        [(0.0, 45 * k), (380 * k, 40 * k), *crotch, (990 * k, 60 * k), *side, (0.0, 250 * k)]
    )


def skirt(k: float = 1.0) -> Points:
    """A flared skirt panel."""
    hem = curve((0.0, 0.0), (-45 * k, 190 * k), (0.0, 380 * k), 14)
    waist = curve((620 * k, 310 * k), (590 * k, 190 * k), (620 * k, 70 * k), 10)
    return _closed([*hem, (0.0, 380 * k), *waist, (620 * k, 70 * k)])


def bar(w: float, h: float) -> Points:
    """A rectangle: cuffs, bands, plackets."""
    return [(0.0, 0.0), (w, 0.0), (w, h), (0.0, h)]


def pair(
    key: str, points: Points, poses: tuple[Pose, ...] = HALF_TURNS, count: int = 1
) -> list[Item]:
    """A piece and its mirror image, as on open cloth."""
    outline = as_points(points)
    other = as_points((outline * (1.0, -1.0))[::-1])
    return [Item(key, outline, poses, count), Item(f"{key}, turned over", other, poses, count)]


def one(key: str, points: Points, count: int = 1, poses: tuple[Pose, ...] = HALF_TURNS) -> Item:
    """A piece cut ``count`` times as drawn."""
    return Item(key, as_points(points), poses, count)


def blouse_items(k: float = 1.0, tag: str = "") -> list[Item]:
    """19 pieces."""
    return [
        *pair(f"front{tag}", half_front(k)),
        one(f"back{tag}", whole_back(k)),
        *pair(f"sleeve{tag}", sleeve(k)),
        one(f"collar{tag}", collar(k), 2),
        *pair(f"facing{tag}", facing(k)),
        one(f"stand{tag}", bar(430 * k, 45.0), 2),
        one(f"cuff{tag}", bar(250 * k, 70.0), 4),
        one(f"placket{tag}", bar(180.0, 50.0), 2),
        one(f"pocket{tag}", bar(130.0, 110.0), 2),
    ]


def blouse() -> Problem:
    return Problem(WIDTH, tuple(blouse_items()))


def shirt() -> Problem:
    """8 pieces."""
    items = [
        *pair("front", half_front(1.1)),
        one("back", whole_back(1.1)),
        *pair("sleeve", sleeve(1.1)),
        one("collar", collar(), 2),
        one("pocket", bar(140, 120)),
    ]
    return Problem(WIDTH, tuple(items))


def two_sizes() -> Problem:
    """Two blouses, one a good deal larger: 38 pieces."""
    return Problem(WIDTH, tuple(blouse_items(1.0, " S") + blouse_items(1.15, " L")))


def suit() -> Problem:
    """Trousers, skirt and blouse together: 27 pieces."""
    items = [
        *pair("trouser front", trouser()),
        *pair("trouser back", trouser(1.08)),
        one("skirt", skirt(), 2),
        one("waistband", bar(760, 80), 2),
        *blouse_items(),
    ]
    return Problem(WIDTH, tuple(items))


def wardrobe() -> Problem:
    """60 pieces: three blouses and what three of them lack."""
    items = blouse_items(1.0, " 1") + blouse_items(1.08, " 2") + blouse_items(1.16, " 3")
    return Problem(WIDTH, (*items, one("skirt", skirt(), 3)))


def five() -> Problem:
    """A waistcoat: 5 pieces."""
    return Problem(
        WIDTH, (*pair("front", half_front()), one("back", whole_back()), *pair("facing", facing()))
    )


def folded() -> Problem:
    """The blouse on folded cloth: two plies, back and collar on the fold, paper turned over at will."""
    poses = (Pose(0.0), Pose(180.0), Pose(0.0, True), Pose(180.0, True))
    fold = (Domain(touch=(Side.Y0,), poses=(0, 3)),)
    half_back = as_points([p for p in whole_back() if p[1] >= 0])
    items = (
        Item("front", as_points(half_front()), poses),
        Item("half back", half_back, poses, domains=fold),
        Item("sleeve", as_points(sleeve()), poses),
        Item("facing", as_points(facing()), poses),
        Item("half collar", as_points(bar(75.0, 215.0)), poses, domains=fold),
        Item("cuff", as_points(bar(250, 70)), poses, 2),
        Item("stand", as_points(bar(430, 45)), poses),
        Item("placket", as_points(bar(180, 50)), poses),
        Item("pocket", as_points(bar(130, 110)), poses),
    )
    return Problem(WIDTH / 2, items)


def striped() -> Problem:
    """The blouse on a stripe of 40 mm."""
    return _matched(None, 40.0)


def checked() -> Problem:
    """The blouse on a check of 60 x 80 mm."""
    return _matched(60.0, 80.0)


def napped() -> Problem:
    """The blouse on one-way cloth."""
    return replace(blouse(), items=tuple(replace(i, poses=NAP) for i in blouse().items))


def _matched(along: float | None, across: float | None) -> Problem:
    def held(item: Item) -> Item:
        x, y = item.outline[0]
        lattice = Lattice((float(x), float(y)), along, across, 0.0, 0.0, 1.0)
        return replace(item, domains=(Domain(lattice=lattice),))

    return replace(blouse(), items=tuple(held(i) for i in blouse().items))


def _closed(points: Points) -> Points:
    """Counter-clockwise, without repeated points."""
    kept = [
        p for p, q in zip(points, [*points[1:], points[0]], strict=True) if math.dist(p, q) > 1e-6
    ]
    area = sum(p[0] * q[1] - q[0] * p[1] for p, q in zip(kept, [*kept[1:], kept[0]], strict=True))
    return kept if area > 0 else kept[::-1]


LAYS: dict[str, Callable[[], Problem]] = {
    "waistcoat-5": five,
    "shirt-8": shirt,
    "blouse-19": blouse,
    "blouse-nap": napped,
    "blouse-fold": folded,
    "blouse-40": striped,
    "blouse-60x80": checked,
    "suit-27": suit,
    "two-sizes-38": two_sizes,
    "wardrobe-60": wardrobe,
}
