"""The board laid down again: its outline is worked out, lit round it, and measured in a second photo.

A closed loop. The first photo shows the board in its new place and the thrown pattern: the map under
test says where the board lies, and already how its shape disagrees. Then bands are lit by that map in
the white margin of the print, and a second photo, in which the print is the ruler, shows how far they
fall from where they were meant: position as well as size. What it cannot tell is a print measured
wrongly, for the print is the ruler: that is the tape's to find.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from calibration import homography as plane
from calibration.boards import Board, Image, Pattern, board_corners, board_outline
from calibration.camera import Fit, fit_map
from calibration.corners import Seen, find_printed
from calibration.errors import DetectionError, FitError, MapError
from calibration.homography import Array
from calibration.photo import as_grey
from calibration.residuals import Verdict, judge_off
from calibration.rigid import Rigid, fit_rigid
from calibration.table_map import TableMap

RING = 0.72
"""Distance of the lit bands' middle from the checkered area, in squares: clear of the print's two
rulers and their words, inside the white margin of 0.8."""

BAND_MM = 2.0
"""Width of a lit band: three pixels of a usual projector, so that its middle does not wander with the
projector's gamma."""

ENDS = 0.5
"""A band stops so many squares before the ring's corners: two bands in one profile mislead."""

HALF_WINDOW = 0.13
"""How far beside its place a band is looked for, in squares; farther off are words and paper's edge."""

STEP_MM = 3.0
PROFILE_MM = 0.1
"""A profile every 3 mm along a band, read in steps of a tenth."""

SMOOTH = 9
"""Profiles averaged before the worst place is told: 27 mm, the least that shears can follow."""

GAP = 0.3
"""The first band lacks so much of its length at its beginning: a mirrored photo shows it elsewhere."""

LEAST_DEPTH = 0.15
"""A band is darker than the paper beside it by at least this share."""

LEAST_SEEN = 0.6
"""Share of a band's profiles that must show it."""

LIT_MARGIN_PX = 2.0
"""The bands stay this far inside the canvas."""

SIDES = ("near", "right", "far", "left")


@dataclass(frozen=True, slots=True, eq=False)
class Relaid:
    """The board in its new place, by the map under test.

    ``origin_mm`` and ``turn_deg`` place the board's frame on the table. ``bands_mm`` (4, 4, 2): what to
    light, table mm. ``misfit`` judges what shape and size already disagree by.
    """

    origin_mm: tuple[float, float]
    turn_deg: float
    bands_mm: Array
    misfit: Verdict


@dataclass(frozen=True, slots=True)
class OutlineRead:
    """How far the lit outline fell from where it was meant, mm, on the table as the person sees it.

    ``shift_mm``: x to the right, y away; ``grown_mm``: how much too long the light is over the board's
    two lengths (along, across); ``samples``: profiles that showed the band.
    """

    shift_mm: tuple[float, float]
    turn_deg: float
    grown_mm: tuple[float, float]
    worst_mm: float
    worst_side: str
    samples: int
    verdict: Verdict


def lay_again(
    table_map: TableMap, seen: Seen, board: Board, thrown: Pattern, *, where: str = "photo"
) -> Relaid:
    """Where the board now lies by the map under test, and what to light round it.

    The photo is solved by itself; places of the canvas over the board are taken to the table by the
    map under test, which must find them to be a board. Raises FitError when the photo gives no map of
    its own, MapError when the outline does not fall within the light.
    """
    fresh = fit_map([seen], board, thrown).table_map
    if fresh is None:
        raise FitError(
            "The new photo does not show the thrown pattern.",
            code="fit.no-pattern",
            where=where,
            hint="Take in the whole thrown pattern and the board.",
        )
    if fresh.canvas_px != table_map.canvas_px:
        raise MapError(
            f"The map is for a picture of {table_map.canvas_px[0]} x {table_map.canvas_px[1]} px; the "
            f"pattern was lit on {fresh.canvas_px[0]} x {fresh.canvas_px[1]}.",
            code="again.canvas",
            where=where,
            hint="Light the pattern on the picture that the map was made for.",
        )
    corners = board_corners(board)
    by_map = table_map.to_table(fresh.to_projector(corners))
    lies = fit_rigid(corners, by_map)
    off = float(np.linalg.norm(lies.left_mm, axis=1).max())
    misfit = judge_off(
        off, f"In shape and size the light is off by up to {off:.1f} mm on the board"
    )
    bands = _placed(lies, board)
    if not table_map.lights(bands.reshape(-1, 2), margin_px=LIT_MARGIN_PX).all():
        raise MapError(
            "The board does not lie wholly in the light, its white margin included.",
            code="again.outside",
            where=where,
            hint="Lay it farther towards the middle of the light and photograph it again.",
        )
    return Relaid(lies.shift_mm, lies.turn_deg, bands, misfit)


def measure_again(
    table_map: TableMap, seen: Seen, board: Board, thrown: Pattern, *, where: str = "photo"
) -> Verdict:
    """How far shape and size of the light disagree on a board laid down anew, from one photo alone."""
    return lay_again(table_map, seen, board, thrown, where=where).misfit


def band_lines(board: Board) -> Array:
    """Middle lines (4, 2, 2) of the bands, mm in the board's frame, counter-clockwise from below."""
    lines = _whole_lines(board)
    lines[0, 0] += GAP * (lines[0, 1] - lines[0, 0])
    return lines


def _whole_lines(board: Board) -> Array:
    ring = board_outline(board) + _beyond(board) * np.array([(-1, -1), (1, -1), (1, 1), (-1, 1)])
    stop = ENDS * np.array([board.square_x_mm, board.square_y_mm])
    lines = []
    for a, b in zip(ring, np.roll(ring, -1, axis=0), strict=True):
        way = (b - a) / np.hypot(*(b - a))
        inset = float(np.abs(way) @ (stop + _beyond(board)))
        lines.append((a + inset * way, b - inset * way))
    return np.array(lines, dtype=np.float64)


def outline_picture(table_map: TableMap, bands_mm: Array) -> Image:
    """What the page lights: the bands dark on white, over the whole canvas, edges smoothed."""
    width, height = table_map.canvas_px
    fine = 4
    picture = np.full((height, width), 255, np.uint8)
    shift = 8
    for band in bands_mm:
        ring = np.concatenate(
            [
                a + np.linspace(0, 1, 33)[:-1, None] * (b - a)
                for a, b in zip(band, np.roll(band, -1, axis=0), strict=True)
            ]
        )
        px = table_map.to_projector(ring)
        low = np.floor(px.min(axis=0)).astype(int) - 1
        high = np.ceil(px.max(axis=0)).astype(int) + 2
        x0, y0 = (int(n) for n in np.maximum(low, 0))
        x1, y1 = (int(n) for n in np.minimum(high, (width, height)))
        tile = np.full((fine * (y1 - y0), fine * (x1 - x0)), 255, np.uint8)
        at = np.round((fine * (px - (x0, y0)) - 0.5) * (1 << shift)).astype(np.int32)
        cv2.fillPoly(tile, [at], 0, lineType=cv2.LINE_8, shift=shift)
        small = cv2.resize(tile, (x1 - x0, y1 - y0), interpolation=cv2.INTER_AREA)
        picture[y0:y1, x0:x1] = np.minimum(picture[y0:y1, x0:x1], small)
    return picture


def outline_png(table_map: TableMap, bands_mm: Array) -> bytes:
    """The same picture as a PNG file, to be shown pixel for pixel."""
    done, data = cv2.imencode(".png", outline_picture(table_map, bands_mm))
    assert done
    return data.tobytes()


def read_outline(
    image: NDArray[np.uint8], board: Board, *, turn_deg: float = 0.0, where: str = "photo"
) -> OutlineRead:
    """Measure the lit bands in a photo of the board, grey or colour.

    ``turn_deg``: how the board lies, for the words. Raises DetectionError when the board is not found,
    or a band is not seen where it can only be missed by being far off.
    """
    grey = as_grey(image, where=where)
    printed = find_printed(grey, board, where=where)
    size = (grey.shape[1], grey.shape[0])
    fit = fit_map([Seen(size, printed, None)], board, None)
    light = (grey.astype(np.float32) / 255.0) ** 2.2
    places, normals, off, side = _profiles(light, fit, board, where, turn_deg)
    middle = board_outline(board).mean(axis=0)
    shift, turn, grown = _as_one_move(places - middle, normals, off)
    smooth, at = _smoothed(off, side)
    far = int(np.argmax(np.abs(smooth)))
    worst = float(abs(smooth[far]))
    place = _place_words(places[at[far]] - middle, normals[at[far]], board, turn_deg)
    t = math.radians(turn_deg)
    seen_shift = (
        float(math.cos(t) * shift[0] - math.sin(t) * shift[1]),
        float(math.sin(t) * shift[0] + math.cos(t) * shift[1]),
    )
    length = np.ptp(board_outline(board), axis=0)
    return OutlineRead(
        seen_shift,
        math.degrees(turn),
        (float(grown[0] * length[0]), float(grown[1] * length[1])),
        worst,
        place,
        len(off),
        judge_off(
            worst, f"The lit outline lies up to {worst:.1f} mm from where it should, most {place}"
        ),
    )


def _beyond(board: Board) -> Array:
    return RING * np.array([board.square_x_mm, board.square_y_mm])


def _placed(lies: Rigid, board: Board) -> Array:
    """The four bands (4, 4, 2) as polygons on the table, mm."""
    bands = []
    for a, b in band_lines(board):
        way = (b - a) / np.hypot(*(b - a))
        side = 0.5 * BAND_MM * np.array([-way[1], way[0]])
        bands.append(lies.apply([a - side, b - side, b + side, a + side]))
    return np.array(bands)


def _profiles(
    light: NDArray[np.float32], fit: Fit, board: Board, where: str, turn_deg: float
) -> tuple[Array, Array, Array, NDArray[np.int64]]:
    """Nominal places (N, 2), outward normals (N, 2), how far outside the band lies (N,) mm, side (N,)."""
    half = HALF_WINDOW * min(board.square_x_mm, board.square_y_mm)
    parts: list[tuple[Array, Array, Array, NDArray[np.int64]]] = []
    for number, (a, b) in enumerate(band_lines(board)):
        places, normal, found = _along(light, fit, a, b, half, where)
        seen = np.isfinite(found)
        if seen.mean() < LEAST_SEEN:
            raise DetectionError(
                f"The lit line on the {_side_name(normal, turn_deg)} side of the board is not seen "
                f"within {half - 0.5 * BAND_MM:.1f} mm of its place.",
                code="again.no-line",
                where=where,
                hint="See that the outline is lit, no shadow or glare lies on the board's white margin, "
                "and the board was not touched since the first photo. If the line is truly so far off, "
                "cut nothing by this map: make it again.",
            )
        count = int(seen.sum())
        parts.append(
            (places[seen], np.tile(normal, (count, 1)), found[seen], np.full(count, number))
        )
    whole, begun = _whole_lines(board)[0], band_lines(board)[0]
    _, _, in_gap = _along(light, fit, whole[0], begun[0], half, where)
    if np.isfinite(in_gap).mean() > 0.5:
        raise DetectionError(
            "The lit outline has no gap where it should have one: the photo is mirrored, or shows other "
            "lines than ours.",
            code="again.mirrored",
            where=where,
            hint="Switch off the camera's mirrored view, light the outline, and take the photo again.",
        )
    places, normals, off, sides = (np.concatenate(column) for column in zip(*parts, strict=True))
    return places, normals, off, sides


def _along(
    light: NDArray[np.float32], fit: Fit, a: Array, b: Array, half_mm: float, where: str
) -> tuple[Array, Array, Array]:
    """Places (N, 2) along a band, its outward normal (2,), and the band's middle (N,) outside them."""
    lies = fit.laid[0]
    t = math.radians(lies.turn_deg)
    turn = np.array([[math.cos(t), -math.sin(t)], [math.sin(t), math.cos(t)]])
    height, width = light.shape
    steps = np.arange(-half_mm, half_mm + 1e-9, PROFILE_MM)
    length = float(np.hypot(*(b - a)))
    way = (b - a) / length
    normal = np.array([way[1], -way[0]])
    places = a + np.arange(2 * BAND_MM, length - 2 * BAND_MM, STEP_MM)[:, None] * way
    grid = (places[:, None] + steps[None, :, None] * normal).reshape(-1, 2)
    table = grid @ turn.T + np.array(lies.origin_mm)
    ideal = plane.apply(fit.photos[0].camera_from_table, table)
    px = (fit.camera_lens.bend(ideal, (width, height)) - 0.5).astype(np.float32)
    if (px < 0).any() or (px > (width - 1, height - 1)).any():
        raise DetectionError(
            "The white margin of the board runs out of the photo.",
            code="again.cut-off",
            where=where,
            hint="Take in the board with its whole margin, and some table round it.",
        )
    x, y = (np.ascontiguousarray(px[:, k].reshape(len(places), -1)) for k in (0, 1))
    tone = cv2.remap(light, x, y, cv2.INTER_LINEAR).astype(np.float64)
    return places, normal, _band_middles(tone, steps)


def _band_middles(tone: Array, steps: Array) -> Array:
    """Middle (N,) in mm of the dark band in each profile (N, K); NaN where there is none.

    The paper beside it is the straight line through the lighter halves of both ends of the profile.
    """
    third = max(3, len(steps) // 4)
    ends = [
        np.quantile(tone[:, part], 0.7, axis=1)
        for part in (slice(None, third), slice(-third, None))
    ]
    share = (steps - steps[0]) / (steps[-1] - steps[0])
    paper = ends[0][:, None] * (1 - share) + ends[1][:, None] * share
    depth = np.clip(1 - tone / np.maximum(paper, 1e-6), 0, None)
    deepest = depth.max(axis=1)
    weight = np.clip(depth - 0.35 * deepest[:, None], 0, None)
    # Only the one dip: what is dark elsewhere in the profile is print or dirt.
    at = np.argmax(depth, axis=1)
    near = np.abs(steps[None, :] - steps[at][:, None]) <= BAND_MM
    weight = weight * near
    total = weight.sum(axis=1)
    middle = np.where(total > 0, (weight * steps).sum(axis=1) / np.maximum(total, 1e-12), np.nan)
    cut = np.abs(middle) > steps[-1] - 0.5 * BAND_MM
    middle[(deepest < LEAST_DEPTH) | cut] = np.nan
    return np.asarray(middle, dtype=np.float64)


def _as_one_move(xy: Array, normals: Array, off: Array) -> tuple[Array, float, Array]:
    """Shift (2,) mm, small turn in radians and growth (2,) that explain most of the offsets (N,)."""
    columns = np.column_stack(
        [normals, normals[:, 1] * xy[:, 0] - normals[:, 0] * xy[:, 1], normals * xy]
    )
    keep = np.ones(len(off), dtype=np.bool_)
    found: Array = np.zeros(5)
    for _ in range(3):
        found = np.asarray(np.linalg.lstsq(columns[keep], off[keep], rcond=None)[0])
        left = np.abs(columns @ found - off)
        keep = left <= max(4 * float(np.median(left[keep])), 0.05)
    return found[:2], float(found[2]), found[3:]


def _smoothed(off: Array, side: NDArray[np.int64]) -> tuple[Array, NDArray[np.int64]]:
    """Medians over neighbours of one side, and the index of each one's middle."""
    values, at = [], []
    for number in range(4):
        mine = np.flatnonzero(side == number)
        n = min(SMOOTH, len(mine))
        for k in range(len(mine) - n + 1):
            values.append(float(np.median(off[mine[k : k + n]])))
            at.append(mine[k + n // 2])
    return np.array(values), np.array(at)


def _side_name(normal: Array, turn_deg: float) -> str:
    """The side of the board that a normal looks to, as the person at the near side sees it."""
    angle = math.degrees(math.atan2(normal[1], normal[0])) + turn_deg
    return SIDES[round((angle + 90) / 90) % 4]


def _place_words(xy: Array, normal: Array, board: Board, turn_deg: float) -> str:
    """`on the far side, towards its right end`: a place on the ring about the board's middle."""
    name = _side_name(normal, turn_deg)
    t = math.radians(turn_deg)
    x, y = xy[0] * math.cos(t) - xy[1] * math.sin(t), xy[0] * math.sin(t) + xy[1] * math.cos(t)
    reach = 0.5 * float(
        np.abs(np.ptp(board_outline(board), axis=0) @ np.array([-normal[1], normal[0]]))
    )
    lengthwise = x if name in ("near", "far") else y
    ends = ("left", "right") if name in ("near", "far") else ("near", "far")
    if abs(lengthwise) < reach / 3:
        return f"at the middle of its {name} side"
    return f"on its {name} side, towards the {ends[int(lengthwise > 0)]} end"
