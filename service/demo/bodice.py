"""A bodice for the miller's daughter, drafted in mm and then changed as a cutter would change it.

The side dart is moved into the shoulder, both darts become a panel line along which the front is
split, and both parts of its shoulder are sewn to the back's; the front gets a button stand and a
facing, the back neck a facing, the peplum a hem facing, the sleeve is lengthened at the elbow for a
tall player. Numbers are our own for bust 92, waist 72, back length 40 cm; a theatre keeps inlays at
its side seams.
"""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Final

import numpy as np

from nesting.pieces.dart_moves import Turning, move_dart, shorten_dart, true_dart
from nesting.pieces.facing import facing, hem_facing
from nesting.pieces.lengthen import lengthen
from nesting.pieces.measures import BodyMeasure
from nesting.pieces.mirror import mirror
from nesting.pieces.outline import (
    Allowance,
    AllowanceState,
    Corner,
    Edge,
    EdgeKind,
    Pressed,
)
from nesting.pieces.piece import (
    PAIR,
    Count,
    Dart,
    DartFold,
    Grain,
    GrainRule,
    Notch,
    Piece,
    Point,
    Style,
)
from nesting.pieces.split import split
from nesting.pieces.stand import add_buttons, add_stand, stand_width_mm
from nesting.pieces.unfold import unfold
from nesting.polygon import FloatArray, as_points
from service.formats.curves import flatten_cubic

BUST_POINT: Final[Point] = (95.0, 200.0)
SIDE_DART_RAD: Final = math.radians(12.5)
DART_BACK_MM: Final = 12.0
BUTTON_MM: Final = 12.0
SHOULDER_EASE_MM: Final = 5.0
STAND_MM: Final = math.ceil(stand_width_mm(BUTTON_MM))
SHOULDERS: Final = ("Side front/shoulder", "Front/shoulder")
"""What the back's shoulder is sewn to, from the armhole to the neck."""
WAISTS: Final = ("Front/waist", "Side front/waist", "Back/waist")
"""What the peplum's waist is sewn to, from the front to the fold at the back."""
SEAM, NARROW, PANEL, INLAY = 15.0, 10.0, 12.0, 20.0


def front_as_drafted() -> Piece:
    """Half front, centre at x = 0, waist at y = 0, with a waist dart and a side dart.

    Waist and side are drawn so that they run smooth when the darts are closed: what lies beyond a
    dart is turned open by the dart's angle.
    """
    waist_end: Point = (222.0, 2.0)
    low = as_points([waist_end, (240.5, 168.0)])
    opened = Turning(np.array(BUST_POINT), SIDE_DART_RAD)
    beyond = opened(as_points([low[1], low[1] + 0.22 * (low[1] - low[0])]))
    under: Point = (float(beyond[1, 0]), float(beyond[1, 1]))
    first = float(np.hypot(*(low[1] - low[0])))
    mouth = float(np.hypot(*(beyond[0] - low[1])))
    # Armholes leave square to their side seams, so that they run on into each other.
    leaves = _beside(beyond, 60.0)
    tip: Point = (178.0, 398.0)
    neck: Point = (72.0, 434.0)
    waist = _curve((110, 0), (147, 5.7), (185, 5.9), waist_end)
    edges = (
        _edge("waist", as_points([(0, 0), (80, 0), *waist]), partner="Peplum/waist"),
        _edge("side", as_points([*low, *beyond]), partner="Back/side", inlay=INLAY),
        _edge("armhole", _curve(under, leaves, (154, 327), tip), width=NARROW),
        _edge("shoulder", _line(tip, neck), partner="Back/shoulder", pressed=Pressed.OPEN),
        _edge("neck", _curve(neck, (52, 372), (40, 340), (0, 340)), width=NARROW),
        _edge("centre", _line((0, 340), (0, 0)), width=NARROW),
    )
    piece = Piece(
        "Front",
        edges,
        grain=Grain((30.0, 60.0), (30.0, 260.0)),
        grain_rule=GrainRule.ONE_WAY,
        count=PAIR,
        notches=(Notch("armhole", 120.0, name="sleeve"),),
        darts=(
            Dart("waist dart", "waist", 80.0, 110.0, BUST_POINT, DartFold.FIRST_LEG),
            Dart("side dart", "side", first, first + mouth, BUST_POINT, DartFold.FIRST_LEG),
        ),
        origin="drafted for bust 92, waist 72 cm",
    )
    return true_dart(piece, "waist dart")


def fronts() -> tuple[Piece, Piece, Piece]:
    """Side front, front with stand and buttons, front facing."""
    piece = move_dart(front_as_drafted(), "side dart", "shoulder", 45.0, name="shoulder dart")
    for dart in ("waist dart", "shoulder dart"):
        piece = shorten_dart(piece, dart, DART_BACK_MM)
    points = {d.name: np.array(d.point) for d in piece.darts}
    ends = points["waist dart"], points["shoulder dart"]
    middle = (ends[0] + ends[1]) / 2 + np.array([1.5, 0.0])
    side_front, front = split(
        piece,
        as_points([ends[0], middle, ends[1]]),
        names=("Side front", "Front"),
        allowance=_add(PANEL),
        seam="panel seam",
        notches=(4.0,),
        darts=("waist dart", "shoulder dart"),
    )
    front = add_stand(front, "centre", STAND_MM)
    front = add_buttons(front, count=7, first_mm=12, last_mm=25, diameter_mm=BUTTON_MM)
    front_facing = facing(front, ["neck", "stand edge"], 55.0, name="Front facing")
    panels = [_pressed(p, "panel seam") for p in (side_front, front)]
    return panels[0], panels[1], front_facing


def backs(side_mm: float, shoulder_mm: float) -> tuple[Piece, Piece]:
    """Back on the fold, its side and shoulder made to fit the front's, and its neck facing."""
    waist_end: Point = (206.0, 2.0)
    under: Point = (228.0, 2.0 + math.sqrt(side_mm**2 - 22.0**2))
    neck: Point = (74.0, 424.0)
    tip: Point = (74.0 + math.sqrt((shoulder_mm + SHOULDER_EASE_MM) ** 2 - 34.0**2), 390.0)
    waist = _curve((103, 0), (137, 5.8), (172, 5.6), waist_end)
    leaves = _beside(as_points([waist_end, under]), 42.0)
    armhole = _curve(under, leaves, (tip[0] - 20, tip[1] - 72), tip)
    edges = (
        _edge("waist", as_points([(0, 0), (75, 0), *waist]), partner="Peplum/waist"),
        _edge("side", _line(waist_end, under), partner="Side front/side", inlay=INLAY),
        _edge("armhole", armhole, width=NARROW),
        replace(
            _edge("shoulder", _line(tip, neck), partner=SHOULDERS, pressed=Pressed.OPEN),
            ease_mm=SHOULDER_EASE_MM,
        ),
        _edge("neck", _curve(neck, (68.5, 405), (45, 402), (0, 402)), width=NARROW),
        Edge("centre", as_points([(0, 402), (0, 0)]), EdgeKind.FOLD),
    )
    back = true_dart(
        Piece(
            "Back",
            edges,
            grain=Grain((30.0, 60.0), (30.0, 300.0)),
            grain_rule=GrainRule.ONE_WAY,
            count=Count(1, 0),
            notches=(Notch("armhole", 110.0, 2, "sleeve"),),
            darts=(Dart("waist dart", "waist", 75.0, 103.0, (90.0, 165.0)),),
            origin="drafted for bust 92, waist 72 cm",
        ),
        "waist dart",
    )
    return back, facing(back, ["neck"], 55.0, name="Back facing")


def sleeve() -> Piece:
    """Short sleeve with a double hem, lengthened by 25 mm below the underarm."""
    left: Point = (0.0, 0.0)
    right: Point = (300.0, 0.0)
    high_r, high_l, crown = (318.0, 150.0), (-18.0, 150.0), (152.0, 292.0)
    back_head = _curve(high_r, (262, 157), (246, 290), crown)
    front_head = _curve(crown, (72, 292), (46, 157.7), high_l)
    piece = Piece(
        "Sleeve",
        (
            replace(
                _edge("hem", _curve(left, (100, 12), (200, 12), right), width=2 * SEAM),
                kind=EdgeKind.HEM,
                folds_mm=(SEAM,),
            ),
            _edge("back seam", _line(right, high_r), partner="Sleeve/front seam"),
            _edge("head", as_points(np.vstack([back_head, front_head[1:]])), width=NARROW),
            _edge("front seam", _line(high_l, left), partner="Sleeve/back seam"),
        ),
        grain=Grain((150.0, 30.0), (150.0, 240.0)),
        grain_rule=GrainRule.ONE_WAY,
        count=PAIR,
        notches=(Notch("head", 110.0, 2, "back"), Notch("head", 330.0, name="front")),
        origin="drafted for an upper arm of 27 cm",
    )
    return lengthen(piece, (-50.0, 60.0), (350.0, 60.0), 25.0)


def peplum(waist_mm: float) -> tuple[Piece, Piece]:
    """Half a flared peplum on the fold at centre back, its waist made to fit, and its hem facing."""
    angle = math.radians(105.0)
    inner = waist_mm / angle
    outer = inner + 130.0

    def arc(radius: float, start: float, end: float) -> FloatArray:
        t = np.linspace(start, end, 1 + math.ceil(abs(end - start) * math.sqrt(radius / 0.16)))
        return as_points(radius * np.column_stack([np.sin(t), -np.cos(t)]))

    hem, waist = arc(outer, 0.0, angle), arc(inner, angle, 0.0)
    piece = Piece(
        "Peplum",
        (
            replace(_edge("hem", hem, width=2 * NARROW), kind=EdgeKind.HEM),
            _edge("front", _line(tuple(hem[-1]), tuple(waist[0])), width=NARROW),
            _edge("waist", waist, partner=WAISTS),
            Edge("centre back", as_points([waist[-1], hem[0]]), EdgeKind.FOLD),
        ),
        grain=Grain((12.0, -outer + 20.0), (12.0, -inner - 20.0)),
        grain_rule=GrainRule.ONE_WAY,
        count=Count(1, 0),
        notches=(Notch("waist", STAND_MM, name="centre"),),
        origin="drafted to the waist of bodice fronts and back",
    )
    faced, made = hem_facing(piece, "hem", 40.0, _add(NARROW), name="Peplum hem facing")
    # Joined and turned: the point at the front is cut off, so that it turns out sharp.
    return _trimmed(faced, "hem"), made


def style() -> Style:
    """The whole bodice."""
    side_front, front, front_facing = fronts()
    side = side_front.edge("side").length_mm
    shoulder = side_front.edge("shoulder").length_mm if _has(side_front, "shoulder") else 0.0
    shoulder += front.edge("shoulder").length_mm if _has(front, "shoulder") else 0.0
    back, back_facing = backs(side, shoulder)
    # The back facing is cut whole, from a piece too small to be folded.
    back_facing = unfold(back_facing)
    dart = back.darts[0]
    waist = (
        back.edge("waist").length_mm
        - (dart.second_mm - dart.first_mm)
        + side_front.edge("waist").length_mm
        + front.edge("waist").length_mm
    )
    skirt, hem_facing = peplum(waist)
    # Drawn as it is ironed on: seen on the wrong side.
    interfacing = replace(mirror(front_facing), name="Front interfacing", cloth="interfacing")
    # The waist seam is pressed up: it lies on the bodice, and the peplum hangs from it.
    front, side_front, back = (
        _pressed(p, "waist", Pressed.TOWARDS) for p in (front, side_front, back)
    )
    skirt = _pressed(skirt, "waist", Pressed.AWAY)
    pieces = (
        front,
        side_front,
        back,
        sleeve(),
        skirt,
        front_facing,
        back_facing,
        hem_facing,
        interfacing,
    )
    return Style("Bodice of the miller's daughter", pieces, NOTE, MEASURES)


MEASURES: Final = (
    # Both stands overlap at the front: their widths are no ease.
    BodyMeasure("waist", 720.0, 20.0 + 2 * STAND_MM, leave_out=("Peplum",)),
)

NOTE: Final = (
    "Side dart moved into a panel line, front split, stand and facings made from it; side seams have "
    "20 mm of inlay. Brocade: every piece one way."
)


def _has(piece: Piece, edge: str) -> bool:
    return any(e.name == edge for e in piece.edges)


def _trimmed(piece: Piece, edge: str) -> Piece:
    return replace(
        piece,
        edges=tuple(replace(e, corner=Corner.BLUNT) if e.name == edge else e for e in piece.edges),
    )


def _pressed(piece: Piece, edge: str, how: Pressed = Pressed.OPEN) -> Piece:
    return replace(
        piece,
        edges=tuple(replace(e, pressed=how) if e.name == edge else e for e in piece.edges),
    )


def _add(width: float) -> Allowance:
    return Allowance(AllowanceState.ADD, width)


def _edge(
    name: str,
    points: FloatArray,
    *,
    width: float = SEAM,
    partner: str | tuple[str, ...] = (),
    inlay: float = 0.0,
    pressed: Pressed = Pressed.UNSAID,
) -> Edge:
    partners = (partner,) if isinstance(partner, str) else partner
    return Edge(
        name, points, allowance=_add(width), partners=partners, inlay_mm=inlay, pressed=pressed
    )


def _line(*points: Point) -> FloatArray:
    return as_points(points)


def _beside(seam: FloatArray, distance: float) -> Point:
    """The point ``distance`` from a seam's end, square to it on its left: a curve that leaves towards
    it runs on smoothly into one that leaves the seam's other side so."""
    x, y = seam[-1] - seam[-2]
    length = math.hypot(x, y)
    return float(seam[-1, 0] - y / length * distance), float(seam[-1, 1] + x / length * distance)


def _curve(a: Point, b: Point, c: Point, d: Point) -> FloatArray:
    p = [np.array(x, dtype=float) for x in (a, b, c, d)]
    return as_points(np.vstack([p[0], flatten_cubic(*p)]))
