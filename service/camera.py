"""Calibration by photographs as the page sees it: a look at each photo, then one map of them all.

Nothing is kept between the two: what a look found goes back to the page, which shows it over the
photo and sends it again with the others when the person is content.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from calibration.boards import Board, MeasuredLength, Pattern, measured_board, pattern
from calibration.camera import Fit, fit_map
from calibration.corners import Corners, Seen
from nesting.units import parse_length
from service.detection import detect_in_photo
from service.errors import RefusedError
from service.schemas_camera import (
    BoardWish,
    CornersWire,
    LookView,
    LookWish,
    OverSquares,
    PhotoMapWish,
    SeenWire,
)


def board_of(wish: BoardWish) -> Board:
    """The board as measured. Raises BoardError, or RefusedError for a length that cannot be read."""
    columns, rows = wish.corners
    along, across = (
        _measured(side, name, wish.unit)
        for side, name in ((wish.along, "along"), (wish.across, "across"))
    )
    return measured_board(columns, rows, along, across)


def look(data: bytes, wish: LookWish, *, where: str) -> LookView:
    """What a photo shows. Raises PhotoError or DetectionError with the reason and the way out.

    Blocks for as long as the detection takes: call it off the event loop.
    """
    thrown = pattern(wish.canvas, hole_squares=wish.hole)
    seen = detect_in_photo(
        data, board_of(wish.board), thrown, where=where, allow_missing=not wish.both
    )
    return LookView(seen=seen_out(seen), words=seen_words(seen, wish.board, thrown))


def map_by_photos(wish: PhotoMapWish) -> dict[str, Any]:
    """The data of a map to keep. Raises FitError when the photos do not hang together."""
    thrown = pattern(wish.canvas, hole_squares=wish.hole)
    board = board_of(wish.board)
    photos = [_seen_in(s, board, thrown, f"photo {i + 1}") for i, s in enumerate(wish.photos)]
    fit = fit_map(photos, board, thrown, fixed_camera=wish.fixed_camera)
    if fit.table_map is None:
        raise RefusedError(
            "no photo shows the lit pattern, so there is nothing to tie the light to the table",
            code="camera.no_light",
            where="photos",
            hint="Photograph the sheet lying in the white place with the pattern lit around it.",
        )
    return {
        "map": fit.table_map.to_dict(),
        "dpr": wish.dpr,
        "screen": wish.screen,
        "crosses": {},
        "residuals": [],
        "words": _fit_words(fit),
    }


def _measured(side: OverSquares, name: str, unit: str) -> MeasuredLength:
    try:
        return MeasuredLength(side.squares, parse_length(side.length, unit=unit))
    except Exception as error:
        raise RefusedError(
            f"the board's length {name}: {error}",
            code="board.reading",
            where=name,
            hint="Write it as 380.6, 38.06 cm or 14 31/32 in.",
        ) from error


def seen_words(seen: Seen, board: BoardWish, thrown: Pattern) -> list[str]:
    """How much of each board was found."""
    columns, rows = board.corners
    words = []
    if seen.printed is not None:
        words.append(f"The sheet: {len(seen.printed.ids)} of {columns * rows} corners found.")
    if seen.thrown is not None:
        words.append(
            f"The light: {len(seen.thrown.ids)} of {len(thrown.corner_ids)} corners found."
        )
    return words


def _fit_words(fit: Fit) -> list[str]:
    return [*fit.words, f"The sheet's own corners are met to {fit.printed_rms_mm:.2f} mm."]


def seen_out(seen: Seen) -> SeenWire:
    """What a photo shows, as the page draws it."""
    return SeenWire(
        size_px=seen.size_px, printed=_corners_out(seen.printed), thrown=_corners_out(seen.thrown)
    )


def _corners_out(corners: Corners | None) -> CornersWire | None:
    if corners is None:
        return None
    return CornersWire(
        camera_px=[(float(x), float(y)) for x, y in corners.camera_px],
        ids=[int(i) for i in corners.ids],
        contrast=float(corners.contrast),
        square_px=float(corners.square_px),
        edge_px=float(corners.edge_px),
    )


def _seen_in(seen: SeenWire, board: Board, thrown: Pattern, where: str) -> Seen:
    """A look as the page sent it back, checked: numbers that are no corners are refused."""
    printed = _corners_in(seen.printed, set(range(board.columns * board.rows)), where)
    light = _corners_in(seen.thrown, {int(i) for i in thrown.corner_ids}, where)
    return Seen(seen.size_px, printed, light)


def _corners_in(wire: CornersWire | None, known: set[int], where: str) -> Corners | None:
    if wire is None:
        return None
    ids = np.array(wire.ids, dtype=np.int64)
    if (
        len(wire.camera_px) != len(ids)
        or len(set(wire.ids)) != len(ids)
        or not known >= set(wire.ids)
    ):
        raise RefusedError(
            f"{where} was looked at with another board or on another screen",
            code="camera.stale",
            where=where,
            hint="Let it be looked at again.",
        )
    return Corners(
        np.array(wire.camera_px, dtype=np.float64).reshape(-1, 2),
        ids,
        wire.contrast,
        wire.square_px,
        wire.edge_px,
    )
