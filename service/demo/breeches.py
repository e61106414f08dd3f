"""Knee breeches with a fly: curved fork, back dart, waistband in halves, knee bands.

Common practice, from memory of tailors' rules: quarter seat for each front, fork of a sixteenth of the
seat before and a further twenty-fourth behind, seat seam slanting back. The back's inseam and side
are then made as long as the front's. cm.
"""

from __future__ import annotations

from dataclasses import replace

from service.demo.draft import (
    Point,
    Side,
    curve,
    joined,
    line,
    square_after,
    square_before,
    square_below,
)
from service.demo.sheet import ON_FOLD, PAIR, DartDraft, PieceDraft, StyleDraft, net_length
from service.demo.solve import find

SEAT, WAIST, RISE, KNEE = 104.0, 88.0, 28.0, 40.0
"""Measures of the stable hand, cm."""

LEG = 40.0
"""From the fork to below the knee, cm."""

BAND_DEEP, KNEE_BAND_DEEP = 5.0, 3.0
HIP_UP = 8.5
CREASE = 16.0
DART_WIDTH, DART_LONG = 2.5, 9.0
KNEE_EASE = 1.0
UNDERLAP = 4.0
POCKET_FROM, POCKET_LONG = 3.0, 16.0


def draft() -> StyleDraft:
    """The style, cm."""
    front = _front()
    back = _back(front)
    band = _waistband(net_length(back, "waist"), net_length(front, "waist"))
    knee_band = _knee_band(
        back.side("knee").length - KNEE_EASE, front.side("knee").length - KNEE_EASE
    )
    return StyleDraft(
        name="Breeches of the stable hand",
        unit="cm",
        note="Drafted for seat 104, waist 88 cm. Knees eased into the bands, opening at the side.",
        allowance={"seam": 1.5, "hem": 3},
        pieces=(
            front,
            back,
            band,
            _fly_facing(front),
            _fly_shield(front),
            PieceDraft(
                "Pocket facing",
                count={"pair": 1},
                outline={"rectangle": {"width": 5, "length": POCKET_LONG + 4}},
            ),
            knee_band,
            replace(
                band,
                name="Waistband lining",
                cloth="lining",
                sides=tuple(replace(s, partner="", notches=()) for s in band.sides),
            ),
            _pocket_bag(),
            _net("Waistband interfacing", band),
            _net("Knee band interfacing", knee_band),
        ),
    )


def _front() -> PieceDraft:
    """Right front as drawn: side at the left, fork at the right at y = 0, knee below."""
    quarter = SEAT / 4
    fork: Point = (quarter + SEAT / 16 - 0.5, 0)
    hip: Point = (quarter, HIP_UP)
    top: Point = (quarter - 1, RISE - BAND_DEEP)
    side_top: Point = (top[0] - (WAIST / 4 + 0.5), RISE - BAND_DEEP + 0.5)
    knee_out: Point = (CREASE - 10, -LEG)
    knee_in: Point = (CREASE + 10, -LEG)
    crotch = curve("crotch", fork, hip, leave=(-1, 0.02), arrive=(-0.06, 1))
    side = curve(
        "side", side_top, (0, HIP_UP), (0.5, -4), knee_out, arrive=(0, -1),
        partner="Back/side",
        notches=((POCKET_FROM, 1, "pocket"), (POCKET_FROM + POCKET_LONG, 1, "pocket")),
    )  # fmt: skip
    return PieceDraft(
        "Front",
        (
            line("knee", knee_out, knee_in, partner="Knee band/front", ease=KNEE_EASE),
            curve(
                "inseam", knee_in, fork, leave=(0, 1), arrive=(0.42, 1),
                partner="Back/inseam", notches=((20, 1, ""),),
            ),
            crotch,
            line("fly", hip, top, partner="Fly facing/edge"),
            curve(
                "waist", top, side_top,
                leave=(-1, 0), arrive=square_before(side), partner="Waistband/front",
            ),
            side,
        ),
        PAIR,
        grain=((CREASE, -LEG + 8), (CREASE, 14)),
    )  # fmt: skip


def _back(front: PieceDraft) -> PieceDraft:
    """Right back, drawn over the front: wider, its seat seam slanting; lengths from the front."""
    quarter = SEAT / 4
    fork_x = quarter + SEAT / 16 - 0.5 + SEAT / 24
    hip: Point = (quarter - 3.5, HIP_UP + 0.5)
    top: Point = (quarter - 6.8, RISE - BAND_DEEP + 3.5)
    hip_out: Point = (hip[0] - quarter - 1.5, HIP_UP)
    knee_out: Point = (CREASE - 11, -LEG)
    knee_in: Point = (CREASE + 11, -LEG)

    def inseam_to(y: float) -> Side:
        return curve(
            "inseam", knee_in, (fork_x, y), leave=(0, 1), arrive=(0.6, 1),
            partner="Front/inseam", notches=((20, 1, ""),),
        )  # fmt: skip

    def side_from(y: float) -> Side:
        top_out: Point = (hip_out[0] - 0.1 + (y - HIP_UP) * 0.02, y)
        return curve(
            "side", top_out, hip_out, (-3.6, -4), knee_out, arrive=(0, -1), partner="Front/side",
            notches=((POCKET_FROM, 1, "pocket"), (POCKET_FROM + POCKET_LONG, 1, "pocket")),
        )  # fmt: skip

    inseam = inseam_to(find(lambda y: inseam_to(y).length - front.side("inseam").length, -6, 4))
    side = side_from(find(lambda y: side_from(y).length - front.side("side").length, 15, 32))
    seat = joined(
        "seat",
        curve("fork", inseam.end, hip, leave=(-1, 0.08), arrive=(top[0] - hip[0], top[1] - hip[1])),
        line("slant", hip, top),
        partner="Back/seat",
        # Wider towards the waist, to be let out.
        add={"state": "add", "width": 1.5, "end_width": 3.0},
        notches=((14, 2, "seat"),),
    )
    waist = curve(
        "waist", top, side.start,
        leave=square_after(seat), arrive=square_before(side), partner="Waistband/back",
    )  # fmt: skip
    excess = waist.length - (WAIST / 4 + 0.5)
    at = waist.length * 0.45
    dart = DartDraft("back dart", "waist", at, excess, square_below(waist, at, excess, DART_LONG))
    return PieceDraft(
        "Back",
        (
            line("knee", knee_out, knee_in, partner="Knee band/back", ease=KNEE_EASE),
            inseam,
            seat,
            waist,
            side,
        ),
        PAIR,
        grain=((CREASE, -LEG + 8), (CREASE, 14)),
        darts=(dart,),
    )


def _waistband(back: float, front: float) -> PieceDraft:
    """Right half of the band, from the centre back to beyond the fly."""
    stretches = (
        ("back", back, "Back/waist"),
        ("front", front, "Front/waist"),
        ("lap", UNDERLAP, ""),
    )
    return _band("Waistband", stretches, BAND_DEEP, ("front end", "top", "centre back"))


def _knee_band(back: float, front: float) -> PieceDraft:
    """One knee band cut double, its underlap at the side opening."""
    stretches = (("lap", UNDERLAP, ""), ("back", back, "Back/knee"), ("front", front, "Front/knee"))
    return _band("Knee band", stretches, 2 * KNEE_BAND_DEEP, ("button end", "inside", "lap end"))


def _band(
    name: str,
    stretches: tuple[tuple[str, float, str], ...],
    deep: float,
    ends: tuple[str, str, str],
) -> PieceDraft:
    sides: list[Side] = []
    x = 0.0
    for stretch, length, partner in stretches:
        ease = -KNEE_EASE if partner.endswith("/knee") else 0.0
        sides.append(line(stretch, (x, 0), (x + length, 0), partner=partner, ease=ease))
        x += length
    sides += [
        line(ends[0], (x, 0), (x, deep)),
        line(ends[1], (x, deep), (0, deep)),
        line(ends[2], (0, deep), (0, 0)),
    ]
    sides[1] = replace(sides[1], notches=((0.0, 1, ""),))
    return PieceDraft(name, tuple(sides), PAIR, grain="along")


def _fly_facing(front: PieceDraft) -> PieceDraft:
    """Faces the left fly; drawn as the front's own edge with a curve 4 inside it."""
    fly = front.side("fly")
    (x0, y0), (x1, y1) = fly.start, fly.end
    back = curve("back", (x1 - 4, y1), (x0 - 4.1, y0 + 5), (x0, y0), arrive=(1, -0.35))
    return PieceDraft(
        "Fly facing",
        (replace(fly, name="edge", partner="Front/fly"), line("top", (x1, y1), (x1 - 4, y1)), back),
    )


def _fly_shield(front: PieceDraft) -> PieceDraft:
    """Lies behind the right fly, cut on the fold of the cloth."""
    long = front.side("fly").length + 2
    return PieceDraft(
        "Fly shield",
        (
            curve("foot", (0, 0), (5, 2.5), leave=(1, 0), arrive=(0.6, 1)),
            line("edge", (5, 2.5), (5, long)),
            line("top", (5, long), (0, long)),
            line("fold", (0, long), (0, 0), kind="fold"),
        ),
        ON_FOLD,
        grain=((2.5, 4), (2.5, long - 2)),
    )


def _pocket_bag() -> PieceDraft:
    mouth = line("mouth", (0, POCKET_LONG), (0, 0))
    bag = curve(
        "bag",
        (0, 0),
        (7, -9),
        (15, -7),
        (17, 4),
        (14, 14),
        (8, 19),
        (0, POCKET_LONG),
        leave=(0.6, -1),
    )
    return PieceDraft("Pocket bag", (mouth, bag), {"pair": 2}, cloth="lining")


def _net(name: str, piece: PieceDraft) -> PieceDraft:
    """Fusible for a piece, cut to its net line."""
    sides = tuple(
        replace(s, kind="finished", partner="", ease=0.0, notches=()) for s in piece.sides
    )
    return replace(piece, name=name, sides=sides, cloth="interfacing", marks=())
