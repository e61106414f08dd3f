"""SVG path data and basic shapes to lines and cubic curves (SVG 1.1 chapter 8 and 9, SVG 2 chapter 9).

Own grammar, because a cutter must not lose the rest of a path that has a slip in it: whatever is not
path data is an error that says where, never a shorter path. Arcs become cubics before any matrix is
applied, which keeps them exact under skew.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass

import numpy as np

from nesting.polygon import FloatArray

ARC_STEP = math.pi / 4
"""An eighth of a turn as one cubic is off by 4e-6 of the radius: 2 micrometres on half a metre."""


@dataclass(frozen=True, slots=True, eq=False)
class Subpath:
    """One run of the pen: ``segments`` are (2, 2) lines or (4, 2) cubics, end to end."""

    segments: tuple[FloatArray, ...]
    closed: bool


class PathDataError(ValueError):
    """Path data that is none; the message says what came where."""


_TOKEN = re.compile(
    r"([MmZzLlHhVvCcSsQqTtAa])|([-+]?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d+)?)|([\s,]+)"
)
_FLAG = re.compile(r"[\s,]*([01])")
_NUMBER = re.compile(r"[\s,]*([-+]?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d+)?)")
_TAKES = {"M": 2, "L": 2, "H": 1, "V": 1, "C": 6, "S": 4, "Q": 4, "T": 2, "A": 7, "Z": 0}


def parse_path(data: str, *, most: int = 300_000) -> list[Subpath]:
    """The subpaths of path data, in user units. Raises PathDataError; also above ``most`` segments."""
    pen = _Pen()
    for command, numbers in _commands(data, most):
        pen.draw(command, numbers)
    return pen.finish()


def rectangle(x: float, y: float, w: float, h: float, rx: float, ry: float) -> list[Subpath]:
    """A rectangle, corners rounded by radii ``rx``, ``ry`` (0 = square)."""
    rx, ry = min(rx, w / 2), min(ry, h / 2)
    if rx <= 0 or ry <= 0:
        return polyline([(x, y), (x + w, y), (x + w, y + h), (x, y + h)], closed=True)
    a = f"A{rx!r} {ry!r} 0 0 1"
    return parse_path(
        f"M{x + rx!r} {y!r}H{x + w - rx!r}{a} {x + w!r} {y + ry!r}V{y + h - ry!r}"
        f"{a} {x + w - rx!r} {y + h!r}H{x + rx!r}{a} {x!r} {y + h - ry!r}V{y + ry!r}"
        f"{a} {x + rx!r} {y!r}Z"
    )


def ellipse(cx: float, cy: float, rx: float, ry: float) -> list[Subpath]:
    """A whole ellipse, from its right-hand end."""
    centre, radii = np.array([cx, cy]), np.array([rx, ry])
    cubics = [c * radii + centre for c in _unit_arc(0.0, 2 * math.pi)]
    cubics[-1][3] = cubics[0][0]
    return [Subpath(tuple(cubics), True)]


def polyline(points: list[tuple[float, float]], *, closed: bool) -> list[Subpath]:
    """Straight lines through ``points``; nothing when there are none."""
    if not points:
        return []
    xy = [np.array(p, dtype=float) for p in points]
    ends = [*xy[1:], xy[0]] if closed else xy[1:]
    lines = [np.array([a, b]) for a, b in zip(xy, ends, strict=False) if not np.array_equal(a, b)]
    return [Subpath(tuple(lines), closed)] if lines else []


def _commands(data: str, most: int) -> list[tuple[str, list[float]]]:
    """(command, numbers) pairs, one pair for each repetition of a command's numbers."""
    made: list[tuple[str, list[float]]] = []
    at, command = 0, ""
    data = data.rstrip()
    while at < len(data):
        match = _TOKEN.match(data, at)
        if match is None:
            raise PathDataError(f"“{data[at : at + 12]}” at character {at + 1} is not path data")
        if match.group(3):
            at = match.end()
            continue
        if match.group(1):
            command, at = match.group(1), match.end()
            if not made and command not in "Mm":
                raise PathDataError("path data must start with a move (M)")
            if command in "Zz":
                made.append(("Z", []))
                continue
        elif not command or command in "Zz":
            raise PathDataError(f"a command is missing before the number at character {at + 1}")
        numbers, at = _numbers(data, at, command)
        made.append((command, numbers))
        if len(made) > most:
            raise PathDataError(f"the path has more than {most} segments")
        if command in "Mm":
            # Further pairs after a move are lines.
            command = "L" if command == "M" else "l"
    return made


def _numbers(data: str, at: int, command: str) -> tuple[list[float], int]:
    numbers: list[float] = []
    for i in range(_TAKES[command.upper()]):
        flag = command in "Aa" and i in (3, 4)
        match = (_FLAG if flag else _NUMBER).match(data, at)
        if match is None:
            raise PathDataError(
                f"“{command}” takes {_TAKES[command.upper()]} numbers; number {i + 1} is missing at "
                f"character {at + 1}"
            )
        value = float(match.group(1))
        if not abs(value) < 1e9:
            raise PathDataError(f"the number at character {at + 1} is beyond all use")
        numbers.append(value)
        at = match.end()
    return numbers, at


class _Pen:
    """Where the pen is, and what it has drawn."""

    def __init__(self) -> None:
        self.done: list[Subpath] = []
        self.segments: list[FloatArray] = []
        self.here = np.zeros(2)
        self.start = np.zeros(2)
        self.control: tuple[str, FloatArray] | None = None

    def draw(self, command: str, numbers: list[float]) -> None:
        kind = command.upper()
        base = self.here if command.islower() and kind != "Z" else np.zeros(2)
        last, self.control = self.control, None
        if kind == "M":
            self._lift(closed=False)
            self.here = self.start = base + numbers
        elif kind == "Z":
            if not np.array_equal(self.here, self.start):
                self._line(self.start)
            self._lift(closed=True)
            self.here = self.start
        elif kind == "L":
            self._line(base + numbers)
        elif kind == "H":
            self._line(np.array([base[0] + numbers[0], self.here[1]]))
        elif kind == "V":
            self._line(np.array([self.here[0], base[1] + numbers[0]]))
        elif kind == "A":
            self._arc(numbers[:5], base + numbers[5:])
        else:
            self._curve(kind, base + np.array(numbers).reshape(-1, 2), last)

    def finish(self) -> list[Subpath]:
        self._lift(closed=False)
        return self.done

    def _curve(self, kind: str, p: FloatArray, last: tuple[str, FloatArray] | None) -> None:
        if kind in "ST":
            family = "CS" if kind == "S" else "QT"
            mirrored = 2 * self.here - last[1] if last and last[0] in family else self.here
            p = np.vstack([mirrored, p])
        self.control = (kind, p[-2])
        if kind in "QT":
            q = p[0]
            p = np.array([self.here + 2 / 3 * (q - self.here), p[1] + 2 / 3 * (q - p[1]), p[1]])
        self._add(np.vstack([self.here, p]))

    def _line(self, to: FloatArray) -> None:
        if not np.array_equal(self.here, to):
            self._add(np.array([self.here, to]))

    def _arc(self, numbers: list[float], to: FloatArray) -> None:
        rx, ry, turn, large, sweep = numbers
        if rx == 0 or ry == 0 or np.array_equal(self.here, to):
            self._line(to)
            return
        for cubic in _arc_cubics(self.here, to, abs(rx), abs(ry), turn, bool(large), bool(sweep)):
            self._add(cubic)

    def _add(self, segment: FloatArray) -> None:
        self.segments.append(segment)
        self.here = segment[-1]

    def _lift(self, *, closed: bool) -> None:
        if self.segments:
            self.done.append(Subpath(tuple(self.segments), closed))
        self.segments = []


def _arc_cubics(
    a: FloatArray, b: FloatArray, rx: float, ry: float, turn: float, large: bool, sweep: bool
) -> list[FloatArray]:
    """End-point arc to cubics (SVG 1.1, appendix F.6: centre form, radii made large enough)."""
    c, s = math.cos(math.radians(turn)), math.sin(math.radians(turn))
    into = np.array([[c, s], [-s, c]])
    radii = np.array([rx, ry])
    half = into @ ((a - b) / 2)
    reach = float(((half / radii) ** 2).sum())
    if reach > 1:
        radii = radii * math.sqrt(reach)
    h = half / radii
    root = math.sqrt(max(1 / float(h @ h) - 1, 0.0)) * (1 if large != sweep else -1)
    centre = root * np.array([h[1], -h[0]])
    first, last = h - centre, -h - centre
    start = math.atan2(first[1], first[0])
    sweep_by = (math.atan2(last[1], last[0]) - start) % (2 * math.pi)
    if not sweep:
        sweep_by -= 2 * math.pi
    back = into.T
    middle = (a + b) / 2 + back @ (centre * radii)
    cubics = [(q * radii) @ back.T + middle for q in _unit_arc(start, sweep_by)]
    cubics[0][0], cubics[-1][3] = a, b
    return cubics


def _unit_arc(start: float, sweep: float) -> list[FloatArray]:
    """Cubics of the unit circle from angle ``start`` on by ``sweep`` radians."""
    steps = max(math.ceil(abs(sweep) / ARC_STEP - 1e-9), 1)
    d = sweep / steps
    k = 4 / 3 * math.tan(d / 4)
    cubics = []
    for i in range(steps):
        t0, t1 = start + i * d, start + (i + 1) * d
        p0 = np.array([math.cos(t0), math.sin(t0)])
        p3 = np.array([math.cos(t1), math.sin(t1)])
        cubics.append(
            np.array(
                [p0, p0 + k * np.array([-p0[1], p0[0]]), p3 - k * np.array([-p3[1], p3[0]]), p3]
            )
        )
    return cubics
