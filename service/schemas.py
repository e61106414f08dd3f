"""The wire's shapes, as pydantic models: checked on the way in, documented on the way out.

Lengths are mm. A length field takes a number (mm) or a text with its unit, such as ``150 cm`` or
``59 1/16 in``; it is converted at once, so nothing inside knows units.
"""

from __future__ import annotations

from typing import Any, Literal

from pydantic import BaseModel, ConfigDict, Field

LengthText = float | str
Point = tuple[float, float]


class Wire(BaseModel):
    """Base of all shapes: unknown fields are refused, and so are NaN and infinities."""

    model_config = ConfigDict(extra="forbid", allow_inf_nan=False)


class ErrorBody(Wire):
    """What went wrong, for programs (``code``) and people (the rest)."""

    code: str = Field(examples=["too_wide"])
    message: str = Field(
        examples=["Back is 812 mm across, but shell offers only 676 mm of usable width"]
    )
    hint: str = Field(examples=["Choose a wider cloth, or split the piece with a seam."])
    where: str = Field(examples=["Back"])


class ErrorAnswer(Wire):
    """The one shape of every error."""

    error: ErrorBody


class EngineState(Wire):
    """Whether the search is compiled yet."""

    state: Literal["compiling", "ready", "failed"]
    text: str = Field(examples=["ready"])


class Health(Wire):
    """State of the service."""

    name: str
    version: str
    engine: EngineState
    data_dir_ok: bool


class FindingView(Wire):
    """Something noticed about a piece or a file."""

    code: str
    level: Literal["note", "fixed", "warning", "refused"]
    message: str
    where: str
    hint: str


class StyleSummary(Wire):
    """A line of the list of styles."""

    id: str
    name: str
    note: str
    pieces: int
    cloths: list[str]
    source: str
    updated: str


class StyleList(Wire):
    """All styles."""

    styles: list[StyleSummary]


class CountView(Wire):
    """How many of each hand one garment needs."""

    drawn: int
    turned: int


class AllowanceView(Wire):
    """What is known about an edge's allowance."""

    state: Literal["none", "included", "add"]
    width_mm: float


class EdgeView(Wire):
    """A stretch of outline between two corners; points in the piece's frame."""

    name: str
    kind: Literal["seam", "hem", "fold", "finished"]
    allowance: AllowanceView
    inlay_mm: float
    length_mm: float
    points: list[Point]


class NotchView(Wire):
    """A notch as snipped: from ``at`` on the cut line to ``tip`` inside."""

    at: Point
    tip: Point
    marks: int
    name: str


class MarkView(Wire):
    """A point or a line inside a piece."""

    kind: str
    points: list[Point]
    name: str


class DartView(Wire):
    """A dart: where its legs end on the net line, and its point."""

    name: str
    first: Point
    second: Point
    point: Point


class GrainView(Wire):
    """The grain line."""

    tail: Point
    head: Point


class PieceView(Wire):
    """A piece as drawn and as it will be cut. Frame: as drawn, mm, y up."""

    name: str
    cloth: str
    count: CountView
    on_fold: bool
    count_text: str = Field(examples=["a pair"])
    size_text: str = Field(examples=["62.4 cm tall, 31.0 cm wide"])
    grain: GrainView | None
    grain_rule: str
    drawn_as: Literal["net", "cut"]
    edges: list[EdgeView]
    cut_line: list[Point] | None = Field(description="null: this piece cannot be cut, see findings")
    net_line: list[Point]
    notches: list[NotchView]
    marks: list[MarkView]
    darts: list[DartView]
    area_mm2: float
    findings: list[FindingView]


class StyleDetail(Wire):
    """A style with its drawings."""

    id: str
    name: str
    note: str
    source: str
    sheet: dict[str, Any] = Field(description="the piece sheet, see /api/schema/piece-sheet")
    pieces: list[PieceView]
    findings: list[FindingView]
    revision: int
    can_undo: bool
    can_redo: bool


class StyleUpdate(Wire):
    """A changed piece sheet, and the revision it was made from."""

    sheet: dict[str, Any]
    revision: int
