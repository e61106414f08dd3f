"""A waistcoat: fronts with a dart to the hem, facings, back on the fold, lining, welts, strap.

Depth of scye, across chest and front shoulder by the rules of W. D. F. Vincent, *Systems of Cutting All
Kinds of Tailor-Made Garments* ("Vests", diagrams 37 to 40); back neck a sixth of the neck + 1/4 in and
the front shoulder 1/4 in shorter than the back from Vincent, *The Cutter's Practical Guide*, part 13.
Everything else (half back, wearing ease, slopes, welts) is common practice. Inches.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from service.demo.draft import (
    Point,
    Side,
    backwards,
    curve,
    joined,
    line,
    part,
    square_after,
    square_before,
)
from service.demo.sheet import ON_FOLD, PAIR, DartDraft, PieceDraft, StyleDraft
from service.demo.solve import find

BREAST, WAIST, NECK = 38.0, 34.0, 15.0
"""Measures of the ferryman, inches."""

NATURAL_WAIST = 16.75
BACK_LONG = 20.25
OPENING = 11.75
FRONT_LONG = 23.75
STAND = 0.75
SHOULDER_EASE = 0.25
FACING_AT_HEM, FACING_AT_SHOULDER = 3.0, 1.75
DART_WIDTH = 0.5
DART_FROM = 5.25
DART_POINT: Point = (5.35, -12.6)


@dataclass(frozen=True, slots=True)
class VestRules:
    """Vincent's rules of thumb for a breast measure, inches."""

    depth_of_scye: float
    across_chest: float
    front_shoulder: float
    over_shoulder: float


def vest_rules(breast: float) -> VestRules:
    """What the direct measures usually come to, where they were not taken."""
    return VestRules(breast / 6 + 3, breast / 4 - 1, breast / 4 + 3.5, breast / 3 + 5)


def draft() -> StyleDraft:
    """The style, inches."""
    back = _back()
    front = _front(back)
    facing, front_lining = _facing_and_lining(front)
    return StyleDraft(
        name="Waistcoat of the ferryman",
        unit="in",
        note="Drafted for breast 38, waist 34, neck 15 in. Cut one way if the cloth is brocade.",
        allowance={"seam": "3/8 in", "hem": "1/2 in"},
        pieces=(
            front,
            facing,
            back,
            _slanted("Lower welt", 5.25, 2.0, count=PAIR),
            _slanted("Breast welt", 4.0, 1.75, count={"drawn": 1}),
            _strap(),
            front_lining,
            _back_lining(back),
            _bag("Pocket bag", 5.75, 6.5, 4),
            _bag("Breast pocket bag", 4.5, 5.0, 2),
            _interfacing(front),
        ),
    )


def _back() -> PieceDraft:
    """Half back: nape at 0, 0, centre on the fold at x = 0."""
    scye = vest_rules(BREAST).depth_of_scye + 0.5  # half an inch lower than a coat's
    neck: Point = (NECK / 6 + 0.25, 0.75)
    tip: Point = (BREAST / 6 + 0.9, -1.1)
    under: Point = (BREAST / 4 + 0.5, -scye)
    bottom: Point = (9.6, -BACK_LONG - 0.5)
    side = curve(
        "side", bottom, (WAIST / 4 + 0.5, -NATURAL_WAIST), under,
        partner="Front/side", notches=((3.9, 1, "waist"),),
    )  # fmt: skip
    hem = curve(
        "hem", (0, -BACK_LONG), bottom, leave=(1, 0), arrive=square_before(side),
        kind="hem", partner="Back lining/hem",
    )  # fmt: skip
    shoulder = line("shoulder", tip, neck, partner="Front/shoulder", ease=SHOULDER_EASE)
    armhole = curve(
        "armhole", under, (8.05, -8.6), (7.0, -5.6), tip,
        leave=square_after(side), arrive=square_before(shoulder),
        partner="Back lining/armhole", notches=((5.2, 2, "back"),),
    )  # fmt: skip
    neckline = curve(
        "neck", neck, (0, 0),
        leave=square_after(shoulder), arrive=(-1, 0), partner="Back lining/neck",
    )  # fmt: skip
    centre = line("centre", (0, 0), (0, -BACK_LONG), kind="fold")
    return PieceDraft(
        "Back",
        (hem, side, armhole, shoulder, neckline, centre),
        ON_FOLD,
        grain=((4.0, -17.0), (4.0, -5.0)),
        marks=(("line", ((3.0, -16.25), (8.7, -16.5)), "strap"),),
    )


def _front(back: PieceDraft) -> PieceDraft:
    """Left front as drawn: centre front at x = 0, the stand beyond it; heights as on the back."""
    rules = vest_rules(BREAST)
    under: Point = (BREAST / 2 + 1.25 - (BREAST / 4 + 0.5), back.side("side").end[1])
    reach = rules.front_shoulder - (NECK / 6 + 0.25)
    neck_x = BREAST / 12 + 0.5
    up = math.sqrt(reach**2 - (rules.across_chest - neck_x) ** 2)
    neck: Point = (neck_x, -rules.depth_of_scye + up)
    length = back.side("shoulder").length - SHOULDER_EASE
    tip: Point = (neck[0] + math.sqrt(length**2 - 1.9**2), neck[1] - 1.9)
    waist: Point = (WAIST / 2 + 1 - (WAIST / 4 + 0.5) + DART_WIDTH, -NATURAL_WAIST)

    def side_from(bottom_y: float) -> Side:
        return curve(
            "side", (waist[0] + 0.4, bottom_y), waist, under,
            partner="Back/side", notches=((3.9, 1, "waist"),),
        )  # fmt: skip

    wanted = back.side("side").length
    side = side_from(find(lambda y: wanted - side_from(y).length, -24.0, -18.0))
    point: Point = (1.7, -FRONT_LONG)
    hem, mouth = _dart_hem(point, side)
    hem_front = part(
        hem, 0, FACING_AT_HEM, name="hem front", kind="hem", partner="Front facing/hem"
    )
    hem_side = part(
        hem, FACING_AT_HEM, hem.length, name="hem side", kind="hem", partner="Front lining/hem"
    )
    shoulder = line("shoulder", tip, neck, partner="Back/shoulder", ease=-SHOULDER_EASE)
    armhole = curve(
        "armhole", under, (8.6, -8.75), (7.55, -6.4), tip,
        leave=square_after(side), arrive=square_before(shoulder),
        partner="Front lining/armhole", notches=((3.6, 1, "front"),),
    )  # fmt: skip
    neckline = curve(
        "neck", neck, (-STAND, -OPENING), leave=square_after(shoulder), arrive=(-0.44, -1),
        partner="Front facing/neck",
    )  # fmt: skip
    edge = joined(
        "front edge",
        line("straight", (-STAND, -OPENING), (-STAND, -20.4)),
        curve("cut away", (-STAND, -20.4), point, leave=(0, -1), arrive=(1, -1.05)),
        partner="Front facing/front edge",
    )
    at = mouth - FACING_AT_HEM
    dart = DartDraft("waist dart", "hem side", at, DART_WIDTH, DART_POINT, "towards the first leg")
    buttons = tuple(("buttonhole", ((0.0, y),), "") for y in (-12.5, -14.4, -16.3, -18.2, -20.1))
    return PieceDraft(
        "Front",
        (hem_front, hem_side, side, armhole, shoulder, neckline, edge),
        PAIR,
        grain=((2.0, -20.5), (2.0, -9.0)),
        darts=(dart,),
        marks=(
            ("line", ((3.0, -18.6), (8.2, -18.1)), "lower pocket"),
            ("line", ((3.4, -10.9), (7.3, -10.5)), "breast pocket"),
            *buttons,
        ),
    )


def _dart_hem(point: Point, side: Side) -> tuple[Side, float]:
    """The hem with the dart's mouth in it, and how far along the middle of the mouth lies.

    Both legs are of one length, and the hem is fair once the dart is sewn: what lies beyond the
    mouth starts as if swung open about the dart's point.
    """
    first: Point = (DART_FROM, -22.2)
    angle = 2 * math.asin(DART_WIDTH / 2 / math.dist(first, DART_POINT))
    second = _swung(first, DART_POINT, angle)
    slope: Point = (1, 0.36)
    before = curve("", point, first, leave=(1, 0.5), arrive=slope)
    beyond = curve(
        "", second, side.start,
        leave=_swung(slope, (0, 0), angle), arrive=square_before(side),
    )  # fmt: skip
    hem = joined("hem", before, line("", first, second), beyond)
    return hem, before.length + DART_WIDTH / 2


def _swung(p: Point, about: Point, angle: float) -> Point:
    """A point turned about another by an angle in radians."""
    x, y = p[0] - about[0], p[1] - about[1]
    c, s = math.cos(angle), math.sin(angle)
    return about[0] + c * x - s * y, about[1] + s * x + c * y


def _facing_and_lining(front: PieceDraft) -> tuple[PieceDraft, PieceDraft]:
    """The front parted along a line from shoulder to hem: facing at the edge, lining for the rest."""
    hem_front, hem_side = front.side("hem front"), front.side("hem side")
    shoulder = front.side("shoulder")
    turn = shoulder.length - FACING_AT_SHOULDER
    arm = part(shoulder, 0, turn, partner="Back lining/shoulder arm", ease=-SHOULDER_EASE)
    by_neck = part(shoulder, turn, shoulder.length, partner="Back lining/shoulder neck", ease=0.0)
    inner = curve(
        "inner edge", hem_front.end, (2.75, -17.0), (2.95, -11.5), by_neck.start,
        partner="Front lining/facing edge",
        notches=((6.0, 1, ""), (13.0, 1, "")),
    )  # fmt: skip
    facing = PieceDraft(
        "Front facing",
        (
            replace(hem_front, name="hem", partner="Front/hem front"),
            inner,
            by_neck,
            replace(front.side("neck"), partner="Front/neck"),
            replace(front.side("front edge"), partner="Front/front edge"),
        ),
        PAIR,
        grain=((0.8, -20.5), (0.8, -12.0)),
    )
    seam = backwards(inner, name="facing edge", partner="Front facing/inner edge")
    marks = tuple((inner.length - at, n, text) for at, n, text in inner.notches)
    lining = PieceDraft(
        "Front lining",
        (
            replace(hem_side, name="hem", partner="Front/hem side"),
            replace(front.side("side"), partner="Back lining/side"),
            replace(front.side("armhole"), partner="Front/armhole"),
            arm,
            replace(seam, notches=marks),
        ),
        PAIR,
        cloth="lining",
        grain=((5.0, -20.0), (5.0, -11.0)),
        darts=tuple(replace(d, on="hem") for d in front.darts),
    )
    return facing, lining


def _back_lining(back: PieceDraft) -> PieceDraft:
    shoulder = back.side("shoulder")
    turn = shoulder.length - FACING_AT_SHOULDER
    sides = (
        replace(back.side("hem"), partner="Back/hem"),
        replace(back.side("side"), partner="Front lining/side"),
        replace(back.side("armhole"), partner="Back/armhole"),
        part(
            shoulder, 0, turn,
            name="shoulder arm", partner="Front lining/shoulder", ease=SHOULDER_EASE,
        ),
        part(
            shoulder, turn, shoulder.length,
            name="shoulder neck", partner="Front facing/shoulder", ease=0.0,
        ),
        replace(back.side("neck"), partner="Back/neck"),
        back.side("centre"),
    )  # fmt: skip
    return replace(back, name="Back lining", sides=sides, cloth="lining", marks=())


def _interfacing(front: PieceDraft) -> PieceDraft:
    """Fusible for the front, cut to its net line."""
    sides = tuple(
        replace(s, kind="finished", partner="", ease=0.0, notches=()) for s in front.sides
    )
    return replace(front, name="Front interfacing", sides=sides, cloth="interfacing", marks=())


def _slanted(name: str, long: float, deep: float, *, count: dict[str, int]) -> PieceDraft:
    """A welt that rises towards the side, cut double."""
    rise = 0.4
    corners: tuple[Point, ...] = ((0, 0), (long, rise), (long, rise + deep), (0, deep))
    return PieceDraft(name, _polygon(corners, ("mouth", "side end", "inside", "front end")), count)


def _strap() -> PieceDraft:
    corners: tuple[Point, ...] = ((0, 0), (10, 0), (11, 1), (10, 2), (0, 2))
    names = ("lower", "lower point", "upper point", "upper", "side end")
    return PieceDraft("Back strap", _polygon(corners, names), {"pair": 2}, grain="along")


def _bag(name: str, wide: float, long: float, many: int) -> PieceDraft:
    """A pocket bag with rounded lower corners."""
    r = 1.25
    bag = joined(
        "bag",
        line("", (0, long), (0, r)),
        curve("", (0, r), (r, 0), leave=(0, -1), arrive=(1, 0)),
        line("", (r, 0), (wide - r, 0)),
        curve("", (wide - r, 0), (wide, r), leave=(1, 0), arrive=(0, 1)),
        line("", (wide, r), (wide, long)),
    )
    mouth = line("mouth", (wide, long), (0, long))
    return PieceDraft(name, (bag, mouth), {"drawn": many}, cloth="lining")


def _polygon(corners: tuple[Point, ...], names: tuple[str, ...]) -> tuple[Side, ...]:
    ends = (*corners[1:], corners[0])
    return tuple(line(n, a, b) for n, a, b in zip(names, corners, ends, strict=True))
