"""``grainfold map``: photos of the table in, the table map and its error out, as JSON.

The command line's wiring calls :func:`run` with the words of the command line and prints what it
returns (``json.dumps(result)``); a CalibrationError or ServiceError is shown as usual, exit 1.

    grainfold map PHOTO... --board 9x6 --measured-x 8:200.3 --measured-y 5:125.1
        [--canvas 1920x1080] [--hole 8x5 | --hole none] [--fixed-camera]
        [--tie along-1000:1000.8] [--ply 2.5 --plies 2 --lens-height 1850 --lens-at 600:350]
        [--line along-600:600.4]... [--again MOVED [--outline PICTURE.png] [--lit PHOTO]]

Each photo shows the printed board; and the thrown pattern, in the same photo (hand-held) or, with
``--fixed-camera``, in one of its own. Without the pattern in any photo the answer holds the way
from the table into each photo and ``table_map`` is null. What follows the map is in
``map_follow_up``.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from calibration.boards import Board, MeasuredLength, Pattern, measured_board, pattern
from calibration.camera import Fit, fit_map
from calibration.errors import BoardError
from calibration.residuals import judge_map
from calibration.table_map import TableMap
from service.detection import detect_in_photo
from service.errors import RefusedError
from service.map_follow_up import FollowUp, follow_up
from service.photo_file import read_photo

DEFAULT_CANVAS = "1920x1080"
DEFAULT_HOLE = "8x5"


def run(
    photos: Sequence[Path],
    *,
    board: str,
    measured_x: str,
    measured_y: str,
    canvas: str = DEFAULT_CANVAS,
    hole: str = DEFAULT_HOLE,
    fixed_camera: bool = False,
    then: FollowUp | None = None,
) -> dict[str, Any]:
    """Read, detect, fit, and tell: a dictionary ready for JSON.

    ``board`` counts inner corners ("9x6"); ``measured_x`` and ``measured_y`` are "SQUARES:MM".
    Raises CalibrationError naming the photo or the option.
    """
    printed = read_board(board, measured_x, measured_y)
    thrown = read_pattern(canvas, hole)
    seen = [
        detect_in_photo(read_photo(p), printed, thrown, where=p.name, allow_missing=True)
        for p in photos
    ]
    fit = fit_map(seen, printed, thrown, fixed_camera=fixed_camera)
    told = describe(fit, [p.name for p in photos])
    wish = then or FollowUp()
    if fit.table_map is None:
        if wish.asked:
            raise RefusedError(
                "no photo shows the thrown pattern, so there is no map to tie, raise or check",
                where="PHOTO",
                hint="Photograph the sheet lying in the white place with the pattern lit around it.",
            )
        return told
    table_map, more = follow_up(fit.table_map, wish, printed, thrown)
    return {**told, "table_map": table_map.to_dict(), "error": _error(table_map), **more}


def read_board(board: str, measured_x: str, measured_y: str) -> Board:
    """A board from the words of the command line."""
    columns, rows = _pair(board, "--board", "9x6")
    return measured_board(
        columns, rows, _length(measured_x, "--measured-x"), _length(measured_y, "--measured-y")
    )


def read_pattern(canvas: str, hole: str) -> Pattern:
    """The thrown pattern from the words of the command line."""
    size = _pair(canvas, "--canvas", DEFAULT_CANVAS)
    squares = None if hole == "none" else _pair(hole, "--hole", DEFAULT_HOLE)
    return pattern(size, hole_squares=squares)


def describe(fit: Fit, names: Sequence[str]) -> dict[str, Any]:
    """The fit as JSON-able data: lengths in mm, photo figures in px beside them."""
    lens = fit.camera_lens
    return {
        "table_map": None if fit.table_map is None else fit.table_map.to_dict(),
        "error": None if fit.table_map is None else _error(fit.table_map),
        "printed_rms_mm": fit.printed_rms_mm,
        "noise_ratio": fit.noise_ratio,
        "camera_lens": {
            "k1": lens.k1,
            "k2": lens.k2,
            "k3": lens.k3,
            "p1": lens.p1,
            "p2": lens.p2,
            "middle_px": list(lens.middle_px),
            "radius_px": lens.radius_px,
        },
        "photos": [
            {
                "photo": name,
                "camera_from_table": photo.camera_from_table.tolist(),
                "printed_rms_px": photo.printed_rms_px,
                "thrown_rms_px": photo.thrown_rms_px,
                "left_out": photo.left_out,
            }
            for name, photo in zip(names, fit.photos, strict=True)
        ],
        "boards": [
            {
                "outline_mm": laid.outline_mm.tolist(),
                "turn_deg": laid.turn_deg,
                "origin_mm": list(laid.origin_mm),
            }
            for laid in fit.laid
        ],
        "words": list(fit.words)
        if fit.table_map is not None
        else ["No photo shows the thrown pattern, so there is no map to the projector."],
    }


def _error(table_map: TableMap) -> dict[str, Any]:
    accuracy = table_map.accuracy
    verdict = judge_map(table_map)
    w, h = table_map.canvas_px
    corners = [(0.5, 0.5), (w - 0.5, 0.5), (w - 0.5, h - 0.5), (0.5, h - 0.5)]
    return {
        "rms_mm": accuracy.rms_mm if accuracy else None,
        "p95_mm": accuracy.p95_mm if accuracy else None,
        "max_mm": accuracy.max_mm if accuracy else None,
        "mm_per_px_at_corners": table_map.mm_per_px(corners).tolist(),
        "verified_by_tape_mm": accuracy.verified_mm if accuracy else None,
        "verdict": verdict.state,
        "words": verdict.words,
    }


def _pair(text: str, option: str, example: str) -> tuple[int, int]:
    match = re.fullmatch(r"\s*(\d{1,5})\s*[x×]\s*(\d{1,5})\s*", text)
    if match is None:
        raise BoardError(
            f"{option} wants two counts, such as {example}; {text!r} came.",
            code="board.option",
            where=option,
            hint=f"Write {option} {example}.",
        )
    return int(match[1]), int(match[2])


def _length(text: str, option: str) -> MeasuredLength:
    match = re.fullmatch(r"\s*(\d{1,3})\s*:\s*(\d+(?:\.\d+)?)\s*(?:mm)?\s*", text)
    if match is None:
        raise BoardError(
            f"{option} wants how many squares and how long they are in mm, such as 8:200.3; "
            f"{text!r} came.",
            code="board.option",
            where=option,
            hint=f"Write {option} 8:200.3.",
        )
    return MeasuredLength(int(match[1]), float(match[2]))
