"""The wire's shapes for checks before cutting: the board laid down again, four marks. Lengths mm."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from service.schemas import LengthText, Point, Wire
from service.schemas_camera import BoardWish, Counts, SeenWire
from service.schemas_maps import MapDetail, Verdict


class AgainWish(Wire):
    """How to look at the first photo: the board in its new place, the pattern lit."""

    board: BoardWish
    hole: Counts | None = Field((8, 5), description="squares of the pattern's white place")


class RelaidView(Wire):
    """Where the board lies by the map, and what to light round it: four dark bands on white."""

    turn_deg: float
    bands: list[list[Point]] = Field(description="polygons, table mm")
    misfit_mm: float = Field(description="what shape and size of the light already disagree by")
    verdict: Verdict
    words: list[str]
    seen: SeenWire = Field(description="what was found, to be drawn over the photo")


class OutlineWish(Wire):
    """How to look at the second photo: the outline lit round the board."""

    board: BoardWish
    turn_deg: Annotated[float, Field(ge=-360, le=360)] = Field(
        description="as it came with what was to be lit"
    )


class OutlineView(Wire):
    """How far the lit outline fell from where it was meant, mm, as seen from the near side."""

    right_mm: float
    away_mm: float
    turn_deg: float
    along_mm: float = Field(description="so much too long is the light over the board's length")
    across_mm: float
    worst_mm: float
    where: str
    samples: int
    verdict: Verdict
    words: str
    map: MapDetail


class MarkPlace(Wire):
    """A mark: the pixel that is lit, and where that is on the table by the map."""

    name: str
    canvas: Point
    at: Point


class MarksView(Wire):
    """The four marks of a map."""

    made: str | None = Field(description="when they were chalked or taped on the table")
    marks: list[MarkPlace]


class MarkOffset(Wire):
    """Where the chalk lies from its light, as the person at the near side sees it."""

    mark: str = Field(max_length=8, examples=["A"])
    right: LengthText = Field(
        "0", description="with a minus: to the left", examples=["2", "-1/16 in"]
    )
    away: LengthText = Field("0", description="with a minus: towards you", examples=["-1.5"])


class MarksWish(Wire):
    """What the marks say. One that is not named is still on."""

    offsets: list[MarkOffset] = Field(default_factory=list, max_length=4)
    unit: Literal["mm", "cm", "in"] = "mm"
    looked_twice: bool = Field(
        False, description="take a mark that contradicts the other three as it was read"
    )


class MarksFound(Wire):
    """What they amount to; nothing of it is applied to the map."""

    right_mm: float = Field(description="so far the light has moved, at the marks' middle")
    away_mm: float
    turn_deg: float
    left_mm: float = Field(description="what the best shift and turn leave at a mark")
    worst_mm: float
    verdict: Verdict
    words: str
    map: MapDetail
