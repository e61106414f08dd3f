"""A stage skirt from a two-dart block: A-line, waistband with an underlap, lined, pocket in the side.

Block (WikiEducator hand-out on drafting a basic skirt block), cm: half width = hip/2 + 2.5; back hip =
half of it + 0.75; back waist = waist/4 + 2 for the dart + 1.2 ease; front waist = waist/4 + 2; side
waist raised 1; darts 2 wide, the back one 12 long, the front one 10; dart axis at half the waist line
+ 1 from the centre. Hip line 20 below the waist (common rule). Flare, hem, waistband, pocket: common
practice.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from service.demo.draft import Point, Side, curve, joined, line, square_after, square_below
from service.demo.sheet import ON_FOLD, PAIR, DartDraft, PieceDraft, StyleDraft, net_length
from service.demo.solve import find

WAIST, HIP, LENGTH = 74.0, 100.0, 78.0
"""Measures of the widow in our travelling play, cm."""

WAIST_EASE, HIP_EASE = 2.4, 5.0
HIP_DEPTH = 20.0
FLARE = 4.0
DART_WIDTH = 2.0
SIDE_RAISED = 1.0
UNDERLAP = 3.0
BAND_DEPTH = 4.0
ZIP = 20.0
POCKET_FROM, POCKET_LONG = 5.0, 17.0


@dataclass(frozen=True, slots=True)
class SkirtBlock:
    """The numbers of the block, cm; waist lines before the darts are sewn."""

    half_width: float
    back_hip: float
    front_hip: float
    back_waist: float
    front_waist: float


def skirt_block(waist: float, hip: float) -> SkirtBlock:
    """The block's numbers from two measures, cm."""
    half = hip / 2 + 2.5
    back = half / 2 + 0.75
    return SkirtBlock(half, back, half - back, waist / 4 + DART_WIDTH + 1.2, waist / 4 + DART_WIDTH)


def draft() -> StyleDraft:
    """The style, cm."""
    block = skirt_block(WAIST, HIP)
    back = _panel("Back", "Front", block.back_hip, block.back_waist, 12.0)
    front = _front_trued(block, back.side("side").length)
    front_lining = _lining(front, "Front lining", "Back lining")
    back_lining = _lining(back, "Back lining", "Front lining")
    band = _waistband(net_length(back, "waist"), net_length(front, "waist"))
    return StyleDraft(
        name="Skirt of the ferryman's widow",
        unit="cm",
        note="Drafted for waist 74, hip 100, length 78 cm. Zip in the centre back seam, wider there.",
        allowance={"seam": 1.5, "hem": 5},
        measures=(
            {"line": "waist", "body": WAIST, "ease": WAIST_EASE},
            {"line": "waist", "below": HIP_DEPTH, "body": HIP, "ease": HIP_EASE},
        ),
        pieces=(
            front,
            back,
            band,
            _interfacing(band),
            replace(_pocket_bag(), cloth="lining"),
            front_lining,
            back_lining,
        ),
    )


def _front_trued(block: SkirtBlock, side: float) -> PieceDraft:
    """The front with its side as long as the back's: the block leaves it 1 mm short, so its side
    waist rises by that much more."""

    def front(raised: float) -> PieceDraft:
        return _panel("Front", "Back", block.front_hip, block.front_waist, 10.0, raised)

    return front(find(lambda raised: front(raised).side("side").length - side, 0.5, 1.5))


def _panel(
    name: str,
    other: str,
    hip: float,
    waist: float,
    dart_length: float,
    raised: float = SIDE_RAISED,
) -> PieceDraft:
    """Half front or half back: centre line at x = 0, waist at its centre at y = 0."""
    hem_side: Point = (hip + FLARE, -LENGTH + 0.6)
    hip_side: Point = (hip, -HIP_DEPTH)
    up: Point = (-FLARE, LENGTH - 0.6 - HIP_DEPTH)
    hem = curve("hem", (0, -LENGTH), hem_side, leave=(1, 0), arrive=(up[1], -up[0]), kind="hem")

    def side_to(x: float) -> Side:
        hips = curve("hips", hip_side, (x, raised), leave=up)
        return joined("side", line("skirt", hem_side, hip_side), hips, partner=f"{other}/side")

    def waist_from(side: Side) -> Side:
        return curve(
            "waist", side.end, (0, 0),
            leave=square_after(side), arrive=(-1, 0), partner=_band_edge(name),
        )  # fmt: skip

    # The waist curves, square to the side as to the centre, and still measures what the block says.
    side = side_to(find(lambda x: waist_from(side_to(x)).length - waist, waist - 2, waist))
    top = side.length
    pocket = (top - POCKET_FROM - POCKET_LONG, 1, "pocket"), (top - POCKET_FROM, 1, "pocket")
    side = replace(side, notches=pocket)
    line_of_waist = waist_from(side)
    at = line_of_waist.length - (waist / 2 + 1)
    point = square_below(line_of_waist, at, DART_WIDTH, dart_length)
    dart = DartDraft("waist dart", "waist", at, DART_WIDTH, point)
    return PieceDraft(
        name,
        (hem, side, line_of_waist, _centre(name)),
        ON_FOLD if name == "Front" else PAIR,
        grain=((hip / 2, -LENGTH + 12), (hip / 2, -HIP_DEPTH)),
        darts=(replace(dart, fold="towards the second leg"),),
    )


def _centre(name: str) -> Side:
    if name == "Front":
        return line("centre", (0, 0), (0, -LENGTH), kind="fold")
    beside_zip = {"state": "add", "width": 2.0, "steps": [[ZIP + 1.5, 1.5]]}
    return line(
        "centre", (0, 0), (0, -LENGTH),
        partner="Back/centre", add=beside_zip, notches=((ZIP, 1, "zip"),),
    )  # fmt: skip


def _band_edge(name: str) -> str:
    return f"Waistband/{name.lower()} left"


def _lining(panel: PieceDraft, name: str, other: str) -> PieceDraft:
    """The panel again, without pockets; its hem is 2 shallower, so it ends above the skirt's."""
    parts = {
        "hem": {"add": 3.0},
        "side": {"partner": f"{other}/side", "notches": ()},
        "waist": {"partner": f"{panel.name}/waist"},
        "centre": {} if panel.name == "Front" else {"partner": "Back lining/centre"},
    }
    sides = tuple(replace(s, **parts[s.name]) for s in panel.sides)  # type: ignore[arg-type]
    return replace(panel, name=name, sides=sides, cloth="lining")


def _waistband(back: float, front: float) -> PieceDraft:
    """The band cut double, from the underlap on the left over the front to the right back."""
    stretches = (
        ("underlap", UNDERLAP, ""),
        ("back left", back, "Back/waist"),
        ("front left", front, "Front/waist"),
        ("front right", front, "Front/waist"),
        ("back right", back, "Back/waist"),
    )
    sides: list[Side] = []
    x = 0.0
    for name, length, partner in stretches:
        sides.append(line(name, (x, 0), (x + length, 0), partner=partner))
        x += length
    top = 2 * BAND_DEPTH
    sides += [
        line("right end", (x, 0), (x, top)),
        line("inside", (x, top), (0, top)),
        line("left end", (0, top), (0, 0)),
    ]
    notches = ((sides[2].length, 1, "centre front"),)
    sides[2] = replace(sides[2], notches=notches)
    return PieceDraft(
        "Waistband",
        tuple(sides),
        grain="along",
        marks=(("line", ((0, BAND_DEPTH), (x, BAND_DEPTH)), "fold line"),),
    )


def _interfacing(band: PieceDraft) -> PieceDraft:
    """Fusible for the outer half of the band, cut to the net line."""
    length = sum(s.length for s in band.sides[:5])
    outline = {
        "rectangle": {"width": BAND_DEPTH, "length": round(length, 3)},
        "sides": {s: {"kind": "finished"} for s in ("bottom", "right", "top", "left")},
    }
    return PieceDraft("Waistband interfacing", cloth="interfacing", grain="up", outline=outline)


def _pocket_bag() -> PieceDraft:
    mouth = line("mouth", (0, POCKET_LONG), (0, 0))
    bag = curve(
        "bag", (0, 0), (9, -8), (17, -3), (16, 10), (8, 19), (0, POCKET_LONG), leave=(1, -0.6)
    )
    return PieceDraft("Pocket bag", (mouth, bag), {"pair": 2})
