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
    choices: list[tuple[str, str]] | None = Field(
        default=None,
        description="value of ``unit_choice`` and what it means; only where a drawing says no unit",
        examples=[[["mm", "one unit is a millimetre: Front 62.4 cm tall, 31.0 cm wide"]]],
    )


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


class Convention(Wire):
    """A convention, as text with headings and lists marked as in plain mail."""

    text: str


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
    revision: int


class StyleLook(Wire):
    """What of a style wants to be looked at, counted."""

    id: str
    readable: bool = Field(description="false: this version cannot read the sheet any more")
    pieces_refused: int = Field(description="pieces that cannot be cut as drawn")
    pieces_to_see: int = Field(description="other pieces with a warning")
    seams_to_see: int = Field(description="seams that do not walk true")
    girths_to_see: int = Field(description="girths that do not fit the body's measures")


class StyleLooks(Wire):
    """Of the styles that were asked about and are there."""

    looks: list[StyleLook]


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
    end_width_mm: float | None = Field(
        default=None, description="where it changes evenly along the edge"
    )
    steps: list[tuple[float, float]] = Field(
        default=[], description="(mm from the edge's start, width from there on)"
    )


class CornerView(Wire):
    """How the cut line turns the corner at an edge's end."""

    said: str = Field(examples=["auto"])
    made: Literal[
        "mitre", "step", "cut off", "hollow", "turned back", "straight", "as drawn", "fold"
    ]
    text: str
    angle_deg: float = Field(description="inside the piece")
    may: list[str] = Field(description="what may be said of this corner")


class EdgeView(Wire):
    """A stretch of outline between two corners; points in the piece's frame."""

    name: str
    kind: Literal["seam", "hem", "fold", "finished"]
    allowance: AllowanceView
    inlay_mm: float
    partner: str = Field(
        description='what it is sewn to, "piece/edge", a row with " + " between its edges',
        examples=["Back/side"],
    )
    partners: list[str] = Field(
        description="the same edge by edge, in order along this one from its start"
    )
    run: list[str] = Field(
        description="the edges that are sewn to it as one, this one among them; empty: alone"
    )
    ease_mm: float
    folds_mm: list[float] = Field(description="further folds of a hem, mm outside the net line")
    pressed: str = Field(examples=["unsaid"])
    pressed_may: list[str] = Field(description="ways in which it may be said to be pressed")
    corner: CornerView | None = Field(description="null: this piece cannot be cut")
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


class ExampleView(Wire):
    """One treatment of a corner, an edge or a dart, as the service itself cuts it."""

    code: str
    title: str
    text: str
    piece: PieceView
    widths_mm: list[list[float]] = Field(
        description="of each edge, the widths its allowance takes from its start to its end"
    )
    folded: list[list[Point]] = Field(
        description="closed lines: the allowance as it lies when folded"
    )


class ExampleList(Wire):
    """How edges become cut lines."""

    examples: list[ExampleView]


class NotchMet(Wire):
    """A notch and the one it meets; mm of sewn length from the first edge's start."""

    name: str
    first_mm: float | None
    second_mm: float | None
    miss_mm: float
    first_at: Point | None
    second_at: Point | None


class JoinView(Wire):
    """Where two edges of a row meet, laid end to end."""

    before: str = Field(examples=["Side front/shoulder"])
    after: str = Field(examples=["Front/shoulder"])
    at: Point
    sewn_mm: float = Field(description="of the row's sewn length from the seam's start")
    turn_deg: float = Field(
        description="how much the row turns there: positive a point, negative a hollow; 0 where the "
        "two pieces are not sewn to each other"
    )


class MendView(Wire):
    """What would mend a seam: accept it by posting ``change`` for ``piece`` to /api/changes."""

    piece: str
    edge: str
    text: str = Field(examples=["end side 3.2 mm sooner"])
    line: list[Point] = Field(description="what would be drawn, in the piece's frame")
    laid: list[Point] = Field(description="the same in the frame of the walk")
    change: dict[str, Any]


class SeamView(Wire):
    """Two sewing partners, an edge or a row of edges each, net of dart mouths and stated ease. Frame:
    both start at (0, 0) and end on the x axis."""

    first: str = Field(examples=["Back/shoulder"])
    second: str = Field(
        description='"piece/edge"; a row with " + " between its edges, in order along the first',
        examples=["Side front/shoulder + Front/shoulder"],
    )
    turned_over: bool
    first_mm: float
    second_mm: float
    difference_mm: float = Field(description="first less second")
    first_line: list[Point]
    second_line: list[Point] = Field(description="the second edge, laid as it is sewn")
    first_joins: list[JoinView] = Field(description="where the edges of the first row meet")
    second_joins: list[JoinView]
    notches: list[NotchMet]
    turn_at_start_deg: float = Field(
        description="how much the joined outer edges turn: positive a point, negative a hollow"
    )
    turn_at_end_deg: float
    findings: list[FindingView]
    proposals: list[str]
    mends: list[MendView]


class TruingView(Wire):
    """Every declared seam of a style walked once."""

    seams: list[SeamView]
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


class SpotRequest(Wire):
    """A stretch of cloth that no piece may touch, measured on the opened, unwashed cloth: along from
    its raw end, across from the outer edge of the near selvedge."""

    along_from: LengthText = Field(examples=["80 cm"])
    along_to: LengthText = Field(examples=["95 cm"])
    across_from: LengthText = 0.0
    across_to: LengthText | None = Field(default=None, description="left out: to the far selvedge")
    margin: LengthText = Field(default=0.0, description="kept clear all round it")
    name: str = Field(default="", max_length=60)


class ClothRequest(Wire):
    """A cloth as bought and how it is to be spread. Whatever is left out takes the usual value."""

    width: LengthText = Field(default=1500.0, examples=["150 cm"], description="label width")
    measured_width: LengthText | None = Field(
        default=None, description="width by tape, if taken: it counts instead of the label"
    )
    selvedge: LengthText = Field(default=12.0, description="width of each selvedge, not used")
    shrink_along: LengthText = Field(
        default=0.0, examples=["3%"], description="share lost in washing"
    )
    shrink_across: LengthText = 0.0
    nap: bool = Field(default=False, description="pile or print that runs one way")
    fold: str = Field(default="open", examples=["lengthwise"], description="or best: try them all")
    repeat_along: LengthText = 0.0
    repeat_across: LengthText = 0.0
    repeat_even: bool = Field(
        default=False, description="stripes or checks read the same both ways: half turns are free"
    )
    bar_from_selvedge: LengthText = Field(
        default=0.0, description="open cloth: inner edge of the selvedge to the first bar's centre"
    )
    end_allowance: LengthText = Field(default=20.0, description="to square each cut end")
    available: LengthText | None = Field(
        default=None, examples=[1400], description="a given length: does everything fit?"
    )
    far_length: LengthText | None = Field(
        default=None,
        description="of cloth that is there, along the far selvedge, where its end is slanted; "
        "``available`` is then along the near one",
    )
    flaws: list[SpotRequest] = Field(
        default=[], max_length=60, description="marked spots; no piece touches them"
    )
    missing: list[SpotRequest] = Field(
        default=[], max_length=60, description="parts cut out of the cloth before"
    )
    price_per_m: float | None = Field(default=None, ge=0)
    currency: str = Field(default="€", max_length=8)
    step: LengthText = Field(default=100.0, examples=["10 cm", "1/8 yd"])
    minimum: LengthText = Field(default=0.0, description="least that the shop sells")
    unit: Literal["m", "yd"] = Field(default="m", description="how the length to buy is said")
    bolt_start_known: bool = False


class LayRequest(Wire):
    """A search over one style. Give ``seconds`` or ``steps``; steps repeat exactly."""

    style_id: str
    copies: int = Field(default=1, ge=1, le=1000)
    seconds: float | None = Field(default=None, ge=0, le=86400, examples=[10])
    steps: int | None = Field(default=None, ge=0, le=10_000_000)
    seed: int = Field(default=1, ge=0, le=2**31 - 1)
    workers: int | None = Field(
        default=None, ge=1, le=64, description="at most as many as there are"
    )
    gap_mm: LengthText = Field(default=0.0, description="kept between pieces for the shears")
    cloths: dict[str, ClothRequest] = Field(
        default_factory=dict,
        examples=[{"shell": {"width": "150 cm", "fold": "lengthwise", "shrink_along": "3%"}}],
        description="by role; roles of the style that are missing get the usual values",
    )


class ClothSummary(Wire):
    """A line of the list of lays."""

    cloth: str
    length_mm: float
    buy_text: str


class LaySummary(Wire):
    """A lay in the list."""

    id: str
    style_id: str
    style: str
    state: Literal["queued", "searching", "done", "stopped", "failed"]
    created: str
    summary: list[ClothSummary]


class LayList(Wire):
    """All lays, newest first."""

    lays: list[LaySummary]


class TermView(Wire):
    """A line of the estimate."""

    code: str
    label: str
    mm: float
    total_mm: float


class ZoneView(Wire):
    """A stretch of the lay with the same number of plies."""

    id: str
    x0: float
    x1: float
    y0: float
    y1: float
    plies: int
    fold_edges: list[str]


class AskedView(Wire):
    """How many of each hand of a piece."""

    piece: str
    drawn: int
    turned: int


class PlacementView(Wire):
    """A piece where it lies, in the cloth frame."""

    piece: str
    copy_: int = Field(alias="copy")
    zone: str
    plies: int
    on_fold: bool
    hands: list[Literal["drawn", "turned"]]
    turned_over: bool
    turn_deg: float
    grain_rule: str
    grain: list[Point]
    cut_line: list[Point]
    net_line: list[Point]
    notches: list[NotchView]
    marks: list[MarkView]


class HistoryPoint(Wire):
    """An improvement on the way."""

    seconds: float
    steps: int
    length_mm: float


class TriedFold(Wire):
    """A fold that was searched, and what it came to."""

    fold: str
    fold_depth_mm: float | None
    length_mm: float
    buy_mm: float
    buy_text: str


class LackView(Wire):
    """A stretch of a zone where the cloth is flawed or missing, a margin round it counted in."""

    zone: str
    kind: Literal["flaw", "missing"]
    name: str
    outline: list[Point]


class HeldView(Wire):
    """As much of the lay as goes on cloth that is too short for it: a layout of its own, in the fold
    that takes most pieces, then most area."""

    fold: str
    length_mm: float
    utilisation: float
    zones: list[ZoneView]
    placements: list[PlacementView]
    not_laid: list[AskedView]
    steps_text: list[str]
    lacks: list[LackView]
    text: str = Field(examples=["All but Pocket (2) was found a place on the cloth that is there."])


class ClothResult(Wire):
    """The answer for one cloth. Cloth frame: x along the selvedge from the squared end, y across
    from the inner edge of the selvedge or from the fold, y up, mm."""

    model_config = ConfigDict(extra="allow", allow_inf_nan=False)

    cloth: str
    fold: str
    nap: bool
    usable_width_mm: float
    room_mm: float | None = Field(
        default=None, description="of cloth that is there: its length between the squared ends"
    )
    far_room_mm: float | None = Field(
        default=None, description="the same along the far selvedge, where the end is slanted"
    )
    lacks: list[LackView] = Field(default=[], description="flaws and missing cloth, zone by zone")
    selvedge_mm: float
    end_allowance_mm: float
    length_mm: float
    floor_mm: float
    need_mm: float
    buy_mm: float
    buy_text: str = Field(examples=["1.60 m"])
    price: float | None
    currency: str
    terms: list[TermView]
    floor_buy_mm: float
    utilisation: float
    fits: bool | None
    fits_text: str
    slack_mm: float | None = Field(
        description="length of the clean offcut, over the full width, before washing"
    )
    shortage_mm: float | None
    blocking_piece: str | None
    held: HeldView | None = Field(
        default=None,
        description="when the cloth that is there is too short: what goes on it; comes with the end "
        "of the search",
    )
    zones: list[ZoneView]
    asked: list[AskedView]
    placements: list[PlacementView]
    not_laid: list[AskedView]
    steps_text: list[str]
    findings: list[FindingView] = Field(
        default=[], description="what this lay cannot do, such as seams that cannot match"
    )
    history: list[HistoryPoint]
    searching: bool
    tried: list[TriedFold]


class LayDetail(Wire):
    """A lay with its best layouts so far."""

    id: str
    style_id: str
    style: str
    revision: int
    state: Literal["queued", "searching", "done", "stopped", "failed"]
    created: str
    request: dict[str, Any]
    error: ErrorBody | None
    cloths: list[ClothResult]
