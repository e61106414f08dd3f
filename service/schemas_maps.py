"""The wire's shapes for calibration and projection. Lengths mm, canvas places in device px."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import Field

from service.schemas import LengthText, MarkView, Point, Wire

Matrix = list[list[float]]
Box = tuple[float, float, float, float]
Verdict = Literal["good", "warn", "not for cutting", "unchecked"]
Canvas = tuple[
    Annotated[int, Field(ge=64, le=16384)],
    Annotated[int, Field(ge=64, le=16384)],
]


class DistanceWish(Wire):
    """A tape reading between two crosses."""

    from_: str = Field(alias="from", max_length=8, examples=["A"])
    to: str = Field(max_length=8, examples=["B"])
    mm: LengthText = Field(examples=[1203.5, "120.35 cm", "47 3/8 in"])


class TapeWish(Wire):
    """Crosses as they were lit, and the distances measured between them."""

    canvas: Canvas = Field(examples=[(1920, 1080)], description="device px of the page's canvas")
    crosses: dict[str, Point] = Field(
        min_length=4,
        max_length=25,
        examples=[{"A": [115.5, 1015.5], "B": [1804.5, 1015.5]}],
        description="device px; x of the table runs from the cross `origin` to the cross `along`",
    )
    origin: str = "A"
    along: str = "B"
    distances: list[DistanceWish] = Field(max_length=400)
    unit: Literal["mm", "cm", "in"] = Field("mm", description="unit of a bare number")
    tape_sigma_mm: float = Field(0.5, gt=0, le=20)


class MapWish(TapeWish):
    """A table map to be kept, by the tape route."""

    name: str = Field("", max_length=200, examples=["cutting table, long side"])
    dpr: float = Field(1.0, gt=0, le=16)
    screen: str = Field("", max_length=200, examples=["1920 x 1080"])


class ResidualView(Wire):
    """How a tape reading was met: ``off_mm`` = typed less solved; null = nothing checks it."""

    from_: str = Field(alias="from", serialization_alias="from")
    to: str
    typed_mm: float
    solved_mm: float
    off_mm: float | None
    odd: bool


class TapeView(Wire):
    """What the distances so far say, kept nowhere."""

    settled: bool = Field(description="enough distances, and a picture that has them")
    residuals: list[ResidualView]
    again: list[tuple[str, str]] = Field(description="measure these again, most likely first")
    next: tuple[str, str] | None = Field(description="the distance that would help most")
    checks: int = Field(description="distances beyond the five that settle the picture")
    p95_mm: float | None
    words: list[str]


class CheckView(Wire):
    """A check of the map: a line as measured, the board laid down again, or four marks."""

    line: str = Field(description="the line, `board-again` or `marks`")
    label: str
    nominal_mm: float
    measured_mm: float
    off_mm: float
    verdict: Verdict
    words: str
    when: str


class AccuracyView(Wire):
    """What is known of a map's error on the table, mm, and how coarse its pixels are there."""

    rms_mm: float
    p95_mm: float
    max_mm: float
    noise_ratio: float | None = Field(
        description="how well corners were met, over what their noise would leave; about 1 is sound"
    )
    mm_per_px: list[float] = Field(description="at the canvas' corners, from bottom left")


class ZoneView(Wire):
    """A part of the lit table, table mm: what it is good for, where its words have room."""

    state: Verdict
    words: str
    rings: list[list[Point]] = Field(description="its outline, then its holes")
    label_at: Point
    room_mm: float
    hatch: list[list[Point]] = Field(description="lines that shade what is not to be cut by")


class LevelView(Wire):
    """Lines along which the stated error is ``mm``."""

    mm: float
    lines: list[list[Point]]


class CoverageView(Wire):
    """The lit table parted by how true the map is there, table mm."""

    lit: list[Point]
    zones: list[ZoneView]
    levels: list[LevelView]
    boards: list[list[Point]] = Field(description="where the printed board lay")
    share: float = Field(description="part of the lit area that is good to cut by, 0 to 1")
    words: str


class MapDetail(Wire):
    """A table map and what is known of its error."""

    id: str
    name: str
    created: str
    route: str
    projector_from_table: Matrix
    lens: dict[str, Any] | None = Field(description="k1, k2, p1, p2, centre_px, radius_px")
    canvas: tuple[int, int]
    dpr: float
    screen: str
    residuals: list[ResidualView]
    p95_mm: float | None
    accuracy: AccuracyView | None
    trusted: list[Point] | None = Field(
        description="outline of the part of the table that the figures speak for; null: all lit"
    )
    words: list[str]
    verdict: Verdict
    verdict_text: str
    checks: list[CheckView]
    last_checked: str | None = Field(description="when anything of it was last checked")
    marks_made: str | None = Field(description="when the four marks were made on the table")
    table_corners: list[Point] = Field(description="what the canvas' corners light, table mm")


class MapList(Wire):
    """All maps, the one in use first."""

    maps: list[MapDetail]


class CheckLineView(Wire):
    """A line to light and to measure, table mm."""

    id: str
    label: str
    nominal_mm: float
    from_: Point = Field(alias="from", serialization_alias="from")
    to: Point
    needed: bool = Field(description="one of those that must be measured before cutting")


class CheckLines(Wire):
    """The lines to check a map by."""

    lines: list[CheckLineView]


class CheckWish(Wire):
    """What a check line measured."""

    line: str = Field(max_length=64, examples=["along-600"])
    measured: LengthText = Field(examples=["600.5", "23 5/8 in"])
    unit: Literal["mm", "cm", "in"] = "mm"


class ClothWish(Wire):
    """How much higher than what was measured on the cloth lies, and where the projector hangs."""

    thickness: LengthText = Field(description="of one ply", examples=["2.5", "1/8 in"])
    plies: int = Field(default=1, ge=1, le=20)
    height: LengthText = Field(
        description="of the projector's lens over the table", examples=["1850", "74 in"]
    )
    along: str = Field(
        max_length=64,
        description="the point under the lens: so far to the right of the near left corner of the "
        "light; with a minus, to its left",
        examples=["600", "-4 in"],
    )
    across: str = Field(
        max_length=64, description="and so far away from you from there", examples=["350"]
    )
    unit: Literal["mm", "cm", "in"] = "mm"


class ClothShift(Wire):
    """How far off light would fall on cloth that lies higher, over all that is lit."""

    before_mm: float = Field(description="with the map as it is")
    after_mm: float = Field(description="with a map for the cloth, its height 0.3 mm wrong")
    words: str


class EdgeView(Wire):
    """A line to lay the cloth along, and what lies there."""

    line: tuple[Point, Point]
    said: str


class LackOnTable(Wire):
    """A flaw, or where cloth is missing, cloth mm."""

    kind: Literal["flaw", "missing"]
    outline: list[Point]


class SpreadView(Wire):
    """Cloth lying one way: zones side by side, cloth mm."""

    id: str
    box: Box
    outline: list[Point]
    plies_text: str
    fold_lines: list[tuple[Point, Point]]
    selvedges: list[tuple[Point, Point]]
    squared_end: tuple[Point, Point] | None
    lay_text: str = Field(description="how the cloth is laid")
    edges: list[EdgeView] = Field(description="further lines to lay it along")
    across_mm: float | None = Field(
        description="cut across here before the next spread is opened out"
    )
    lacks: list[LackOnTable] = Field(default=[], description="known before anything was laid")


class PartView(Wire):
    """A piece that goes on beyond sides of the window."""

    key: str
    sides: list[Literal["x0", "x1", "y0", "y1"]]


class WindowView(Wire):
    """A stretch of cloth in the light."""

    index: int
    spread: str
    box: Box
    table_from_cloth: Matrix
    whole: list[str]
    part: list[PartView]
    first: list[str] = Field(description="to be cut here, in cutting order")
    crosses: list[Point] = Field(description="shared with the next window, cloth mm")


class SnipView(Wire):
    """A notch: from ``at`` on the cut line to ``tip`` inside, one snip for each mark."""

    at: Point
    tip: Point
    marks: int
    name: str = ""


class ShownView(Wire):
    """A piece to be cut, cloth mm."""

    key: str
    label: str
    piece: str
    copy_: int = Field(alias="copy", serialization_alias="copy")
    hands: list[Literal["drawn", "turned"]]
    hand_text: str
    plies: int
    spread: str
    box: Box
    fold_line: tuple[Point, Point] | None
    label_at: Point
    label_room_mm: float
    cut_line: list[Point]
    net_line: list[Point]
    grain: tuple[Point, Point]
    grain_rule: str
    notches: list[SnipView]
    marks: list[MarkView]


class ProjectionView(Wire):
    """A layout brought to the table: what the table page draws."""

    lay_id: str
    style: str
    cloth: str
    layout: str = Field(description="short name of the layout: the cutting is of this one")
    fold: str
    map: MapDetail
    room: Box
    strip: Box
    spreads: list[SpreadView]
    windows: list[WindowView]
    pieces: list[ShownView]
    order: list[str]
    steps_text: list[str]
