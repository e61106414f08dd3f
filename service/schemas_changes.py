"""The wire's shapes for changes to pieces, truing of an unsaved sheet and the body check.

Points are mm in the piece's frame. A length takes a number (mm) or a text with its unit.
"""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import Field, model_validator

from service.schemas import FindingView, LengthText, PieceView, Point, Wire

Points = Annotated[list[Point], Field(max_length=5000)]
Name = Annotated[str, Field(max_length=80)]
Length = LengthText


class AllowanceSaid(Wire):
    """What an edge that a change makes is to have outside it."""

    state: Literal["none", "add"] = "add"
    width: Length = Field(default=0.0, examples=["1.2 cm"])


class Split(Wire):
    """Cut in two along a line or a curve; both new edges get allowance and paired notches."""

    kind: Literal["split"]
    line: Points = Field(
        description="from outside to outside; ends inside the piece are drawn on straight",
        examples=[[[80, -10], [95, 200], [150, 460]]],
    )
    smooth: bool = Field(default=False, description="a smooth curve through the points")
    names: tuple[Name, Name] | None = Field(
        default=None,
        description="the first is what lies on the line's right",
        examples=[["Side front", "Front"]],
    )
    seam: Name = Field(default="panel seam", min_length=1)
    allowance: AllowanceSaid | None = Field(
        default=None, description="none said: the widest seam allowance of the piece"
    )
    notches: list[Length] | None = Field(
        default=None, max_length=100, description="mm along the new seam; at thirds unless said"
    )
    from_dart: Name = Field(default="", description="the line starts at this dart's point")
    to_dart: Name = Field(default="", description="the line ends at this dart's point")


class MoveDart(Wire):
    """Close a dart and open it elsewhere, or a share of it."""

    kind: Literal["move dart"]
    dart: Name = Field(examples=["side dart"])
    edge: Name = Field(examples=["shoulder"])
    distance: Length = Field(description="from the edge's start, as drawn", examples=[62])
    name: Name = Field(default="", description="of the opened dart; keeps its name unless said")
    share: float = Field(default=1.0, gt=0, le=1, description="part of the angle")
    fold: Literal["towards the first leg", "towards the second leg"] | None = None
    smooth: Length = Field(
        default=60.0,
        description="the edge where it was closed is redrawn smooth so far on either side",
    )


class ShortenDart(Wire):
    """Draw a dart's point back along its middle line."""

    kind: Literal["shorten dart"]
    dart: Name
    by: Length = Field(examples=[12])


class TrueDart(Wire):
    """Make a dart's legs equally long."""

    kind: Literal["true dart"]
    dart: Name


class Stand(Wire):
    """Add a stand beyond a straight edge, which becomes the centre line."""

    kind: Literal["stand"]
    edge: Name = Field(examples=["centre"])
    width: Length = Field(examples=[18])
    name: Name = Field(default="stand edge", min_length=1)


class Buttons(Wire):
    """Buttons and horizontal buttonholes on the centre line."""

    kind: Literal["buttons"]
    count: int = Field(ge=1, le=200, examples=[7])
    first: Length = Field(description="from the line's upper end", examples=[12])
    last: Length = Field(description="from its lower end", examples=[25])
    diameter: Length = Field(examples=[12])
    holes: bool = True
    line: Name = Field(default="", description="which centre line, if there are several")


class Facing(Wire):
    """A facing along edges, added after the piece."""

    kind: Literal["facing"]
    edges: list[Name] = Field(min_length=1, max_length=50, examples=[["neck"]])
    depth: Length = Field(examples=[55])
    name: Name = ""
    inner: Literal["none"] | AllowanceSaid | None = Field(
        default=None, description="its free edge; none unless said"
    )
    cloth: Name = Field(default="", description="as the piece unless said")


class HemFacing(Wire):
    """The hem becomes a seam, and a facing is sewn to it there."""

    kind: Literal["hem facing"]
    edge: Name = Field(examples=["hem"])
    depth: Length = Field(examples=[40])
    allowance: Length = Field(examples=[10])
    name: Name = ""
    inner: Literal["none"] | AllowanceSaid | None = None
    cloth: Name = ""


class Lengthen(Wire):
    """What lies left of the line moves away from it, or towards it where ``by`` is negative."""

    kind: Literal["lengthen"]
    line: tuple[Point, Point] = Field(examples=[[[-50, 60], [350, 60]]])
    by: Length = Field(examples=[25, "-1 in"])
    blend: Length = Field(default=60.0, description="edges are redrawn smooth within this")


class Unfold(Wire):
    """A half piece as the whole one."""

    kind: Literal["unfold"]


class Mirror(Wire):
    """The piece as its mirror image."""

    kind: Literal["mirror"]
    counts: Literal["swap", "keep"] = Field(
        default="swap",
        description="swap: the same cloth is cut, drawn the other way round; keep: what was cut as "
        "drawn is now cut as its mirror image",
    )


class Redraw(Wire):
    """An edge redrawn along a line, its neighbour ending on it: what truing proposes."""

    kind: Literal["redraw"]
    edge: Name = Field(examples=["armhole"])
    line: Points = Field(description="from the edge out across the corner, or the other way round")
    at: Literal["start", "end"] = Field(description="the edge's corner that moves onto the line")


class EndEdge(Wire):
    """An edge made shorter; the edge beyond its corner is drawn to the new place."""

    kind: Literal["end edge"]
    edge: Name = Field(examples=["side"])
    length: Length = Field(description="its new length, as drawn", examples=[412.3])
    at: Literal["start", "end"] = Field(default="end", description="the corner that moves")


class UsualAllowances(Wire):
    """Allowances by the kind of edge; a word names a published usual width."""

    kind: Literal["allowances"]
    seam: Length | None = Field(default=None, examples=["trade", 12])
    hem: Length | None = Field(default=None, examples=["shirt", "4 cm"])
    keep: list[Name] = Field(
        default=[], max_length=1000, description="edges that keep their own", examples=[["neck"]]
    )


Change = Annotated[
    Split
    | MoveDart
    | ShortenDart
    | TrueDart
    | Stand
    | Buttons
    | Facing
    | HemFacing
    | Lengthen
    | Unfold
    | Mirror
    | Redraw
    | EndEdge
    | UsualAllowances,
    Field(discriminator="kind"),
]


class StyleSaid(Wire):
    """A stored style in its present revision, or a sheet that is not kept yet."""

    style_id: str | None = None
    sheet: dict[str, Any] | None = Field(
        default=None, description="a piece sheet, see /api/schema/piece-sheet"
    )

    @model_validator(mode="after")
    def _one(self) -> StyleSaid:
        if (self.style_id is None) == (self.sheet is None):
            raise ValueError("say either style_id or sheet")
        return self


class ChangeRequest(StyleSaid):
    """A change of one piece, made without keeping it."""

    piece: Name = Field(examples=["Front"])
    change: Change


class ChangeAnswer(Wire):
    """What the change makes: keep it by saving ``sheet``."""

    text: str = Field(examples=["Front is split at panel seam into Side front and Front."])
    sheet: dict[str, Any] = Field(description="the whole style's sheet with the change made")
    made: list[str] = Field(description="new and changed pieces, in their order")
    gone: list[str]
    touched: list[str] = Field(description="other pieces, whose sewing partner has a new name")
    pieces: list[dict[str, Any]] = Field(description="entries of the sheet")
    views: list[PieceView]
    findings: list[FindingView]


class MeasureSaid(Wire):
    """What a girth should be."""

    line: Name = Field(description="a marked line or an edge by name", examples=["waist"])
    below: Length = Field(default=0.0, description="so far below that line", examples=[200])
    body: Length = Field(description="the body's measure", examples=["72 cm"])
    ease: Length = Field(default=0.0, examples=["4 cm"])
    cloth: Name = Field(
        default="shell", description="pieces of this cloth are summed; facings and linings are not"
    )
    leave_out: list[Name] = Field(
        default=[], max_length=100, description="further pieces that do not count"
    )
    count_in: list[Name] = Field(
        default=[], max_length=100, description="pieces that count, whatever they are"
    )


class BodyCheckRequest(StyleSaid):
    """Does it fit? Without ``measures`` those of the sheet are checked."""

    measures: list[MeasureSaid] | None = Field(default=None, max_length=50)


class GirthPart(Wire):
    """What all hands of one piece give to a girth."""

    piece: str
    mm: float


class GirthLeftOut(Wire):
    """A piece that has the line and does not count, and why."""

    piece: str
    why: str = Field(examples=["it is cut from lining", "its name says facing", "as asked"])


class GirthView(Wire):
    """A garment's girth at a line, darts taken out."""

    line: str
    below_mm: float
    cloth: str
    said: str = Field(examples=["level 200 mm below the waist"])
    body_mm: float
    ease_mm: float
    total_mm: float
    difference_mm: float = Field(description="garment less body and ease")
    parts: list[GirthPart]
    left_out: list[GirthLeftOut]
    leave_out: list[str] = Field(description="as asked")
    count_in: list[str] = Field(description="as asked")


class BodyCheckAnswer(Wire):
    """Girths, what does not fit, and the lines that may be measured."""

    girths: list[GirthView]
    lines: list[str]
    findings: list[FindingView]


class UsualWidth(Wire):
    """A published usual width."""

    name: str
    mm: float


class UsualWidths(Wire):
    """Usual allowances by use, from published sources."""

    seams: list[UsualWidth]
    hems: list[UsualWidth]
