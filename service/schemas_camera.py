"""The wire's shapes for calibration by photographs. Lengths mm; places in photo or canvas px."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from service.schemas import LengthText, Point, Wire
from service.schemas_maps import Canvas

Counts = tuple[Annotated[int, Field(ge=2, le=40)], Annotated[int, Field(ge=2, le=40)]]


class OverSquares(Wire):
    """What a rule said over a number of squares of the print, first edge to last."""

    squares: int = Field(ge=1, le=41, examples=[10])
    length: LengthText = Field(examples=["380.6", "14 31/32 in"])


class BoardWish(Wire):
    """The printed board: inner corners, and its size as measured both ways. What was meant to be
    printed is never believed."""

    corners: Counts = Field(examples=[(9, 6)], description="points where four squares meet")
    along: OverSquares = Field(description="along the row of the first count")
    across: OverSquares
    unit: Literal["mm", "cm", "in"] = Field("mm", description="unit of a bare number")


class PatternView(Wire):
    """What the page lights: dark rectangles (x, y, width, height) on white, device px."""

    canvas: tuple[int, int]
    black: list[tuple[int, int, int, int]]
    hole: tuple[int, int, int, int] | None = Field(description="the white place for the sheet")


class CornersWire(Wire):
    """Corners found in a photo, with their numbers; as given by /look, to be sent back unchanged."""

    camera_px: list[Point] = Field(max_length=2000)
    ids: list[int] = Field(max_length=2000)
    contrast: float
    square_px: float
    edge_px: float


class SeenWire(Wire):
    """What one photo shows."""

    size_px: tuple[
        Annotated[int, Field(ge=16, le=60000)],
        Annotated[int, Field(ge=16, le=60000)],
    ]
    printed: CornersWire | None
    thrown: CornersWire | None


class LookWish(Wire):
    """How to look at a photo."""

    canvas: Canvas = Field(examples=[(1920, 1080)])
    board: BoardWish
    hole: Counts | None = Field((8, 5), description="squares of the white place; null: none")
    both: bool = Field(True, description="refuse a photo that shows only one of the two")


class LookView(Wire):
    """What was found, to be drawn over the photo."""

    seen: SeenWire
    words: list[str]


class PhotoMapWish(Wire):
    """Photos as they were seen, and the map to be made of them."""

    name: str = Field("", max_length=200)
    canvas: Canvas
    dpr: float = Field(1.0, gt=0, le=16)
    screen: str = Field("", max_length=200)
    board: BoardWish
    hole: Counts | None = (8, 5)
    fixed_camera: bool = Field(False, description="the camera stood still between the photos")
    photos: list[SeenWire] = Field(min_length=1, max_length=24)
