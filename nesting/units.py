"""Lengths and shares as people write them, in and out. Inside everything is millimetres.

1 inch = 25.4 mm and 1 yard = 914.4 mm exactly (Federal Register, 1 July 1959; UK Weights and
Measures Act 1963). Inches and yards are shown in fractions, never in decimals.
"""

from __future__ import annotations

import math
import re
from fractions import Fraction
from typing import Final

from nesting.errors import NestingError

MM_PER: Final[dict[str, Fraction]] = {
    "mm": Fraction(1),
    "cm": Fraction(10),
    "m": Fraction(1000),
    "in": Fraction(254, 10),
    "ft": Fraction(3048, 10),
    "yd": Fraction(9144, 10),
}
"""The one table of units."""

INCH_MM: Final = 25.4
YARD_MM: Final = 914.4

_NAMES: Final[dict[str, str]] = {
    **{u: u for u in MM_PER},
    '"': "in", "″": "in", "”": "in", "inch": "in", "inches": "in", "ins": "in",
    "'": "ft", "′": "ft", "foot": "ft", "feet": "ft",
    "yard": "yd", "yards": "yd", "yds": "yd",
    "metre": "m", "metres": "m", "meter": "m", "meters": "m",
    "centimetre": "cm", "centimetres": "cm", "centimeter": "cm", "centimeters": "cm",
    "millimetre": "mm", "millimetres": "mm", "millimeter": "mm", "millimeters": "mm",
}  # fmt: skip
_VULGAR: Final[dict[str, str]] = {
    "½": "1/2", "¼": "1/4", "¾": "3/4", "⅛": "1/8", "⅜": "3/8", "⅝": "5/8", "⅞": "7/8",
    "⅓": "1/3", "⅔": "2/3",
}  # fmt: skip
_AMOUNT = re.compile(
    r"^(?:(?P<whole>\d+)[\s-]+(?P<num>\d+)/(?P<den>\d+)"
    r"|(?P<num2>\d+)/(?P<den2>\d+)"
    r"|(?P<decimal>\d+(?:[.,]\d+)?|[.,]\d+))$"
)


class LengthError(NestingError):
    """A length or share that cannot be read."""

    code = "length"


def parse_length(text: str | float, *, unit: str = "mm") -> float:
    """Millimetres from a number or a text such as ``150 cm``, ``60in``, ``1 3/8"``, ``1⅜``, ``2 yd``.

    A bare number is in ``unit`` (mm unless told). A fraction without a unit is inches when ``unit``
    is mm: nobody writes millimetres in fractions. Raises LengthError for anything else, negative
    and non-finite numbers included.
    """
    if isinstance(text, (int, float)):
        return _checked(float(text) * float(MM_PER[unit]), str(text))
    amount, written = _split(text)
    value = _amount(amount, text)
    if written and written not in _NAMES:
        raise _unreadable(text, f"the unit “{written}” is not known")
    if not written and "/" in amount and unit == "mm":
        unit = "in"
    return _checked(float(value * MM_PER[_NAMES[written] if written else unit]), text)


def parse_share(text: str | float) -> float:
    """A share between 0 and 1 (exclusive) from ``3%``, ``3 %``, ``0.03`` or a number.

    A bare number of 1 or more is refused: nobody can tell whether 3 means 3 % or threefold.
    """
    if isinstance(text, str):
        body = text.strip()
        percent = body.endswith("%")
        value = float(_amount(body.rstrip("% ").strip(), text)) / (100 if percent else 1)
    else:
        value = float(text)
    if not 0 <= value < 1:
        raise LengthError(
            f"{text} is not a share between 0 and 100 %", hint="Write it like 3%.", code="share"
        )
    return value


def show_fraction(value: float, *, denominator: int = 16) -> str:
    """``value`` as whole and fraction to the nearest 1/denominator: 1.375 -> ``1 3/8``."""
    nearest = Fraction(round(value * denominator), denominator)
    sign, nearest = ("-" if nearest < 0 else ""), abs(nearest)
    whole, rest = divmod(nearest.numerator, nearest.denominator)
    if not rest:
        return f"{sign}{whole}"
    return f"{sign}{f'{whole} ' if whole else ''}{rest}/{nearest.denominator}"


def show_length(mm: float, *, system: str = "metric", denominator: int = 16) -> str:
    """A size on a piece or a cloth: ``62.4 cm`` or ``24 9/16 in``."""
    if system == "imperial":
        return f"{show_fraction(mm / INCH_MM, denominator=denominator)} in"
    return f"{mm / 10:.1f} cm"


def show_cloth_length(mm: float, *, unit: str = "m") -> str:
    """A length of cloth as shops say it: ``1.60 m`` or ``1 3/4 yd`` (eighths, else sixteenths).

    Rounded to the nearest centimetre or fraction for reading only; round up with
    ``nesting.estimate`` before buying.
    """
    if unit == "yd":
        eighths = mm / YARD_MM * 8
        fine = 8 if abs(eighths - round(eighths)) < 1e-6 else 16
        return f"{show_fraction(mm / YARD_MM, denominator=fine)} yd"
    return f"{mm / 1000:.2f} m"


def _split(text: str) -> tuple[str, str]:
    body = text.strip().lower()
    for sign, plain in _VULGAR.items():
        body = re.sub(rf"(\d)\s*[-]?\s*{sign}", rf"\1 {plain}", body).replace(sign, plain)
    match = re.match(r"^([\d\s.,/-]*\d)\s*(.*?)\.?$", body)
    if not match:
        raise _unreadable(text, "no number was found")
    return match.group(1).strip(), match.group(2).strip()


def _amount(amount: str, text: str | float) -> Fraction:
    match = _AMOUNT.match(amount)
    if not match:
        raise _unreadable(text, "the number cannot be read")
    g = match.groupdict()
    if g["decimal"]:
        return Fraction(g["decimal"].replace(",", "."))
    denominator = int(g["den"] or g["den2"])
    if denominator == 0:
        raise _unreadable(text, "a fraction's lower number is 0")
    return int(g["whole"] or 0) + Fraction(int(g["num"] or g["num2"]), denominator)


def _checked(mm: float, text: str) -> float:
    if not math.isfinite(mm) or mm < 0:
        raise _unreadable(text, "it must be 0 or more")
    return mm


def _unreadable(text: str | float, why: str) -> LengthError:
    return LengthError(
        f"“{text}” cannot be read as a length: {why}",
        hint='Write it like 150 cm, 1.5 m, 60 in, 1 3/8", 2 yd; a bare number is mm.',
    )
