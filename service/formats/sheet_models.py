"""The piece sheet as it stands in a file: pydantic models, lengths turned into mm while reading.

The unit travels in the validation context (``{"unit": "cm"}``): a bare number is in that unit, a text
may name its own ("1 3/8 in"). Nothing here knows what a legal piece is; ``piece_sheet`` does.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Annotated, Any, Literal

from pydantic import (
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Discriminator,
    Field,
    PlainValidator,
    Tag,
    ValidationInfo,
    WithJsonSchema,
    field_validator,
    model_validator,
)

from nesting.allowances.defaults import HEMS_MM, SEAMS_MM
from nesting.errors import NestingError
from nesting.pieces.outline import AllowanceState, Corner, EdgeKind, Pressed
from nesting.pieces.partners import read_row
from nesting.pieces.piece import DartFold, DrawnAs, GrainRule, MarkKind
from nesting.units import MM_PER, parse_length
from service.formats.building import FARTHEST_MM

FORMAT = "grainfold piece sheet"
VERSION = 1

NAMED_EDGE = 170
"""A partner's name has at most so many characters: two names of 80 and what is between them."""

LONGEST_ROW = 50
"""A row has at most so many edges."""

_LENGTH_EXAMPLES = [12.5, "1 3/8 in", "15 mm"]


def _signed(value: Any, info: ValidationInfo) -> float:
    """mm from a number or a text, either sign. Raises ValueError in words."""
    unit = (info.context or {}).get("unit", "mm")
    if isinstance(value, bool) or not isinstance(value, (int, float, str)):
        raise ValueError(f"expected a length such as 12.5 or “1 3/8 in”, got {_shown(value)}")
    sign, text = 1.0, value
    if isinstance(value, str):
        body = value.strip()
        if body[:1] in ("-", "−"):
            sign, body = -1.0, body[1:]
        text = body.strip()
    elif value < 0:
        sign, text = -1.0, -value
    try:
        mm = sign * parse_length(text, unit=unit)
    except (NestingError, OverflowError) as e:
        said = e.message if isinstance(e, NestingError) else "the number is too large"
        raise ValueError(said) from None
    if not math.isfinite(mm) or abs(mm) > FARTHEST_MM:
        raise ValueError(f"{_shown(value)} is beyond 100 m: check the unit")
    return mm


def _positive(value: Any, info: ValidationInfo) -> float:
    mm = _signed(value, info)
    if mm < 0:
        raise ValueError(f"{_shown(value)} must be 0 or more")
    return mm


def _point(value: Any, info: ValidationInfo) -> tuple[float, float]:
    if not isinstance(value, (list, tuple)) or len(value) != 2:
        raise ValueError(f"expected a point [x, y], got {_shown(value)}")
    return _signed(value[0], info), _signed(value[1], info)


def _shown(value: Any) -> str:
    text = repr(value) if not isinstance(value, str) else f"“{value}”"
    return text if len(text) <= 60 else text[:57] + "..."


def _name(value: Any) -> str:
    if not isinstance(value, str):
        raise ValueError(f"expected a text, got {_shown(value)}")
    text = value.strip()
    if not text or len(text) > 80:
        raise ValueError("a name has 1 to 80 characters")
    if not text.isprintable():
        raise ValueError("a name is plain text on one line, without control characters")
    return text


def _row(value: Any) -> tuple[str, ...]:
    """A row of edges, "piece/edge" each: a list, or a text with " + " between them."""
    if isinstance(value, str):
        parts = read_row(value)
    elif isinstance(value, (list, tuple)) and all(isinstance(v, str) for v in value):
        parts = tuple(v.strip() for v in value)
    else:
        raise ValueError(f"expected “piece/edge” or a list of them, got {_shown(value)}")
    for part in parts:
        if not part or len(part) > NAMED_EDGE:
            raise ValueError(f"“piece/edge” has 1 to {NAMED_EDGE} characters, got {_shown(part)}")
    if len(parts) > LONGEST_ROW:
        raise ValueError(f"a row has at most {LONGEST_ROW} edges, got {len(parts)}")
    twice = sorted({p for p in parts if parts.count(p) > 1})
    if twice:
        raise ValueError(f"{twice[0]} stands twice in the row: name every edge once")
    return parts


def _allowance(value: Any) -> Any:
    """Short forms of an allowance: none, included, a bare width, "add 1.5 cm"."""
    if isinstance(value, str):
        said = value.strip()
        if said in (AllowanceState.NONE.value, AllowanceState.INCLUDED.value):
            return {"state": said}
        return {"state": AllowanceState.ADD.value, "width": said.removeprefix("add").strip()}
    if isinstance(value, (int, float)) and not isinstance(value, bool):
        return {"state": AllowanceState.ADD.value, "width": value}
    return value


def _word(kind: type[Any]) -> Any:
    """A value of a StrEnum, with the choices named when it is another word."""
    words = [str(k.value) for k in kind]

    def read(value: Any) -> Any:
        if isinstance(value, str) and value.strip().lower() in words:
            return kind(value.strip().lower())
        raise ValueError(f"{_shown(value)} is not one of: {', '.join(words)}")

    return (PlainValidator(read), WithJsonSchema({"enum": words, "type": "string"}))


_NUMBER_OR_TEXT = [{"type": "number"}, {"type": "string"}]
Length = Annotated[
    float,
    PlainValidator(_positive),
    WithJsonSchema(
        {"anyOf": [{"type": "number", "minimum": 0}, {"type": "string"}], "title": "Length"}
    ),
]
Signed = Annotated[
    float,
    PlainValidator(_signed),
    WithJsonSchema({"anyOf": [{"type": "number"}, {"type": "string"}], "title": "Signed length"}),
]
Point = Annotated[
    tuple[float, float],
    PlainValidator(_point),
    WithJsonSchema(
        {
            "type": "array",
            "title": "Point",
            "description": "[x, y]; y is up; numbers in the sheet's unit, or texts with their own",
            "prefixItems": [{"anyOf": _NUMBER_OR_TEXT}, {"anyOf": _NUMBER_OR_TEXT}],
            "minItems": 2,
            "maxItems": 2,
        }
    ),
]
Name = Annotated[
    str,
    PlainValidator(_name),
    WithJsonSchema({"type": "string", "minLength": 1, "maxLength": 80}),
]
Kind = Annotated[EdgeKind, *_word(EdgeKind)]
State = Annotated[AllowanceState, *_word(AllowanceState)]
Drawn = Annotated[DrawnAs, *_word(DrawnAs)]
Rule = Annotated[GrainRule, *_word(GrainRule)]
FoldWord = Annotated[DartFold, *_word(DartFold)]
CornerWord = Annotated[Corner, *_word(Corner)]
PressedWord = Annotated[Pressed, *_word(Pressed)]
MarkWord = Annotated[MarkKind, *_word(MarkKind)]
Row = Annotated[
    tuple[str, ...],
    PlainValidator(_row),
    WithJsonSchema(
        {
            "anyOf": [
                {"type": "string"},
                {
                    "type": "array",
                    "items": {"type": "string", "minLength": 1, "maxLength": NAMED_EDGE},
                    "maxItems": LONGEST_ROW,
                    "uniqueItems": True,
                },
            ],
            "title": "Row",
        }
    ),
]
CountNumber = Annotated[int, Field(strict=True, ge=0, le=999)]


class SheetModel(BaseModel):
    """Unknown fields are refused: a mistyped name would be lost silently."""

    model_config = ConfigDict(extra="forbid", frozen=True, populate_by_name=True)


class AllowanceSheet(SheetModel):
    """Allowance of an edge. Short forms: "none", "included", 1.5 or "1.5 cm" (add that)."""

    state: State = Field(
        description="none: there is none and none is wanted; included: the drawn line has it "
        "already; add: to be added outside",
        examples=["add"],
    )
    width: Length = Field(default=0.0, description="width of the allowance", examples=[1.5])
    end_width: Length | None = Field(
        default=None,
        description="width at the edge's end, where it changes evenly from start to end",
        examples=[3],
    )
    steps: list[tuple[Length, Length]] = Field(
        default=[],
        max_length=100,
        description="[distance from the edge's start, width from there on] for a stepped seam",
        examples=[[[20, 2.5]]],
    )

    @model_validator(mode="after")
    def _width_said(self) -> AllowanceSheet:
        said = {"width", "end_width", "steps"} & self.model_fields_set
        if self.state is AllowanceState.ADD and not said:
            raise ValueError("say how much to add: “width” is missing")
        return self


AllowanceSaid = Annotated[
    AllowanceSheet,
    BeforeValidator(
        _allowance,
        json_schema_input_type=AllowanceSheet | float | str,
    ),
]


class EdgeSaid(SheetModel):
    """What is said of one side of a rectangle or of a list of points."""

    name: Name | None = Field(default=None, description="its own name", examples=["hem"])
    kind: Kind = Field(
        default=EdgeKind.SEAM,
        description="fold: the piece is doubled here, on the fold of the cloth",
        examples=["hem"],
    )
    allowance: AllowanceSaid | None = Field(
        default=None,
        description="overrides the sheet's default for this kind of edge",
        examples=["none", 1.5, "included"],
    )
    inlay: Length = Field(
        default=0.0, description="extra outside the allowance, to let out later", examples=[2]
    )
    partner: Row = Field(
        default=(),
        description='what it is sewn to, as "piece/edge"; a row of edges, laid end to end along this '
        'one, as a list or with " + " between them, in the order in which they lie along it from its '
        "start",
        examples=[
            "Back/side",
            ["Side front/shoulder", "Front/shoulder"],
            "Side front/shoulder + Front/shoulder",
        ],
    )
    run: Row = Field(
        default=(),
        description="where this edge is sewn to its partner as one with others: all these edges, this "
        "one among them, in order along the seam; each of them names the same partner",
        examples=[["Side back/shoulder", "Back/shoulder"]],
    )

    @field_validator("run")
    @classmethod
    def _more_than_one(cls, run: tuple[str, ...]) -> tuple[str, ...]:
        if len(run) == 1:
            raise ValueError("a run has two edges or more: leave it out for an edge sewn alone")
        return run

    ease: Length = Field(
        default=0.0,
        description="how much longer than its partner this edge is meant to be",
        examples=[1],
    )
    corner: CornerWord = Field(
        default=Corner.AUTO,
        description="how the cut line turns the corner at the edge's end",
        examples=["mitre"],
    )
    pressed: PressedWord = Field(
        default=Pressed.UNSAID,
        description="how the seam is pressed; the ends of its allowance are shaped for it",
        examples=["open"],
    )
    folds: list[Length] = Field(
        default=[],
        max_length=4,
        description="further fold lines of a hem turned more than once, as distances outside the "
        "net line",
        examples=[[2]],
    )


class SegmentSheet(SheetModel):
    """One stretch of a longer edge: a straight line or a curve, joined smoothly to the next."""

    to: Point | None = Field(default=None, description="straight to here", examples=[[0, 40]])
    curve: tuple[Point, Point, Point] | None = Field(
        default=None,
        description="cubic curve: two control points and the end",
        examples=[[[4, 0], [8, 3], [10, 8]]],
    )

    @model_validator(mode="after")
    def _one_form(self) -> SegmentSheet:
        _just_one(self, ("to", "curve"))
        return self


class EdgeSheet(EdgeSaid):
    """An edge from the previous corner to its own end, in one of four forms."""

    to: Point | None = Field(default=None, description="straight to here", examples=[[0, 40]])
    curve: tuple[Point, Point, Point] | None = Field(
        default=None,
        description="one cubic curve: two control points and the end",
        examples=[[[4, 0], [8, 3], [10, 8]]],
    )
    points: list[Point] | None = Field(
        default=None,
        min_length=1,
        max_length=20_000,
        description="through these points, the last one is its end (a curve measured point by point)",
        examples=[[[1, 5], [1.4, 9], [1.6, 12]]],
    )
    path: list[SegmentSheet] | None = Field(
        default=None,
        min_length=1,
        max_length=1000,
        description="lines and curves one after the other, without a corner between",
        examples=[[{"to": [0, 20]}, {"curve": [[0, 24], [2, 28], [6, 30]]}]],
    )

    @model_validator(mode="after")
    def _one_form(self) -> EdgeSheet:
        _just_one(self, ("to", "curve", "points", "path"))
        return self


class RectangleSheet(SheetModel):
    """A rectangle: width across, length along the grain; its corner lies at 0, 0."""

    width: Length = Field(description="across, along x", examples=[30])
    length: Length = Field(description="along the grain, along y", examples=[62.5])


class OutlineSheet(SheetModel):
    """Outline of a piece as drawn: edges, or a rectangle, or a list of points."""

    start: Point | None = Field(
        default=None, description="first corner of the edges", examples=[[0, 0]]
    )
    edges: list[EdgeSheet] | None = Field(
        default=None,
        min_length=1,
        max_length=1000,
        description="edges one after the other, back to the start",
        examples=[
            [
                {"name": "hem", "kind": "hem", "to": [30, 0]},
                {"name": "side", "curve": [[31, 20], [28, 40], [24, 60]]},
                {"name": "waist", "to": [0, 61]},
                {"name": "centre", "kind": "fold", "to": [0, 0]},
            ]
        ],
    )
    rectangle: RectangleSheet | None = Field(
        default=None, description="a rectangle", examples=[{"width": 8, "length": 90}]
    )
    points: list[Point] | None = Field(
        default=None,
        min_length=3,
        max_length=20_000,
        description="corners in order, closed by itself; the line between two is an edge",
        examples=[[[0, 0], [30, 0], [28, 60], [0, 60]]],
    )
    sides: dict[str, EdgeSaid] = Field(
        default={},
        description="what is said of single sides; of a rectangle: bottom, right, top, left; of "
        'points: "1" runs from the first point to the second, and so on',
        examples=[{"left": {"kind": "fold"}, "bottom": {"kind": "hem", "allowance": 4}}],
    )

    @model_validator(mode="after")
    def _one_form(self) -> OutlineSheet:
        _just_one(self, ("edges", "rectangle", "points"))
        if (self.start is not None) != (self.edges is not None):
            raise ValueError("“start” and “edges” belong together: the first edge leaves the start")
        if self.edges is not None and self.sides:
            raise ValueError("with “edges”, say it on the edge itself and leave “sides” out")
        return self


class GrainSheet(SheetModel):
    """The grain line from tail to head."""

    tail: Point = Field(description="where the arrow starts", examples=[[12, 5]])
    head: Point = Field(description="where it points: up when the piece hangs", examples=[[12, 50]])


class CountSheet(SheetModel):
    """How many one garment needs."""

    pair: CountNumber | None = Field(
        default=None, description="so many pairs: one as drawn and one turned over", examples=[1]
    )
    drawn: CountNumber | None = Field(default=None, description="as drawn", examples=[2])
    turned: CountNumber | None = Field(default=None, description="turned over", examples=[1])
    on_fold: CountNumber | None = Field(
        default=None,
        alias="on fold",
        description="whole pieces cut on the fold; the outline is the half, with a fold edge",
        examples=[1],
    )

    @model_validator(mode="after")
    def _one_form(self) -> CountSheet:
        forms = [self.pair is not None, self.on_fold is not None]
        forms.append(self.drawn is not None or self.turned is not None)
        if sum(forms) != 1:
            raise ValueError('say one of {"pair": n}, {"drawn": n, "turned": m}, {"on fold": n}')
        if not any((self.pair, self.on_fold, self.drawn, self.turned)):
            raise ValueError("a count of 0 cuts nothing: leave the piece out instead")
        return self


class NotchSheet(SheetModel):
    """A notch on an edge."""

    edge: Name = Field(description="name of the edge it lies on", examples=["side"])
    distance: Length = Field(description="along the edge as drawn", examples=[18.5])
    from_: Literal["start", "end"] = Field(
        default="start", alias="from", description="the end it is measured from", examples=["end"]
    )
    marks: Annotated[int, Field(strict=True, ge=1, le=3)] = Field(
        default=1, description="1 for a single, 2 for a double notch", examples=[2]
    )
    name: str = Field(default="", max_length=80, description="its own name", examples=["waist"])


class DartSheet(SheetModel):
    """A dart with its mouth on an edge."""

    name: Name = Field(description="its name", examples=["bust"])
    edge: Name = Field(description="name of the edge that its mouth lies on", examples=["waist"])
    first: Length = Field(
        description="distance of the first leg's end along the edge", examples=[8]
    )
    second: Length = Field(description="distance of the second leg's end", examples=[11])
    point: Point = Field(description="where the legs meet", examples=[[9.5, 45]])
    fold: FoldWord = Field(
        default=DartFold.FIRST_LEG,
        description="which way it is pressed",
        examples=["towards the first leg"],
    )


class MarkSheet(SheetModel):
    """A point or a line inside the piece."""

    kind: MarkWord = Field(description="what it marks", examples=["drill"])
    points: list[Point] = Field(
        min_length=1, max_length=5000, description="one point, or a line through several",
        examples=[[[9.5, 40]]],
    )  # fmt: skip
    name: str = Field(default="", max_length=80, description="its own name", examples=["pocket"])


def _grain_word(value: Any) -> Any:
    if isinstance(value, str) and value.strip().lower() in ("up", "along"):
        return value.strip().lower()
    if isinstance(value, str):
        raise ValueError('say “up”, “along”, or {"tail": [x, y], "head": [x, y]}')
    return value


GrainSaid = Annotated[
    Annotated[GrainSheet, Tag("line")] | Annotated[Literal["up", "along"], Tag("word")],
    Discriminator(lambda value: "word" if isinstance(value, str) else "line"),
    BeforeValidator(_grain_word),
]


class PieceSheetPiece(SheetModel):
    """One piece as drafted."""

    name: Name = Field(description="its name, once in a sheet", examples=["Front"])
    cloth: Name | None = Field(
        default=None, description="cloth role: shell, lining, interfacing ...", examples=["shell"]
    )
    outline: OutlineSheet = Field(
        description="the outline as drawn",
        examples=[{"rectangle": {"width": 8, "length": 90}}],
    )
    drawn: Drawn | None = Field(
        default=None, description="whether the outline is the net line or the cut line", examples=["net"]
    )  # fmt: skip
    grain: GrainSaid | None = Field(
        default=None,
        description='"up" (along y), "along" (along x), or tail and head; a rectangle has its '
        "grain along its length unless told",
        examples=["up", {"tail": [12, 5], "head": [12, 50]}],
    )
    grain_rule: Rule | None = Field(
        default=None,
        description="turns that the piece permits; one way = a one-headed grain line",
        examples=["either way"],
    )
    count: CountSheet = Field(
        default_factory=lambda: CountSheet(drawn=1),
        description="how many one garment needs; one as drawn unless told",
        examples=[{"pair": 1}, {"drawn": 2, "turned": 1}, {"on fold": 1}],
    )
    notches: list[NotchSheet] = Field(
        default=[], max_length=500, description="notches by edge and distance",
        examples=[[{"edge": "side", "distance": 18.5}]],
    )  # fmt: skip
    darts: list[DartSheet] = Field(
        default=[], max_length=50, description="darts",
        examples=[[{"name": "waist dart", "edge": "waist", "first": 8, "second": 11, "point": [9.5, 45]}]],
    )  # fmt: skip
    marks: list[MarkSheet] = Field(
        default=[], max_length=1000, description="marks inside the piece",
        examples=[[{"kind": "drill", "points": [[9.5, 40]]}]],
    )  # fmt: skip
    origin: str = Field(
        default="", max_length=2000, description="where the piece came from; for the record",
        examples=["drafted on paper, 12 March"],
    )  # fmt: skip


def _usual(table: Mapping[str, float]) -> BeforeValidator:
    """Lets a word of a table of published usual widths stand for its width."""

    def width(value: Any) -> Any:
        if isinstance(value, str) and value.strip().lower() in table:
            return f"{table[value.strip().lower()]} mm"
        return value

    return BeforeValidator(width, json_schema_input_type=AllowanceSheet | float | str)


class DefaultAllowances(SheetModel):
    """Allowance per kind of edge, where an edge says nothing itself. A word names a published usual
    width, see /api/allowances/usual."""

    seam: Annotated[AllowanceSaid, _usual(SEAMS_MM)] | None = Field(
        default=None, description="seams", examples=[1.5, "trade"]
    )
    hem: Annotated[AllowanceSaid, _usual(HEMS_MM)] | None = Field(
        default=None, description="hems", examples=["4 cm", "shirt"]
    )
    finished: AllowanceSaid | None = Field(
        default=None, description="edges that are left as cut", examples=["none"]
    )


class SheetDefaults(SheetModel):
    """What holds for every piece that says nothing itself."""

    allowance: DefaultAllowances = Field(
        default_factory=DefaultAllowances,
        description="allowance per kind of edge",
        examples=[{"seam": 1.5, "hem": "4 cm"}],
    )
    cloth: Name = Field(default="shell", description="cloth role", examples=["shell"])
    drawn: Drawn = Field(
        default=DrawnAs.NET, description="outlines are net or cut lines", examples=["net"]
    )
    grain_rule: Rule = Field(
        default=GrainRule.EITHER_WAY, description="turns that pieces permit", examples=["one way"]
    )


class MeasureSheet(SheetModel):
    """What the garment's girth should be at a line."""

    line: Name = Field(
        description="name of a marked line or of an edge that lies there", examples=["waist"]
    )
    below: Length = Field(
        default=0.0, description="so far below that line, along the grain", examples=[20]
    )
    body: Length = Field(description="the body's measure", examples=[72])
    ease: Signed = Field(
        default=0.0, description="how much looser it is worn; below 0 for stretch", examples=[4]
    )
    cloth: Name = Field(
        default="shell",
        description="pieces of this cloth are summed; facings and linings are not",
        examples=["shell"],
    )
    leave_out: list[Name] = Field(
        default=[],
        max_length=100,
        description="further pieces that have the line and do not count",
        examples=[["Peplum"]],
    )
    count_in: list[Name] = Field(
        default=[],
        max_length=100,
        description="pieces that count although they are of another cloth, or look like a facing",
        examples=[["Contrast yoke"]],
    )

    @model_validator(mode="after")
    def _one_way(self) -> MeasureSheet:
        both = sorted({*self.leave_out} & {*self.count_in})
        if both:
            raise ValueError(f"{both[0]} is both left out and counted in: say one of them")
        return self


class BodySheet(SheetModel):
    """For whom the style is cut."""

    measures: list[MeasureSheet] = Field(
        default=[],
        max_length=50,
        description="girths, checked against the pieces with darts taken out",
        examples=[[{"line": "waist", "body": 72, "ease": 4}]],
    )


class SheetHead(SheetModel):
    """All of a sheet but its pieces, which are read one by one so that each problem names its own."""

    format: Literal["grainfold piece sheet"] = Field(
        description="says that this is a piece sheet", examples=[FORMAT]
    )
    version: Literal[1] = Field(description="version of the format", examples=[VERSION])
    unit: Literal["mm", "cm", "m", "in", "ft", "yd"] = Field(
        description="unit of bare numbers; a text may name its own unit", examples=["cm"]
    )
    style: Name = Field(description="name of the garment design", examples=["Stage waistcoat"])
    note: str = Field(
        default="", max_length=4000, description="anything worth keeping", examples=["size 12"]
    )
    defaults: SheetDefaults = Field(
        default_factory=SheetDefaults,
        description="what holds for every piece that says nothing itself",
        examples=[{"allowance": {"seam": 1.5, "hem": 4}}],
    )
    body: BodySheet = Field(
        default_factory=BodySheet,
        description="for whom the style is cut",
        examples=[{"measures": [{"line": "waist", "body": 72, "ease": 4}]}],
    )


class PieceSheet(SheetHead):
    """One style: its pieces as drafted, y up, as seen on the right side of the cloth."""

    pieces: list[PieceSheetPiece] = Field(
        min_length=1,
        max_length=500,
        description="the pieces of the style",
        examples=[[{"name": "Belt", "outline": {"rectangle": {"width": 8, "length": 90}}}]],
    )


def _just_one(model: SheetModel, names: tuple[str, ...]) -> None:
    said = [n for n in names if getattr(model, n) is not None]
    if len(said) != 1:
        came = ", ".join(said) if said else "none of them"
        raise ValueError(f"say exactly one of {', '.join(names)}; {came} came")


UNITS = tuple(MM_PER)
