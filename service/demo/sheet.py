"""From a draft to a piece sheet: the JSON that a person could have typed from the paper."""

from __future__ import annotations

import json
import math
import re
from dataclasses import dataclass, field
from typing import Any, Final

from service.demo.draft import Point, Side

DECIMALS: Final = {"cm": 3, "in": 4}
"""Places kept: a hundredth of a millimetre or finer, far below any line drawn on paper."""

PAIR: Final = {"pair": 1}
ONE: Final = {"drawn": 1}
ON_FOLD: Final = {"on fold": 1}


@dataclass(frozen=True, slots=True)
class DartDraft:
    """A dart with its mouth on side ``on``, ``width`` wide about the distance ``at`` along it."""

    name: str
    on: str
    at: float
    width: float
    point: Point
    fold: str = "towards the first leg"


@dataclass(frozen=True, slots=True)
class PieceDraft:
    """A piece of a draft: its sides, or the ``outline`` of a sheet for a piece that is measured
    rather than drafted. ``grain`` is as in a sheet."""

    name: str
    sides: tuple[Side, ...] = ()
    count: dict[str, int] = field(default_factory=lambda: dict(ONE))
    cloth: str = "shell"
    grain: str | tuple[Point, Point] = "up"
    grain_rule: str = ""
    darts: tuple[DartDraft, ...] = ()
    marks: tuple[tuple[str, tuple[Point, ...], str], ...] = ()
    outline: dict[str, Any] | None = None

    def side(self, name: str) -> Side:
        """The side of that name. Raises KeyError."""
        for s in self.sides:
            if s.name == name:
                return s
        raise KeyError(name)


@dataclass(frozen=True, slots=True)
class StyleDraft:
    """A style as drafted, all numbers in ``unit``; ``measures`` are the body's, as in a sheet."""

    name: str
    unit: str
    note: str
    allowance: dict[str, Any]
    pieces: tuple[PieceDraft, ...]
    measures: tuple[dict[str, Any], ...] = ()

    def piece(self, name: str) -> PieceDraft:
        """The piece of that name. Raises KeyError."""
        for p in self.pieces:
            if p.name == name:
                return p
        raise KeyError(name)


def net_length(piece: PieceDraft, side: str) -> float:
    """Length of a side once its darts are sewn."""
    return piece.side(side).length - sum(d.width for d in piece.darts if d.on == side)


def as_sheet(style: StyleDraft) -> dict[str, Any]:
    """The piece sheet of a style, as plain JSON values."""
    return {
        "format": "grainfold piece sheet",
        "version": 1,
        "unit": style.unit,
        "style": style.name,
        "note": style.note,
        "defaults": {"allowance": style.allowance},
        **({"body": {"measures": list(style.measures)}} if style.measures else {}),
        "pieces": [_piece(p, style.unit) for p in style.pieces],
    }


def as_text(style: StyleDraft) -> str:
    """The piece sheet as a text file, every point on one line."""
    text = json.dumps(as_sheet(style), indent=1, ensure_ascii=False)
    number = r"-?\d+(?:\.\d+)?"
    text = re.sub(rf"\[\s+({number}),\s+({number})\s+\]", r"[\1, \2]", text)
    text = re.sub(r"\[\s+(\[[^\[\]]*\](?:,\s+\[[^\[\]]*\])*)\s+\]", _one_line, text)
    return re.sub(r"\{\s+(\"[^{}\[\]]{1,60}?)\s+\}", _one_line_object, text) + "\n"


def _one_line(match: re.Match[str]) -> str:
    return "[" + re.sub(r"\],\s+\[", "], [", match.group(1)) + "]"


def _one_line_object(match: re.Match[str]) -> str:
    return "{" + re.sub(r",\s+", ", ", match.group(1)) + "}"


def _piece(piece: PieceDraft, unit: str) -> dict[str, Any]:
    said: dict[str, Any] = {"name": piece.name, "cloth": piece.cloth, "count": piece.count}
    if isinstance(piece.grain, tuple):
        tail, head = (_point(p, unit) for p in piece.grain)
        said["grain"] = {"tail": tail, "head": head}
    else:
        said["grain"] = piece.grain
    if piece.grain_rule:
        said["grain_rule"] = piece.grain_rule
    said["outline"] = piece.outline if piece.outline is not None else _outline(piece, unit)
    if notches := [_notch(s, n, unit) for s in piece.sides for n in s.notches]:
        said["notches"] = notches
    if piece.darts:
        said["darts"] = [_dart(d, unit) for d in piece.darts]
    if piece.marks:
        said["marks"] = [
            {"kind": kind, "points": [_point(p, unit) for p in points], "name": name}
            for kind, points, name in piece.marks
        ]
    return said


def _outline(piece: PieceDraft, unit: str) -> dict[str, Any]:
    for side, after in zip(piece.sides, (*piece.sides[1:], piece.sides[0]), strict=True):
        if math.dist(side.end, after.start) > 1e-6:
            raise ValueError(
                f"{piece.name}: {side.name} ends at {side.end}, {after.name} starts at {after.start}"
            )
    return {
        "start": _point(piece.sides[0].start, unit),
        "edges": [_edge(s, unit) for s in piece.sides],
    }


def _edge(side: Side, unit: str) -> dict[str, Any]:
    said: dict[str, Any] = {"name": side.name}
    if side.kind != "seam":
        said["kind"] = side.kind
    if side.add is not None:
        said["allowance"] = side.add if isinstance(side.add, dict) else _number(side.add, unit)
    if side.partner:
        said["partner"] = side.partner
    if side.ease > 0:
        # Said once, on the longer of the two.
        said["ease"] = _number(side.ease, unit)
    steps = [_step(s, unit) for s in side.steps]
    return {**said, **(steps[0] if len(steps) == 1 else {"path": steps})}


def _step(step: tuple[Point, ...], unit: str) -> dict[str, Any]:
    points = [_point(p, unit) for p in step]
    return {"to": points[0]} if len(points) == 1 else {"curve": points}


def _notch(side: Side, notch: tuple[float, int, str], unit: str) -> dict[str, Any]:
    distance, marks, name = notch
    said: dict[str, Any] = {"edge": side.name, "distance": _number(distance, unit)}
    if marks != 1:
        said["marks"] = marks
    return {**said, "name": name} if name else said


def _dart(dart: DartDraft, unit: str) -> dict[str, Any]:
    return {
        "name": dart.name,
        "edge": dart.on,
        "first": _number(dart.at - dart.width / 2, unit),
        "second": _number(dart.at + dart.width / 2, unit),
        "point": _point(dart.point, unit),
        "fold": dart.fold,
    }


def _point(p: Point, unit: str) -> list[float]:
    return [_number(p[0], unit), _number(p[1], unit)]


def _number(value: float, unit: str) -> float:
    rounded = round(value, DECIMALS[unit]) + 0.0  # + 0.0 turns -0.0 into 0.0
    return int(rounded) if rounded == int(rounded) else rounded
