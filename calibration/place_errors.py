"""How true a table map is place by place: the stated error on a grid over the canvas."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from calibration.homography import Array

COLUMNS, ROWS = 17, 11
"""Places over the canvas at which the error is stated."""


@dataclass(frozen=True, slots=True, eq=False)
class PlaceErrors:
    """Stated error in mm on a grid of ``COLUMNS`` x ``ROWS`` places from corner to corner.

    ``stated_mm`` (N,) row by row from the canvas' upper left: the true error stays below it nine
    times in ten. ``shape_mm`` (N,) is the same with the common scale left out, None where it is not
    known. ``boards_px`` are outlines (4, 2) of the board as it lay, in canvas px.
    """

    stated_mm: Array
    shape_mm: Array | None = None
    boards_px: tuple[Array, ...] = ()

    def __post_init__(self) -> None:
        for values in (self.stated_mm, self.shape_mm):
            if values is not None and values.shape != (COLUMNS * ROWS,):
                raise ValueError(f"{COLUMNS * ROWS} errors are expected, {values.shape} came")

    def to_dict(self) -> dict[str, Any]:
        """JSON-able form, to a thousandth of a mm and a hundredth of a px."""
        return {
            "stated_mm": np.round(self.stated_mm, 3).tolist(),
            "shape_mm": None if self.shape_mm is None else np.round(self.shape_mm, 3).tolist(),
            "boards_px": [np.round(board, 2).tolist() for board in self.boards_px],
        }


def grid(canvas_px: tuple[int, int]) -> Array:
    """The places (COLUMNS * ROWS, 2) on the canvas, px, row by row from the upper left."""
    gx, gy = np.meshgrid(np.linspace(0, canvas_px[0], COLUMNS), np.linspace(0, canvas_px[1], ROWS))
    return np.stack([gx.ravel(), gy.ravel()], axis=1)


def from_dict(data: Mapping[str, Any]) -> PlaceErrors:
    """Of its dictionary form. Raises KeyError, TypeError or ValueError."""
    shape = data["shape_mm"]
    return PlaceErrors(
        np.array(data["stated_mm"], dtype=np.float64),
        None if shape is None else np.array(shape, dtype=np.float64),
        tuple(np.array(b, dtype=np.float64).reshape(4, 2) for b in data["boards_px"]),
    )
