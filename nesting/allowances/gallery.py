"""One example of every corner and dart treatment, made by the code itself: values for a page to draw.

The page "How edges become cut lines" shows, for each example, the net line and the cut line of its
cut piece, and where the allowance lies when it is folded as it will be sewn.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from nesting.allowances.cut_piece import CutPiece
from nesting.allowances.make import cut_piece
from nesting.lines import mirrored_across
from nesting.pieces.outline import (
    NO_ALLOWANCE,
    Allowance,
    AllowanceState,
    Corner,
    Edge,
    EdgeKind,
    Pressed,
)
from nesting.pieces.piece import Dart, DartFold, Grain, Notch, Piece, Point
from nesting.pieces.stand import add_buttons, add_stand
from nesting.polygon import FloatArray, as_points


@dataclass(frozen=True, slots=True, eq=False)
class Example:
    """One treatment: a stable ``code``, a title, two or three sentences, the cut piece, and the
    allowance as it lies when folded (closed lines (N, 2) in the piece's frame)."""

    code: str
    title: str
    text: str
    cut: CutPiece
    folded: tuple[FloatArray, ...] = ()


def examples() -> tuple[Example, ...]:
    """Every example, corners first, in the order in which they are read."""
    return tuple(make() for make in _EXAMPLES)


def _mitre() -> Example:
    return Example(
        "mitre",
        "Mitre",
        "Both allowances run on until they meet. So are all corners cut that are neither very sharp "
        "nor folded back.",
        cut_piece(_corner(100, 15, 15)),
    )


def _sharp_point() -> Example:
    return Example(
        "sharp-point",
        "Sharp point",
        "A mitre longer than three times the wider allowance is cut off square: cloth beyond it would "
        "only be in the way.",
        cut_piece(_corner(28, 12, 12)),
    )


def _mitre_said() -> Example:
    return Example(
        "sharp-point-mitred",
        "Sharp point, mitre asked for",
        "Where the corner says mitre, the point is kept as long as it is.",
        cut_piece(_corner(28, 12, 12, Corner.MITRE)),
    )


def _blunt() -> Example:
    return Example(
        "blunt",
        "Blunt point",
        "Where the corner says blunt, the point is cut off one width beyond the net corner, as for a "
        "collar that is turned.",
        cut_piece(_corner(70, 12, 12, Corner.BLUNT)),
    )


def _step() -> Example:
    return Example(
        "step",
        "Step",
        "Where a wide allowance meets a narrow one on a nearly straight line, the wide one ends square "
        "at the corner.",
        cut_piece(_corner(165, 30, 10)),
    )


def _square_ends() -> Example:
    return Example(
        "square",
        "Square end, asked for",
        "Where the corner says step, the wider allowance ends square at the corner at any angle.",
        cut_piece(_corner(125, 30, 10, Corner.STEP)),
    )


def _hollow() -> Example:
    points = [(0, 0), (170, 0), (170, 70), (80, 70), (80, 150), (0, 150)]
    return Example(
        "hollow",
        "Hollow corner",
        "At a hollow corner both allowances keep their width and meet; the corner is clipped along the "
        "line, to 2 mm before the seam.",
        cut_piece(_polygon("Hollow", points, [15] * 6)),
    )


def _stepping_seam() -> Example:
    zipped = Allowance(AllowanceState.ADD, 10, steps=((80.0, 20.0),))
    piece = _panel(0.0, hem=30)
    edges = (
        piece.edges[0],
        replace(piece.edges[1], allowance=zipped),
        *piece.edges[2:],
    )
    return Example(
        "stepping-seam",
        "Seam that steps",
        "One seam may be wider for a stretch, as beside a zip.",
        cut_piece(replace(piece, name="Zip seam", edges=edges)),
    )


def _tapering_seam() -> Example:
    taper = Allowance(AllowanceState.ADD, 10, end_width_mm=30)
    piece = _panel(0.0, hem=30)
    edges = (piece.edges[0], replace(piece.edges[1], allowance=taper), *piece.edges[2:])
    return Example(
        "changing-width",
        "Width that changes",
        "The allowance may grow evenly from one end of an edge to the other, as at a centre back seam.",
        cut_piece(replace(piece, name="Changing width", edges=edges)),
    )


def _inlay() -> Example:
    piece = _panel(0.0, hem=30)
    edges = (piece.edges[0], replace(piece.edges[1], inlay_mm=25.0), *piece.edges[2:])
    return Example(
        "inlay",
        "Inlay",
        "Extra to let out later lies outside the allowance and is marked by a line of its own.",
        cut_piece(replace(piece, name="Inlay", edges=edges)),
    )


def _flared_hem() -> Example:
    piece = _panel(-0.25, hem=40)
    return Example(
        "hem-flared",
        "Hem of a flared piece",
        "The hem is turned up along the hem line, so its ends are the sides' mirror images: here they "
        "slope inwards.",
        cut_piece(piece),
        _turned_up(piece, 40),
    )


def _tapered_hem() -> Example:
    piece = _panel(0.25, hem=40)
    return Example(
        "hem-tapered",
        "Hem of a tapered piece",
        "Of a leg or sleeve that narrows downwards the mirror image slopes outwards; without it the "
        "turned hem would be too tight.",
        cut_piece(piece),
        _turned_up(piece, 40),
    )


def _double_hem() -> Example:
    piece = _panel(-0.25, hem=60, folds=(30.0,))
    return Example(
        "hem-double",
        "Double hem",
        "A hem turned twice is mirrored at each of its folds.",
        cut_piece(piece),
        _turned_up(piece, 60),
    )


def _curved_hem() -> Example:
    t = np.linspace(-1.0, 1.0, 41)
    low = [(100.0 + 100.0 * x, 5.0 * (x * x - 1.0)) for x in t.tolist()]
    piece = _panel(-0.12, hem=18)
    hem = replace(piece.edges[0], points=as_points(low))
    return Example(
        "hem-curved",
        "Curved hem",
        "A curved hem is turned up along its curve; its raw edge is a little longer than where it will "
        "lie, and is eased in. Its ends are the sides' mirror images, drawn on straight.",
        cut_piece(replace(piece, name="Curved hem", edges=(hem, *piece.edges[1:]))),
    )


def _shoulder(pressed: Pressed) -> tuple[Piece, Edge]:
    points = [(0, 0), (190, 0), (190, 60), (150, 130), (30, 165), (0, 120)]
    piece = _polygon("Shoulder", points, [10, 10, 10, 18, 6, 10])
    shoulder = replace(piece.edges[3], name="shoulder", pressed=pressed)
    return replace(piece, edges=(*piece.edges[:3], shoulder, *piece.edges[4:])), shoulder


def _pressed_seam() -> Example:
    piece, shoulder = _shoulder(Pressed.OPEN)
    cut = cut_piece(piece)
    return Example(
        "seam-pressed",
        "Seam pressed open",
        "The ends of a seam that is pressed open are mirrored too, so that they lie inside the "
        "armhole and neck they are caught in.",
        cut,
        (_beyond(cut.cut_line, shoulder.points),),
    )


def _pressed_towards() -> Example:
    piece, shoulder = _shoulder(Pressed.TOWARDS)
    cut = cut_piece(piece)
    return Example(
        "seam-towards",
        "Seam pressed towards this piece",
        "Both allowances lie on this piece: its own is shaped as if the seam were pressed open.",
        cut,
        (_beyond(cut.cut_line, shoulder.points),),
    )


def _pressed_away() -> Example:
    return Example(
        "seam-away",
        "Seam pressed away from this piece",
        "The allowance lies under the other piece, whose edges run on from this one's: it is mitred.",
        cut_piece(_shoulder(Pressed.AWAY)[0]),
    )


def _turns_back_said() -> Example:
    points = [(0, 0), (190, 0), (160, 120), (0, 150)]
    piece = _polygon("Yoke", points, [10, 14, 14, 10])
    side = replace(piece.edges[1], name="side", pressed=Pressed.OPEN, corner=Corner.NEXT_TURNS_BACK)
    top = replace(piece.edges[2], name="yoke seam", pressed=Pressed.OPEN)
    piece = replace(piece, edges=(piece.edges[0], side, top, piece.edges[3]))
    return Example(
        "turns-back-said",
        "Two pressed seams at one corner",
        "The piece cannot know which of the two is sewn last: neither turns back until the corner says "
        "so. Here it says the upper one.",
        cut_piece(piece),
    )


def _on_the_fold() -> Example:
    points = [(0, 0), (120, 0), (120, 120), (0, 160)]
    piece = _polygon("Half piece", points, [30, 12, 12, 0])
    fold = replace(piece.edges[3], kind=EdgeKind.FOLD, allowance=NO_ALLOWANCE)
    return Example(
        "fold",
        "On the fold",
        "A half piece is unfolded, given its allowance whole, and folded again: nothing is added at "
        "the fold, and the neck is right across it.",
        cut_piece(replace(piece, edges=(*piece.edges[:3], fold))),
    )


def _included() -> Example:
    points = [(0, 0), (180, 0), (180, 110), (60, 140), (0, 90)]
    piece = _polygon("Drawn to cut", points, [15] * 5)
    edges = tuple(
        replace(e, allowance=replace(e.allowance, state=AllowanceState.INCLUDED))
        for e in piece.edges
    )
    return Example(
        "included",
        "Allowance in the drawing",
        "Where the drawn line has its allowance in it already, it is cut as drawn, and the net line is "
        "found inside.",
        cut_piece(replace(piece, edges=edges)),
    )


def _notches() -> Example:
    piece = _panel(0.1, hem=30)
    notches = (Notch("right", 60.0), Notch("left", 120.0, 2), Notch("waist", 70.0))
    return Example(
        "notches",
        "Notches",
        "A notch is cut square to the edge, at most 5 mm deep, and never nearer than 3 mm to the seam.",
        cut_piece(replace(piece, name="Notches", notches=notches)),
    )


def _dart(code: str, title: str, text: str, dart: Dart, top: Sequence[Point]) -> Example:
    points = as_points([(0.0, 0.0), (240.0, 0.0), *top])
    edges = (
        Edge("lower", as_points(points[:2]), allowance=_add(10)),
        Edge("right", as_points(points[1:3]), allowance=_add(10)),
        Edge("waist", as_points(points[2:]), allowance=_add(20)),
        Edge("left", as_points([points[-1], points[0]]), allowance=_add(10)),
    )
    piece = Piece(title, edges, grain=Grain((40, 20), (40, 120)), darts=(dart,))
    return Example(code, title, text, cut_piece(piece))


_FLAT: tuple[Point, ...] = ((240.0, 176.0), (136.0, 180.0), (104.0, 180.0), (0.0, 176.0))


def _dart_on(top: Sequence[Point], legs: tuple[Point, Point], point: Point, fold: DartFold) -> Dart:
    """A dart whose legs end at two points of the top edge."""
    path = as_points(top)
    steps = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(path, axis=0).T))])
    first, second = (
        float(steps[int(np.argmin(np.hypot(*(path - np.array(leg)).T)))]) for leg in legs
    )
    return Dart("dart", "waist", first, second, point, fold)


def _waist_dart() -> Example:
    legs = ((136.0, 180.0), (104.0, 180.0))
    return _dart(
        "dart",
        "Waist dart",
        "The mouth is cut as the folded dart leaves it: fold the paper, trim along the edge, open it "
        "again. Both legs are notched; the point is drilled 12 mm short.",
        _dart_on(_FLAT, legs, (120.0, 70.0), DartFold.FIRST_LEG),
        _FLAT,
    )


def _slanted_dart(code: str, title: str, text: str, fold: DartFold) -> Example:
    # Both legs are 108 mm long; the edge on either side meets them as one line when it is closed.
    legs = ((168.0, 184.0), (134.0, 194.2))
    top: tuple[Point, ...] = ((240.0, 168.0), legs[0], legs[1], (0.0, 186.0))
    return _dart(code, title, text, _dart_on(top, legs, (121.0, 87.0), fold), top)


def _slanted_first() -> Example:
    return _slanted_dart(
        "dart-slanted-first",
        "Slanted dart, pressed to its first leg",
        "A slanted dart peaks to one side, since its two halves are of different height.",
        DartFold.FIRST_LEG,
    )


def _slanted_second() -> Example:
    return _slanted_dart(
        "dart-slanted-second",
        "The same dart, pressed to its second leg",
        "Pressed the other way it wants another mouth.",
        DartFold.SECOND_LEG,
    )


def _curved_edge_dart() -> Example:
    x = np.linspace(240, 0, 49)
    y = 170 + 16 * np.sin(np.pi * x / 240)
    top = tuple((float(a), float(b)) for a, b in zip(x, y, strict=True))
    legs = (top[21], top[27])
    return _dart(
        "dart-curved-edge",
        "Dart in a curved edge",
        "The folded edge keeps its curve: each half of the mouth repeats the part of the edge that it "
        "will lie on.",
        _dart_on(top, legs, (120.0, 76.0), DartFold.FIRST_LEG),
        top,
    )


def _side_dart() -> Example:
    """Drawn lying on its side: the edge below it slopes, so its mouth slants."""
    point: Point = (110.0, 104.0)
    first: Point = (238.0, 84.0)
    reach = math.dist(first, point)
    up: Point = (point[0] + reach * math.cos(0.1), point[1] + reach * math.sin(0.1))
    side = ((230.0, 0.0), first, up, (246.0, 190.0))
    edges = (
        Edge("waist", as_points([(0, 0), side[0]]), allowance=_add(10)),
        Edge("side", as_points(side), allowance=_add(18)),
        Edge("top", as_points([side[-1], (0, 190)]), allowance=_add(10)),
        Edge("centre", as_points([(0, 190), (0, 0)]), allowance=_add(10)),
    )
    legs = math.dist(side[0], first), math.dist(first, up)
    dart = Dart("side dart", "side", legs[0], sum(legs), point, DartFold.FIRST_LEG)
    piece = Piece("Side dart", edges, grain=Grain((60, 20), (60, 160)), darts=(dart,))
    return Example(
        "dart-side",
        "Side dart, pressed down",
        "A horizontal dart is pressed down, a vertical one towards the centre (common practice); the "
        "mouth follows.",
        cut_piece(piece),
    )


def _stand() -> Example:
    t = np.linspace(0, np.pi / 2, 20)
    neck = [(70 * np.cos(a), 230 - 60 * np.sin(a)) for a in t]
    piece = Piece(
        "Front with stand",
        (
            Edge("hem", as_points([(0, 0), (150, 0)]), EdgeKind.HEM, _add(25)),
            Edge("side", as_points([(150, 0), (150, 230)]), allowance=_add(12)),
            Edge("shoulder", as_points([(150, 230), neck[0]]), allowance=_add(12)),
            Edge("neck", as_points(neck[:-1] + [(0.0, 170.0)]), allowance=_add(6)),
            Edge("centre", as_points([(0, 170), (0, 0)]), allowance=_add(10)),
        ),
        grain=Grain((110, 30), (110, 200)),
    )
    made = add_buttons(
        add_stand(piece, "centre", 20), count=3, first_mm=15, last_mm=40, diameter_mm=15
    )
    return Example(
        "stand",
        "Button stand",
        "A stand carries neck and hem on as mirror images, so that they lie on each other when it is "
        "buttoned. Horizontal buttonholes begin 3 mm beyond the centre line.",
        cut_piece(made),
    )


_EXAMPLES: tuple[Callable[[], Example], ...] = (
    _mitre,
    _sharp_point,
    _mitre_said,
    _blunt,
    _step,
    _square_ends,
    _hollow,
    _stepping_seam,
    _tapering_seam,
    _inlay,
    _flared_hem,
    _tapered_hem,
    _double_hem,
    _curved_hem,
    _pressed_seam,
    _pressed_towards,
    _pressed_away,
    _turns_back_said,
    _on_the_fold,
    _included,
    _notches,
    _waist_dart,
    _slanted_first,
    _slanted_second,
    _curved_edge_dart,
    _side_dart,
    _stand,
)


def _add(width: float) -> Allowance:
    return Allowance(AllowanceState.ADD, width)


def _polygon(name: str, points: Sequence[Point], widths: Sequence[float]) -> Piece:
    xy = as_points(points)
    edges = tuple(
        Edge(f"edge {i + 1}", as_points(xy[[i, (i + 1) % len(xy)]]), allowance=_add(w))
        for i, w in enumerate(widths)
    )
    return Piece(name, edges, grain=Grain((20.0, 20.0), (20.0, 90.0)))


def _corner(inner_deg: float, first: float, second: float, corner: Corner = Corner.AUTO) -> Piece:
    """A piece whose corner of ``inner_deg`` lies right between its first and second edge."""
    a = np.radians(180.0 - inner_deg)
    far = (160 + 130 * float(np.cos(a)), 130 * float(np.sin(a)))
    points = [(0.0, 0.0), (160.0, 0.0), far]
    if inner_deg > 60:
        points.append((0.0, max(far[1], 60.0)))
    piece = _polygon("Corner", points, [first, second, 8.0, 8.0][: len(points)])
    return replace(piece, edges=(replace(piece.edges[0], corner=corner), *piece.edges[1:]))


def _panel(lean: float, *, hem: float, folds: tuple[float, ...] = ()) -> Piece:
    """A panel 200 wide at the hem and 180 tall; its sides lean out by ``lean`` going up."""
    out = 180 * lean
    corners = [(0.0, 0.0), (200.0, 0.0), (200.0 + out, 180.0), (-out, 180.0)]
    edges = (
        Edge("hem", as_points(corners[:2]), EdgeKind.HEM, _add(hem), folds_mm=folds),
        Edge("right", as_points(corners[1:3]), allowance=_add(12)),
        Edge("waist", as_points(corners[2:4]), allowance=_add(10)),
        Edge("left", as_points([corners[3], corners[0]]), allowance=_add(12)),
    )
    return Piece("Panel", edges, grain=Grain((100, 30), (100, 150)))


def _turned_up(piece: Piece, depth: float) -> tuple[FloatArray, ...]:
    """The layers of a hem as they lie on the piece, each a closed line."""
    cut = cut_piece(piece).cut_line
    hem = piece.edge("hem")
    lines = [0.0, *hem.folds_mm]
    layers: list[FloatArray] = []
    for k in range(len(lines)):
        band = _band(cut, -lines[k], -(lines[k + 1] if k + 1 < len(lines) else depth))
        for line in reversed(lines[: k + 1]):
            at = np.array([0.0, -line])
            band = mirrored_across(band, at, at + np.array([1.0, 0.0]))
        layers.append(band)
    return tuple(layers)


def _band(ring: FloatArray, upper: float, lower: float) -> FloatArray:
    """The part of a closed line between two heights (it crosses each twice)."""
    return _clipped(_clipped(ring, upper, above=False), lower, above=True)


def _clipped(ring: FloatArray, height: float, *, above: bool) -> FloatArray:
    kept: list[FloatArray] = []
    after = np.roll(ring, -1, axis=0)
    for p, q in zip(ring, after, strict=True):
        inside_p = p[1] >= height if above else p[1] <= height
        inside_q = q[1] >= height if above else q[1] <= height
        if inside_p:
            kept.append(p)
        if inside_p != inside_q:
            kept.append(p + (q - p) * (height - p[1]) / (q[1] - p[1]))
    return as_points(np.array(kept))


def _beyond(ring: FloatArray, edge: FloatArray) -> FloatArray:
    """The part of a closed line outside an edge, mirrored in it."""
    a, b = edge[0], edge[-1]
    along = (b - a) / np.hypot(*(b - a))
    level = np.column_stack([(ring - a) @ along, (ring - a) @ np.array([-along[1], along[0]])])
    outside = _clipped(as_points(level), 0.0, above=False) * np.array([1.0, -1.0])
    return as_points(a + outside[:, :1] * along + outside[:, 1:] * np.array([-along[1], along[0]]))
