"""Boards: the checkerboard that is printed and measured, and the pattern that is thrown on the table.

The printed board is a plain checkerboard; the thrown one has a small square code in each white
square, so that the two can never be taken for each other and each thrown corner is known by number,
however the camera stands and whatever is hidden.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import cv2
import numpy as np
from numpy.typing import NDArray

from calibration.errors import BoardError
from calibration.homography import Array

Image = NDArray[np.uint8]

FEWEST_CORNERS, MOST_CORNERS = 3, 40
"""Inner corners along a side: OpenCV wants 3 or more, and no sheet carries more than 40."""

WHITE_MARGIN = 0.8
"""White around the squares, in squares: with less the second detector misses perfect boards."""

CODE_SHARE = 0.6
"""Side of a code in its white square: leaves a fifth of a square free around every corner, so that
the code's edges stay out of the window in which the corner is refined."""

CODE_MODULES = 6
"""Modules along a code's side: 4 x 4 bits and a black border."""

CODES = 250
"""Codes in the dictionary."""

RULER_SIGMA_MM = 0.2
"""Standard error of a length read on paper with a steel rule, both ends together."""

LEAST_MEASURED_MM = 50.0
"""A shorter length says too little of the scale: 0.2 mm on 50 mm is 0.4 per cent."""


@dataclass(frozen=True, slots=True)
class Board:
    """A printed checkerboard: inner corners along x and y, and its squares as measured, mm.

    Frame: x along the row of ``columns`` corners, y up as in a graph, origin at the inner corner
    whose outer square is dark (see :func:`board_corners`). ``scale_sigma`` is the relative standard
    error of the square size in x and in y.
    """

    columns: int
    rows: int
    square_x_mm: float
    square_y_mm: float
    scale_sigma: tuple[float, float] = (2e-4, 2e-4)

    def __post_init__(self) -> None:
        check_counts(self.columns, self.rows)
        for name, mm in (("x", self.square_x_mm), ("y", self.square_y_mm)):
            if not (math.isfinite(mm) and 1 <= mm <= 500):
                raise BoardError(
                    f"A square is 1 to 500 mm wide; {mm:.3g} mm came for {name}.",
                    code="board.square",
                    where=f"measured {name}",
                    hint="Measure over several squares and type how many and how long.",
                )


@dataclass(frozen=True, slots=True)
class MeasuredLength:
    """``squares`` of a print, one after the other, measure ``mm`` in all."""

    squares: int
    mm: float


@dataclass(frozen=True, slots=True)
class Sheet:
    """A board to print: all in mm from the sheet's lower left corner, y up.

    ``black`` (N, 4): x, y, width, height of each dark square. ``rulers``: the two lines to measure,
    each from the first to the last edge of ``ruler_squares`` squares.
    """

    paper: str
    width_mm: float
    height_mm: float
    columns: int
    rows: int
    square_mm: float
    black: tuple[tuple[float, float, float, float], ...]
    rulers: tuple[tuple[tuple[float, float], tuple[float, float]], ...]
    ruler_squares: tuple[int, int]


PAPERS: dict[str, tuple[float, float]] = {
    "A4": (297.0, 210.0),
    "A3": (420.0, 297.0),
    "Letter": (279.4, 215.9),
}
"""Sheets lying on their long side, mm (ISO 216; Letter is 11 by 8.5 inches, ANSI/ASME Y14.1)."""


def measured_board(columns: int, rows: int, along: MeasuredLength, across: MeasuredLength) -> Board:
    """The board as it came out of the printer, from a length measured along x and one along y.

    Raises BoardError when a length is not one, or implies a print that is badly stretched.
    """
    check_counts(columns, rows)
    for name, length, most in (("x", along, columns + 1), ("y", across, rows + 1)):
        if not 1 <= length.squares <= most:
            raise BoardError(
                f"The board has {most} squares along {name}; {length.squares} were measured.",
                code="board.measured",
                where=f"measured {name}",
                hint=f"Count the squares between the two ends of the rule; at most {most}.",
            )
        if not (math.isfinite(length.mm) and length.mm >= LEAST_MEASURED_MM):
            raise BoardError(
                f"The length measured along {name} is {length.mm:g} mm; {LEAST_MEASURED_MM:.0f} mm "
                "or more are needed.",
                code="board.measured",
                where=f"measured {name}",
                hint="Measure over as many squares as the rule will span.",
            )
    x, y = along.mm / along.squares, across.mm / across.squares
    if abs(x / y - 1) > 0.03:
        raise BoardError(
            f"By these lengths a square is {x:.2f} mm along and {y:.2f} mm across.",
            code="board.stretched",
            where="measured y",
            hint="Count the squares measured again; print without fitting to the page.",
        )
    sigma = (RULER_SIGMA_MM / along.mm, RULER_SIGMA_MM / across.mm)
    return Board(columns, rows, x, y, sigma)


def check_counts(columns: int, rows: int) -> None:
    """Raise BoardError unless the inner corner counts make a board that has one way up."""
    for n in (columns, rows):
        if not FEWEST_CORNERS <= n <= MOST_CORNERS:
            raise BoardError(
                f"A board has {FEWEST_CORNERS} to {MOST_CORNERS} inner corners a side; "
                f"{columns} x {rows} came.",
                code="board.counts",
                where="board",
                hint="Count the points where four squares meet, not the squares.",
            )
    if (columns + rows) % 2 == 0:
        raise BoardError(
            f"A board of {columns} x {rows} inner corners looks the same turned by half a turn.",
            code="board.symmetric",
            where="board",
            hint="Use one odd and one even count, such as 9 x 6.",
        )


def board_corners(board: Board) -> Array:
    """Inner corners (columns * rows, 2) in mm: row by row from the top left one at (0, 0).

    The board is held so that the square beyond the top left inner corner is dark; rows then run
    down, so y is 0 and below.
    """
    i, j = np.meshgrid(np.arange(board.columns), np.arange(board.rows))
    return np.stack([i.ravel() * board.square_x_mm, -j.ravel() * board.square_y_mm], axis=1)


def board_outline(board: Board) -> Array:
    """The checkered area (4, 2), mm, counter-clockwise: one square beyond the inner corners."""
    x, y = board.square_x_mm, board.square_y_mm
    left, right, top, bottom = -x, board.columns * x, y, -board.rows * y
    return np.array([(left, bottom), (right, bottom), (right, top), (left, top)])


def sheet(paper: Literal["A4", "A3", "Letter"] = "A3", columns: int = 9, rows: int = 6) -> Sheet:
    """The largest board of whole mm squares that the paper carries with its white margin."""
    if paper not in PAPERS:
        raise BoardError(
            f"There is no board for paper {paper!r}.",
            code="board.paper",
            where="paper",
            hint=f"Choose one of {', '.join(PAPERS)}.",
        )
    check_counts(columns, rows)
    width, height = PAPERS[paper]
    square = math.floor(
        min(width / (columns + 1 + 2 * WHITE_MARGIN), height / (rows + 1 + 2 * WHITE_MARGIN))
    )
    if square < 8:
        raise BoardError(
            f"{columns} x {rows} corners leave squares of {square} mm on {paper}; a photo cannot "
            "show them well.",
            code="board.paper",
            where="board",
            hint="Use fewer squares or larger paper.",
        )
    left, top = (width - (columns + 1) * square) / 2, height - (height - (rows + 1) * square) / 2
    black = tuple(
        (left + i * square, top - (j + 1) * square, float(square), float(square))
        for j in range(rows + 1)
        for i in range(columns + 1)
        if (i + j) % 2 == 0
    )
    gap = 0.5 * WHITE_MARGIN * square
    bottom, right = top - (rows + 1) * square, left + (columns + 1) * square
    rulers = (
        ((left, bottom - gap), (right, bottom - gap)),
        ((right + gap, bottom), (right + gap, top)),
    )
    return Sheet(
        paper, width, height, columns, rows, float(square), black, rulers, (columns + 1, rows + 1)
    )


@dataclass(frozen=True, slots=True, eq=False)
class Pattern:
    """What the projector throws: dark rectangles on white, and where the corners lie.

    ``black`` (N, 4): x, y, width, height in canvas px, whole numbers. ``corner_px`` (M, 2): inner
    corners in canvas px (between pixels, so whole numbers too); ``corner_ids`` (M,) their numbers.
    ``hole_px``: x, y, width, height of the white place for the printed board, or None.
    ``columns``, ``rows``: squares of the whole pattern; ``square_px`` their side.
    """

    canvas_px: tuple[int, int]
    columns: int
    rows: int
    square_px: int
    black: NDArray[np.int64]
    corner_px: Array
    corner_ids: NDArray[np.int64]
    hole_px: tuple[int, int, int, int] | None


def pattern(
    canvas_px: tuple[int, int], *, across: int = 9, hole_squares: tuple[int, int] | None = (8, 5)
) -> Pattern:
    """The coded checkerboard over the whole canvas, with a white hole in its middle or without.

    ``across`` squares fit the shorter side. The hole is for one photo that shows both boards; make
    it larger when the sheet does not fit into it. Raises BoardError when the canvas is too small or
    the hole leaves too little around it.
    """
    w, h = canvas_px
    square = min(w, h) // across
    if square < 40:
        raise BoardError(
            f"On a canvas of {w} x {h} px the squares would be {square} px; 40 are needed.",
            code="board.canvas",
            where="canvas_px",
            hint="Open the table view full screen on the projector.",
        )
    columns, rows = w // square, h // square
    if columns * rows > 2 * CODES:
        raise BoardError(
            f"A canvas of {w} x {h} px is too long for its height.",
            code="board.canvas",
            where="canvas_px",
        )
    left, top = (w - columns * square) // 2, (h - rows * square) // 2
    hole = _hole(columns, rows, hole_squares)
    dictionary = code_dictionary()
    black: list[tuple[int, int, int, int]] = []
    code = 0
    for j in range(rows):
        for i in range(columns):
            x, y = left + i * square, top + j * square
            dark = i % 2 == j % 2
            if not _in_hole(hole, i, j):
                black += [(x, y, square, square)] if dark else _code(dictionary, code, x, y, square)
            code += not dark
    corners = [
        (j * (columns - 1) + i, left + (i + 1) * square, top + (j + 1) * square)
        for j in range(rows - 1)
        for i in range(columns - 1)
        if not any(_in_hole(hole, i + a, j + b) for a in (0, 1) for b in (0, 1))
    ]
    table = np.array(corners, dtype=np.int64)
    c0, r0, c1, r1 = hole
    hole_px = (left + c0 * square, top + r0 * square, (c1 - c0) * square, (r1 - r0) * square)
    return Pattern(
        canvas_px,
        columns,
        rows,
        square,
        np.array(black, dtype=np.int64),
        table[:, 1:].astype(np.float64),
        table[:, 0],
        hole_px if hole_squares else None,
    )


def pattern_image(thrown: Pattern) -> Image:
    """The pattern as the projector shows it: (height, width), 0 dark, 255 white."""
    w, h = thrown.canvas_px
    image = np.full((h, w), 255, dtype=np.uint8)
    for x, y, width, height in thrown.black:
        image[y : y + height, x : x + width] = 0
    return image


def code_dictionary() -> cv2.aruco.Dictionary:
    """The codes: 250 of 4 x 4 bits, as published with OpenCV."""
    return cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_4X4_250)


def code_px(square_px: int) -> int:
    """Side of the code in a square of ``square_px``, a whole number of px a module."""
    return CODE_MODULES * max(1, int(CODE_SHARE * square_px) // CODE_MODULES)


def _hole(columns: int, rows: int, squares: tuple[int, int] | None) -> tuple[int, int, int, int]:
    """First and last column and row of the hole, last ones excluded; empty when there is none."""
    if squares is None:
        return (0, 0, 0, 0)
    # Same parity as the pattern puts the hole in the very middle.
    width = squares[0] + (columns - squares[0]) % 2
    height = squares[1] + (rows - squares[1]) % 2
    if min(squares) < 1 or columns - width < 4 or rows - height < 4:
        raise BoardError(
            f"A hole of {squares[0]} x {squares[1]} squares leaves too little of the "
            f"{columns} x {rows} squares around it.",
            code="board.hole",
            where="hole",
            hint="Leave two squares or more on each side; use a smaller printed board.",
        )
    c0, r0 = (columns - width) // 2, (rows - height) // 2
    return (c0, r0, c0 + width, r0 + height)


def _in_hole(hole: tuple[int, int, int, int], i: int, j: int) -> bool:
    c0, r0, c1, r1 = hole
    return c0 <= i < c1 and r0 <= j < r1


def _code(
    dictionary: cv2.aruco.Dictionary, number: int, x: int, y: int, square: int
) -> list[tuple[int, int, int, int]]:
    """Dark runs of one code, in canvas px."""
    side = code_px(square)
    module = side // CODE_MODULES
    x0, y0 = x + (square - side) // 2, y + (square - side) // 2
    bits = cv2.aruco.generateImageMarker(dictionary, number, CODE_MODULES)
    runs: list[tuple[int, int, int, int]] = []
    for row in range(CODE_MODULES):
        start = None
        for column in range(CODE_MODULES + 1):
            dark = column < CODE_MODULES and bits[row, column] == 0
            if dark and start is None:
                start = column
            elif not dark and start is not None:
                runs.append(
                    (x0 + start * module, y0 + row * module, (column - start) * module, module)
                )
                start = None
    return runs
