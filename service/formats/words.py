"""The words written on a drawing's groups and lines: "Front; pair; lining", "hem; 4 cm".

Words are parted by semicolons; capitals do not matter. What is not understood is an error with the
nearest known word, never ignored: a mistyped "pari" would cut one sleeve.
"""

from __future__ import annotations

import difflib
import re
from dataclasses import dataclass, field, replace
from enum import StrEnum

from nesting.errors import NestingError
from nesting.pieces.outline import Allowance, AllowanceState, Corner, EdgeKind, Pressed
from nesting.pieces.piece import Count, DrawnAs, GrainRule, MarkKind
from nesting.units import parse_length

KNOWN_CLOTHS = ("shell", "lining", "interlining", "interfacing", "contrast", "pocketing", "wadding")
"""Cloth roles that need no word before them; any other is written "cloth velvet"."""


class WordError(ValueError):
    """Words that are not understood; the message quotes them."""


class Role(StrEnum):
    """What a line is."""

    OUTLINE = "outline"
    EDGE = "edge"
    GRAIN = "grain"
    NOTCH = "notch"
    DART = "dart"
    MARK = "mark"
    CHECK = "check"
    IGNORED = "ignored"


@dataclass(frozen=True, slots=True)
class LineWords:
    """What a line's label says."""

    role: Role
    name: str = ""
    drawn: DrawnAs | None = None
    edge_kind: EdgeKind | None = None
    allowance: Allowance | None = None
    inlay_mm: float = 0.0
    partner: str = ""
    ease_mm: float = 0.0
    pressed: Pressed = Pressed.UNSAID
    ends: Corner = Corner.AUTO
    folds_mm: tuple[float, ...] = ()
    marks: int = 1
    mark_kind: MarkKind | None = None
    length_mm: float | None = None


@dataclass(frozen=True, slots=True)
class PieceWords:
    """What a piece's label says; None where it says nothing."""

    name: str
    cloth: str | None = None
    count: Count | None = None
    on_fold: bool = False
    drawn: DrawnAs | None = None
    grain_rule: GrainRule | None = None
    allowances: dict[EdgeKind, Allowance] = field(default_factory=dict)


_ROLES: dict[str, tuple[Role, str]] = {
    "net": (Role.OUTLINE, "net"),
    "net line": (Role.OUTLINE, "net"),
    "cut": (Role.OUTLINE, "cut"),
    "cut line": (Role.OUTLINE, "cut"),
    "outline": (Role.OUTLINE, ""),
    "edge": (Role.EDGE, ""),
    "seam": (Role.EDGE, "seam"),
    "hem": (Role.EDGE, "hem"),
    "fold": (Role.EDGE, "fold"),
    "finished": (Role.EDGE, "finished"),
    "grain": (Role.GRAIN, ""),
    "grain line": (Role.GRAIN, ""),
    "notch": (Role.NOTCH, "1"),
    "double notch": (Role.NOTCH, "2"),
    "triple notch": (Role.NOTCH, "3"),
    "dart": (Role.DART, ""),
    "drill": (Role.MARK, "drill"),
    "button": (Role.MARK, "button"),
    "buttonhole": (Role.MARK, "buttonhole"),
    "centre line": (Role.MARK, "centre line"),
    "center line": (Role.MARK, "centre line"),
    "balance": (Role.MARK, "balance"),
    "line": (Role.MARK, "line"),
    "check": (Role.CHECK, ""),
    "ignore": (Role.IGNORED, ""),
}
_ENDS: dict[str, Corner] = {
    "ends mitred": Corner.MITRE,
    "ends square": Corner.STEP,
    "ends blunt": Corner.BLUNT,
    "turns back": Corner.THIS_TURNS_BACK,
}
_PRESSED: dict[str, Pressed] = {
    "pressed open": Pressed.OPEN,
    "pressed towards": Pressed.TOWARDS,
    "pressed away": Pressed.AWAY,
}
_LONGEST_FIRST = sorted(_ROLES, key=len, reverse=True)
_AMOUNT = r"(?P<n>\d{1,3})"
_LENGTH = re.compile(r"^[\d.,½¼¾⅛⅜⅝⅞⅓⅔]")


def split_words(label: str) -> list[str]:
    """The words of a label, between semicolons, spaces evened out."""
    return [w for part in label.split(";") if (w := re.sub(r"\s+", " ", part).strip())]


def is_line_role(label: str) -> bool:
    """Whether a label starts with a word that says what a line is."""
    words = split_words(label)
    return bool(words) and _role_of(words[0]) is not None


def is_bare_role(label: str) -> bool:
    """Whether a label is a role and nothing else (a number may follow): "net", "grain 2". A layer so
    called holds lines of that role; "Button stand" is a piece, not a button."""
    found = _role_of(label.strip())
    return found is not None and (not found[1] or found[1].isdigit())


def is_outline_role(label: str) -> bool:
    """Whether a label says that its line is a piece's outline."""
    words = split_words(label)
    found = _role_of(words[0]) if words else None
    return found is not None and not found[1] and _ROLES[found[0]][0] is Role.OUTLINE


def read_line_words(label: str) -> LineWords:
    """What a line's label says. Raises WordError."""
    words = split_words(label)
    found = _role_of(words[0]) if words else None
    if found is None:
        raise WordError(f"“{label[:60]}” does not start with a word that says what the line is")
    key, name = found
    role, detail = _ROLES[key]
    made = LineWords(role, name)
    if role is Role.OUTLINE:
        made = replace(made, drawn=DrawnAs(detail) if detail else None)
    elif role is Role.EDGE:
        made = replace(made, edge_kind=EdgeKind(detail) if detail else None)
    elif role is Role.NOTCH:
        made = replace(made, marks=int(detail))
    elif role is Role.MARK:
        made = replace(made, mark_kind=MarkKind(detail))
    for word in words[1:]:
        made = _more_of_line(made, word)
    return made


def read_piece_words(label: str) -> PieceWords:
    """What a piece's label says: its name first, the rest in any order. Raises WordError."""
    words = split_words(label)
    if not words:
        raise WordError("a piece's label starts with its name")
    made = PieceWords(words[0])
    for word in words[1:]:
        made = _more_of_piece(made, word)
    return made


def read_style_words(label: str) -> PieceWords:
    """What the drawing's title says: the style's name, and what holds for pieces that say nothing."""
    return read_piece_words(label)


def _role_of(word: str) -> tuple[str, str] | None:
    """(role word, the name after it) of a line's first word."""
    low = word.lower()
    for key in _LONGEST_FIRST:
        if low == key or low.startswith(key + " "):
            return key, word[len(key) :].strip()
    return None


def _more_of_line(made: LineWords, word: str) -> LineWords:
    low = word.lower()
    if made.role is Role.EDGE:
        if low.startswith("to "):
            return replace(made, partner=word[3:].strip())
        if low.startswith("inlay "):
            return replace(made, inlay_mm=_mm(word[6:]))
        if low.startswith("ease "):
            return replace(made, ease_mm=_mm(word[5:]))
        if low.startswith("folded at "):
            return replace(made, folds_mm=(*made.folds_mm, _mm(word[10:])))
        if low in _ENDS:
            return replace(made, ends=_ENDS[low])
        if low in _PRESSED:
            return replace(made, pressed=_PRESSED[low])
        if low in tuple(EdgeKind):
            return replace(made, edge_kind=EdgeKind(low))
        if (allowance := _allowance(low)) is not None:
            return replace(made, allowance=allowance)
    if made.role is Role.CHECK and _LENGTH.match(low):
        return replace(made, length_mm=_mm(word))
    if made.role is Role.OUTLINE and low in tuple(DrawnAs):
        return replace(made, drawn=DrawnAs(low))
    raise WordError(f"“{word[:60]}” is not understood on a line that is {made.role}")


def _more_of_piece(made: PieceWords, word: str) -> PieceWords:
    low = word.lower()
    if low in tuple(GrainRule):
        return replace(made, grain_rule=GrainRule(low))
    if low in tuple(DrawnAs):
        return replace(made, drawn=DrawnAs(low))
    if low in KNOWN_CLOTHS:
        return replace(made, cloth=low)
    if low.startswith("cloth "):
        return replace(made, cloth=word[6:].strip())
    if (counted := _count(low)) is not None:
        return _counted(made, *counted)
    kind, _, rest = low.partition(" ")
    if kind in (EdgeKind.SEAM, EdgeKind.HEM, EdgeKind.FINISHED) and rest:
        allowance = _allowance(rest)
        if allowance is not None:
            return replace(made, allowances={**made.allowances, EdgeKind(kind): allowance})
    known = [*KNOWN_CLOTHS, *GrainRule, *DrawnAs, "pair", "on fold", "drawn", "turned", "cloth"]
    near = difflib.get_close_matches(low, known, n=1, cutoff=0.6)
    meant = f"; did you mean “{near[0]}”?" if near else ""
    raise WordError(f"“{word[:60]}” is not understood{meant}")


def _count(low: str) -> tuple[str, int] | None:
    """(pair, drawn, turned or on fold; how many)."""
    for pattern, what in (
        (rf"^(?:{_AMOUNT} )?pairs?$", "pair"),
        (rf"^pairs? (?:x ?)?{_AMOUNT}$", "pair"),
        (rf"^(?:{_AMOUNT} )?on (?:the )?fold$", "on fold"),
        (rf"^on (?:the )?fold (?:x ?)?{_AMOUNT}$", "on fold"),
        (rf"^{_AMOUNT}(?: ?x| off| drawn| as drawn)?$", "drawn"),
        (rf"^(?:cut|drawn|x) ?{_AMOUNT}$", "drawn"),
        (rf"^{_AMOUNT} turned(?: over)?$", "turned"),
        (rf"^turned {_AMOUNT}$", "turned"),
    ):
        match = re.match(pattern, low)
        if match:
            return what, int(match.group("n") or 1)
    return None


def _counted(made: PieceWords, what: str, n: int) -> PieceWords:
    if n == 0:
        raise WordError("a count of 0 cuts nothing: leave the piece out instead")
    before = made.count or Count(0, 0)
    if what == "pair":
        return replace(made, count=Count(before.drawn + n, before.turned + n))
    if what == "turned":
        return replace(made, count=Count(before.drawn, before.turned + n))
    return replace(
        made,
        count=Count(before.drawn + n, before.turned),
        on_fold=made.on_fold or what == "on fold",
    )


def _allowance(low: str) -> Allowance | None:
    if low == "none":
        return Allowance(AllowanceState.NONE)
    if low == "included":
        return Allowance(AllowanceState.INCLUDED)
    body = low.removeprefix("add ").strip()
    included = body.startswith("included ")
    body = body.removeprefix("included ").strip()
    if not _LENGTH.match(body):
        return None
    state = AllowanceState.INCLUDED if included else AllowanceState.ADD
    return Allowance(state, _mm(body))


def _mm(text: str) -> float:
    """A length with its unit: on a drawing a bare number would be taken for pixels by one reader and
    for centimetres by another."""
    if not re.search(r"[^\d\s.,/½¼¾⅛⅜⅝⅞⅓⅔-]", text):
        raise WordError(f"“{text.strip()[:40]}” needs a unit: write 15 mm, 1.5 cm or 5/8 in")
    try:
        return parse_length(text)
    except NestingError as e:
        raise WordError(e.message) from None
