"""Lengths, viewports and transforms of SVG, as matrices. A matrix is (3, 3), column points."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from typing import Final

import numpy as np

from nesting.polygon import FloatArray

PX_PER_INCH: Final = 96.0
"""CSS reference pixel (CSS Values and Units 3, section 6.2): 1 in = 96 px."""

_PX: Final[dict[str, float]] = {
    "": 1.0,
    "px": 1.0,
    "mm": PX_PER_INCH / 25.4,
    "cm": PX_PER_INCH / 2.54,
    "q": PX_PER_INCH / 101.6,
    "in": PX_PER_INCH,
    "pt": PX_PER_INCH / 72,
    "pc": PX_PER_INCH / 6,
}
PHYSICAL: Final = frozenset(_PX) - {"", "px"}
_LENGTH = re.compile(r"^\s*([-+]?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d+)?)\s*([a-zA-Z%]*)\s*$")
_CALL = re.compile(r"\s*([a-zA-Z]+)\s*\(([^()]*)\)[\s,]*")
_ARGUMENT = re.compile(r"([-+]?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d+)?)(deg|px)?")


class SvgValueError(ValueError):
    """A length, viewBox or transform that cannot be read; the message says which."""


@dataclass(frozen=True, slots=True)
class Viewport:
    """What percentages refer to: the width and height of the nearest viewport, in its user units."""

    width: float
    height: float

    def share(self, axis: str) -> float:
        """100 % of a length along ``x``, ``y``, or of neither (``r``)."""
        if axis == "r":
            return math.hypot(self.width, self.height) / math.sqrt(2)
        return self.width if axis == "x" else self.height


def split_length(text: str) -> tuple[float, str]:
    """Number and unit (lower case). Raises SvgValueError."""
    match = _LENGTH.match(text)
    if match is None:
        raise SvgValueError(f"“{text[:40]}” is not a length")
    value = float(match.group(1))
    if not abs(value) < 1e9:
        raise SvgValueError(f"“{text[:40]}” is beyond all use")
    return value, match.group(2).lower()


def in_user_units(text: str | None, axis: str, viewport: Viewport, default: float = 0.0) -> float:
    """A length attribute in user units; ``axis`` (x, y, r) is what a percentage refers to."""
    if text is None or text.strip().lower() in ("", "auto"):
        return default
    value, unit = split_length(text)
    if unit == "%":
        return value / 100 * viewport.share(axis)
    if unit not in _PX:
        raise SvgValueError(f"the unit of “{text[:40]}” depends on a font or a window")
    return value * _PX[unit]


def view_box(text: str | None) -> tuple[float, float, float, float] | None:
    """The four numbers of a viewBox, or None when there is none."""
    if text is None or not text.strip():
        return None
    parts = re.split(r"[\s,]+", text.strip())
    if len(parts) != 4:
        raise SvgValueError(f"viewBox “{text[:60]}” must hold four numbers")
    x, y, w, h = (split_length(p)[0] for p in parts)
    if w <= 0 or h <= 0:
        raise SvgValueError(f"viewBox “{text[:60]}” has no area")
    return x, y, w, h


def viewport_matrix(
    box: tuple[float, float, float, float], width: float, height: float, ratio: str
) -> FloatArray:
    """From viewBox coordinates to a viewport of ``width`` x ``height`` at 0, 0, by the
    preserveAspectRatio text ``ratio`` (SVG 2, section 8.2)."""
    x, y, w, h = box
    sx, sy = width / w, height / h
    words = ratio.split() or ["xMidYMid"]
    align, slice_ = words[0], "slice" in words[1:]
    if align == "none":
        return _matrix(sx, 0, 0, sy, -x * sx, -y * sy)
    s = max(sx, sy) if slice_ else min(sx, sy)
    match = re.fullmatch(r"x(Min|Mid|Max)Y(Min|Mid|Max)", align)
    if match is None:
        raise SvgValueError(f"preserveAspectRatio “{ratio[:40]}” is not known")
    shares = {"Min": 0.0, "Mid": 0.5, "Max": 1.0}
    tx = (width - w * s) * shares[match.group(1)] - x * s
    ty = (height - h * s) * shares[match.group(2)] - y * s
    return _matrix(s, 0, 0, s, tx, ty)


def transform_matrix(text: str | None) -> FloatArray:
    """The matrix of a transform attribute; the identity when there is none."""
    made: FloatArray = np.eye(3)
    at, body = 0, (text or "").strip()
    while at < len(body):
        match = _CALL.match(body, at)
        if match is None:
            raise SvgValueError(f"transform “{body[at : at + 40]}” cannot be read")
        made = made @ _call(match.group(1), match.group(2))
        at = match.end()
    return made


def translation(x: float, y: float) -> FloatArray:
    """A shift."""
    return _matrix(1, 0, 0, 1, x, y)


def applied(matrix: FloatArray, points: FloatArray) -> FloatArray:
    """``points`` (N, 2) through ``matrix``."""
    return np.asarray(points @ matrix[:2, :2].T + matrix[:2, 2], dtype=float)


def _matrix(a: float, b: float, c: float, d: float, e: float, f: float) -> FloatArray:
    return np.array([[a, c, e], [b, d, f], [0, 0, 1]], dtype=float)


def _call(name: str, body: str) -> FloatArray:
    numbers = [float(m.group(1)) for m in _ARGUMENT.finditer(body)]
    rest = re.sub(r"[\s,]+", "", _ARGUMENT.sub("", body))
    count = len(numbers)
    if rest or not all(abs(n) < 1e9 for n in numbers):
        raise SvgValueError(f"transform “{name}({body[:40]})” cannot be read")
    if name == "matrix" and count == 6:
        return _matrix(*numbers)
    if name == "translate" and count in (1, 2):
        return translation(numbers[0], numbers[1] if count == 2 else 0.0)
    if name == "scale" and count in (1, 2):
        return _matrix(numbers[0], 0, 0, numbers[-1], 0, 0)
    if name == "rotate" and count in (1, 3):
        a = math.radians(numbers[0])
        turn = _matrix(math.cos(a), math.sin(a), -math.sin(a), math.cos(a), 0, 0)
        if count == 1:
            return turn
        return translation(*numbers[1:]) @ turn @ translation(-numbers[1], -numbers[2])
    if name == "skewX" and count == 1:
        return _matrix(1, 0, math.tan(math.radians(numbers[0])), 1, 0, 0)
    if name == "skewY" and count == 1:
        return _matrix(1, math.tan(math.radians(numbers[0])), 0, 1, 0, 0)
    raise SvgValueError(f"transform “{name}({body[:40]})” cannot be read")
