"""A night watchman's cloak: quarter-circle body on a shoulder yoke, hood, stand collar, facings.

Radius of a part circle = girth x k / (2 pi) with k = 1, 2, 3, 4 for a full, half, third or quarter circle
(the rule of circle skirts); yoke as a ring whose inner and outer arcs are the neck and the top of the
body. Hood by head height and depth, collar by neck: common practice. cm.
"""

from __future__ import annotations

import math
from dataclasses import replace

from service.demo.draft import Point, Side, arc, circle_radius, curve, line, on_circle, square_below
from service.demo.sheet import ON_FOLD, PAIR, DartDraft, PieceDraft, StyleDraft
from service.demo.solve import find

HALF_NECK = 22.0
SHOULDER_AT = HALF_NECK * 11 / 24
"""Half of the neck seam: neck 42 + 2 ease, cm."""

YOKE_DEEP = 16.0
HALF_BACK, HALF_FRONT = 24.0, 22.0
"""Half of the body's top edge, behind and before the shoulder, cm."""

BODY_LONG = 106.0
FACING_WIDE = 9.0
HOOD_HIGH, HOOD_DART, HOOD_DART_LONG = 37.0, 2.5, 9.0
COLLAR_DEEP = 5.5


def draft() -> StyleDraft:
    """The style, cm."""
    back, front = _body("Back", HALF_BACK), _body("Front", HALF_FRONT)
    yoke, hood, collar = _yoke(), _hood(), _collar()
    return StyleDraft(
        name="Cloak of the night watch",
        unit="cm",
        note="Brushed wool: every piece of it lies one way, hem to the same end.",
        allowance={"seam": 1.5, "hem": 4},
        pieces=(
            back,
            front,
            _facing(front),
            yoke,
            hood,
            collar,
            _lining(yoke, ("front", "neck")),
            _lining(hood, ("face",)),
            _interfacing(collar),
        ),
    )


def body_radius() -> float:
    """Radius of the body's top edge: a quarter circle over the whole girth at the yoke, cm."""
    return circle_radius(2 * (HALF_BACK + HALF_FRONT), 4)


def _body(name: str, top_long: float) -> PieceDraft:
    """Half back on the fold, or one front: a sector about 0, 0 that hangs from y = -radius."""
    r = body_radius()
    hem_r = r + BODY_LONG
    end = -90 + math.degrees(top_long / r)
    other = "Front" if name == "Back" else "Back"
    hem = arc("hem", (0, 0), hem_r, -90, end, kind="hem")
    side = line(
        "side", on_circle((0, 0), hem_r, end), on_circle((0, 0), r, end), partner=f"{other}/side",
        notches=((60, 1, "slit"), (82, 1, "slit")),
    )  # fmt: skip
    yoke_edge = f"Yoke/{name.lower()} edge"
    top = arc("top", (0, 0), r, end, -90, partner=yoke_edge, notches=((top_long / 2, 1, ""),))
    middle: Side = line("centre", (0, -r), (0, -hem_r), kind="fold")
    if name == "Front":
        middle = line("front edge", (0, -r), (0, -hem_r), partner="Front facing/front edge")
    return PieceDraft(
        name,
        (hem, side, top, middle),
        ON_FOLD if name == "Back" else PAIR,
        grain=((12, -hem_r + 25), (12, -r - 10)),
        grain_rule="one way",
    )


def _facing(front: PieceDraft) -> PieceDraft:
    """A strip along the front edge, its ends those of the front."""
    r = body_radius()
    hem_r = r + BODY_LONG
    at_hem, at_top = (-90 + math.degrees(math.asin(FACING_WIDE / x)) for x in (hem_r, r))
    return PieceDraft(
        "Front facing",
        (
            arc("hem", (0, 0), hem_r, -90, at_hem, kind="hem"),
            line("inner edge", on_circle((0, 0), hem_r, at_hem), on_circle((0, 0), r, at_top)),
            arc("top", (0, 0), r, at_top, -90),
            replace(front.side("front edge"), partner="Front/front edge"),
        ),
        PAIR,
        grain=((4, -hem_r + 25), (4, -r - 10)),
        grain_rule="one way",
    )


def _yoke() -> PieceDraft:
    """Half yoke on the fold at the centre back: a ring from the neck to the top of the body."""
    outer_long = HALF_BACK + HALF_FRONT
    angle = (outer_long - HALF_NECK) / YOKE_DEEP
    inner, outer = HALF_NECK / angle, outer_long / angle
    shoulder = -90 + math.degrees(HALF_BACK / outer)
    end = -90 + math.degrees(angle)
    return PieceDraft(
        "Yoke",
        (
            arc(
                "back edge", (0, 0), outer, -90, shoulder,
                partner="Back/top", notches=((HALF_BACK / 2, 1, ""),),
            ),
            arc(
                "front edge", (0, 0), outer, shoulder, end,
                partner="Front/top", notches=((HALF_FRONT / 2, 1, ""),),
            ),
            line("front", on_circle((0, 0), outer, end), on_circle((0, 0), inner, end)),
            arc(
                "neck", (0, 0), inner, end, -90,
                partner="Collar/neck", notches=((SHOULDER_AT, 1, "shoulder"),),
            ),
            line("centre", (0, -inner), (0, -outer), kind="fold"),
        ),
        ON_FOLD,
        grain=((5, -outer + 3), (5, -inner - 3)),
        grain_rule="one way",
    )  # fmt: skip


def _hood() -> PieceDraft:
    """One side of the hood: face at x = 0, neck at the bottom with a dart in it."""

    def neck_to(x: float) -> Side:
        return curve(
            "neck", (0, 0), (x, 2.6), leave=(1, -0.1), arrive=(1, 0.42),
            partner="Yoke/neck", notches=((SHOULDER_AT, 1, "shoulder"),),
        )  # fmt: skip

    wanted = HALF_NECK + HOOD_DART
    neck = neck_to(find(lambda x: neck_to(x).length - wanted, 15, 30))
    low: Point = neck.end
    back = curve(
        "back", low, (low[0] + 3.6, 13.5), (low[0] + 2.6, 25), (low[0] - 5.2, 34.2), (9.5, HOOD_HIGH),
        (0, HOOD_HIGH - 0.8), arrive=(-1, 0), partner="Hood/back", notches=((22, 1, "crown"),),
    )  # fmt: skip
    face = line("face", back.end, (0, 0), partner="Hood lining/face")
    at = 14.0
    dart = DartDraft(
        "neck dart", "neck", at, HOOD_DART, square_below(neck, at, HOOD_DART, HOOD_DART_LONG)
    )
    return PieceDraft(
        "Hood",
        (neck, back, face),
        PAIR,
        grain=((6, 6), (6, 30)),
        grain_rule="one way",
        darts=(dart,),
    )


def _collar() -> PieceDraft:
    """Half stand collar on the fold at the centre back, rising a little to the front; cut twice."""

    def neck_to(x: float) -> Side:
        return curve("neck", (0, 0), (x, 1.6), leave=(1, 0), arrive=(1, 0.18), partner="Yoke/neck")

    neck = neck_to(find(lambda x: neck_to(x).length - HALF_NECK, 15, 25))
    neck = replace(neck, notches=((HALF_NECK * 13 / 24, 1, "shoulder"),))
    x = neck.end[0]
    corner: Point = (x - 2.2, COLLAR_DEEP + 1.25)
    front = curve("front", neck.end, corner, leave=(-0.2, 1), arrive=(-1, -0.1))
    top = curve("top", corner, (0, COLLAR_DEEP), leave=(-1, -0.1), arrive=(-1, 0))
    centre = line("centre", (0, COLLAR_DEEP), (0, 0), kind="fold")
    return PieceDraft(
        "Collar",
        (neck, front, top, centre),
        {"on fold": 2},
        grain=((8, 1.2), (8, 5)),
        grain_rule="one way",
    )


def _lining(piece: PieceDraft, joined_at: tuple[str, ...]) -> PieceDraft:
    """The same piece in lining, joined to the outer one at the named edges."""
    partners = {"back": f"{piece.name} lining/back"}
    sides = tuple(
        replace(
            s,
            partner=f"{piece.name}/{s.name}" if s.name in joined_at else partners.get(s.name, ""),
            ease=0.0,
        )
        for s in piece.sides
    )
    return replace(piece, name=f"{piece.name} lining", sides=sides, cloth="lining", grain_rule="")


def _interfacing(collar: PieceDraft) -> PieceDraft:
    sides = tuple(
        s if s.kind == "fold" else replace(s, kind="finished", partner="", notches=())
        for s in collar.sides
    )
    return replace(
        collar,
        name="Collar interfacing",
        sides=sides,
        count=ON_FOLD,
        cloth="interfacing",
        grain_rule="",
    )
