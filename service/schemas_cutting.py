"""The wire's shapes of a cutting in progress."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from service.schemas import LengthText, Point, Wire

Index = Annotated[int, Field(ge=0, le=100_000)]


class Walk(Wire):
    """Where the walk along the table stands."""

    view: Literal["guides", "look", "whole", "piece"]
    window: Index
    stop: Index
    approved: bool
    seen: list[Index] = Field(max_length=10_000, description="windows looked at")


class WalkWish(Wire):
    """Where a page wants to go, the number it saw, and the layout it shows."""

    number: int = Field(description="the cutting's number when the page decided")
    layout: str = Field(max_length=64)
    walk: Walk


class MarkWish(Wire):
    """A mark in the ledger. ``key`` is piece and copy, as in ``Front#1``; empty for ``done``."""

    do: Literal["cut", "take back", "spoiled", "done"]
    key: str = Field("", max_length=300)
    hand: Literal["drawn", "turned"] | None = Field(None, description="for spoiled: which hand")


class RegisterWish(Wire):
    """Where the lit crosses of a window are, and where their chalk lies, table mm, in one order."""

    window: Index
    map_id: str = Field(max_length=32, description="the map that they were lit by")
    lit: list[Point] = Field(min_length=2, max_length=9)
    chalked: list[Point] = Field(min_length=2, max_length=9)


class Registered(Wire):
    """How the cloth lies in one window: a shift and a small turn of the table frame, what they
    leave over at the crosses, and the matrix to put before ``table_from_cloth``."""

    window: int
    map_id: str
    dx_mm: float
    dy_mm: float
    turn_deg: float
    residual_mm: float
    matrix: list[list[float]]


class ClothWish(Wire):
    """The cloth as measured on the table: along both selvedges, and across the opened cloth."""

    lengths: list[LengthText] = Field(min_length=2, max_length=2)
    widths: list[LengthText] = Field(min_length=3, max_length=3)
    unit: Literal["mm", "cm", "in"] = "mm"


class ClothMeasured(Wire):
    """What was measured, and whether the layout fits."""

    lengths_mm: list[float]
    widths_mm: list[float]
    spare_length_mm: float
    spare_width_mm: float
    narrowest: int
    fits: bool
    words: str


class LookWish(Wire):
    """How the table should be lit: asked for from a hand-held page. Left out = as it is."""

    width_mm: float | None = Field(None, ge=1, le=4)
    light: Literal["white", "yellow", "blue"] | None = None
    turned: bool | None = None


class RelayWish(Wire):
    """Lay the rest again, round what is cut and round flaws found late."""

    number: int = Field(description="the cutting's number when the page decided")
    flaws: list[Annotated[list[Point], Field(min_length=3, max_length=500)]] = Field(
        default=[], max_length=50, description="outlines in cloth mm that no piece may touch"
    )
    take_back: list[Annotated[int, Field(ge=0)]] = Field(
        default=[],
        max_length=50,
        description="which of the flaws found so far are none after all, counted from 0",
    )
    keep: bool = Field(default=True, description="leave sound uncut pieces where they lie")
    seconds: float = Field(default=3.0, ge=0, le=120, description="time to search")


class LedgerLine(Wire):
    """One hand of one piece."""

    piece: str
    hand: Literal["drawn", "turned"]
    asked: int
    laid: int
    cut: int
    spoiled: int
    gap: int


class Earlier(Wire):
    """A cutting made before the rest was laid again: no longer on the layout, but it may turn out
    spoiled all the same."""

    key: str
    hands: list[Literal["drawn", "turned"]]


class CuttingView(Wire):
    """A cutting as it stands; ``number`` rises with every change."""

    number: int
    layout: str = Field(description="short name of the layout that is cut by")
    walk: Walk
    cut: list[str]
    spoiled: list[tuple[str, Literal["drawn", "turned"]]]
    earlier: list[Earlier]
    done: bool
    look: LookWish
    measured: ClothMeasured | None
    registered: list[Registered]
    lines: list[LedgerLine]
    flaws: list[list[Point]] = Field(
        description="flaws found while cutting: outlines in cloth mm that no piece touches"
    )
    holes: list[list[Point]] = Field(
        description="cut lines, cloth mm, of what was cut before the rest was laid again"
    )
    gaps_text: str = Field(examples=["Still to be cut: 1 x Front (turned over)."])


class CuttingSummary(Wire):
    """A line of the list of cuttings."""

    lay_id: str
    style: str
    cloth: str
    number: int
    done: bool
    updated: str


class CuttingList(Wire):
    """All cuttings that were begun, the one last moved first."""

    cuttings: list[CuttingSummary]
