"""Our pieces as entries of a piece sheet, and a sheet as text that can be read and compared."""

from __future__ import annotations

import json
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from nesting.pieces.outline import (
    AllowanceState,
    Corner,
    Edge,
    Pressed,
)
from nesting.pieces.partners import read_row
from nesting.pieces.piece import (
    Piece,
)
from nesting.units import MM_PER


def written_piece(p: Piece, unit: str = "mm") -> dict[str, Any]:
    """A piece as an entry of a sheet whose bare numbers are in ``unit``."""
    scale = _Scale(float(MM_PER[unit]))
    made: dict[str, Any] = {"name": p.name, "cloth": p.cloth, "drawn": p.drawn_as.value}
    if p.grain is not None:
        made["grain"] = {"tail": scale.xy(p.grain.tail), "head": scale.xy(p.grain.head)}
    made["grain_rule"] = p.grain_rule.value
    made["count"] = {"drawn": p.count.drawn, "turned": p.count.turned}
    made["outline"] = {
        "start": scale.xy(p.edges[0].points[0]),
        "edges": [_written_edge(e, scale) for e in p.edges],
    }
    if p.notches:
        made["notches"] = [
            _filled(
                {
                    "edge": n.edge,
                    "distance": scale(n.distance_mm),
                    "marks": n.marks,
                    "name": n.name,
                }
            )
            for n in p.notches
        ]
    if p.darts:
        made["darts"] = [
            {
                "name": d.name,
                "edge": d.edge,
                "first": scale(d.first_mm),
                "second": scale(d.second_mm),
                "point": scale.xy(d.point),
                "fold": d.fold.value,
            }
            for d in p.darts
        ]
    if p.marks:
        made["marks"] = [
            _filled(
                {"kind": m.kind.value, "points": [scale.xy(x) for x in m.points], "name": m.name}
            )
            for m in p.marks
        ]
    if p.origin:
        made["origin"] = p.origin
    return made


DECIMALS = 12
"""Enough for a yard to keep a billionth of a millimetre, few enough to end 12.340000000000002."""


@dataclass(frozen=True, slots=True)
class _Scale:
    """Writes mm in a unit of ``mm`` each."""

    mm: float

    def __call__(self, value: float) -> float:
        return float(value) if self.mm == 1.0 else round(float(value) / self.mm, DECIMALS)

    def xy(self, point: Iterable[float]) -> list[float]:
        return [self(v) for v in point]


def _written_edge(e: Edge, scale: _Scale) -> dict[str, Any]:
    made: dict[str, Any] = {"name": e.name, "kind": e.kind.value}
    if len(e.points) == 2:
        made["to"] = scale.xy(e.points[1])
    else:
        made["points"] = [scale.xy(p) for p in e.points[1:]]
    a = e.allowance
    if (
        a.end_width_mm is None
        and not a.steps
        and not a.width_mm
        and a.state is not AllowanceState.ADD
    ):
        made["allowance"] = a.state.value
    else:
        allowance: dict[str, Any] = {"state": a.state.value, "width": scale(a.width_mm)}
        if a.end_width_mm is not None:
            allowance["end_width"] = scale(a.end_width_mm)
        if a.steps:
            allowance["steps"] = [scale.xy(s) for s in a.steps]
        made["allowance"] = allowance
    if e.inlay_mm:
        made["inlay"] = scale(e.inlay_mm)
    made |= written_partners(e)
    if e.ease_mm:
        made["ease"] = scale(e.ease_mm)
    if e.corner is not Corner.AUTO:
        made["corner"] = e.corner.value
    if e.pressed is not Pressed.UNSAID:
        made["pressed"] = e.pressed.value
    if e.folds_mm:
        made["folds"] = scale.xy(e.folds_mm)
    return made


def written_partners(edge: Edge) -> dict[str, Any]:
    """What a sheet says of an edge's partners: one as a text, a row as a list."""
    made: dict[str, Any] = {}
    if edge.partners:
        alone = len(edge.partners) == 1 and read_row(edge.partners[0]) == edge.partners
        made["partner"] = edge.partners[0] if alone else list(edge.partners)
    if edge.run:
        made["run"] = list(edge.run)
    return made


def _filled(fields: dict[str, Any]) -> dict[str, Any]:
    return {k: v for k, v in fields.items() if v != ""}


def pretty(value: Any, indent: str = "") -> str:
    """JSON text of ``value``, lists of numbers and small objects on one line."""
    flat = json.dumps(value, ensure_ascii=False)
    plain = isinstance(value, list) and all(not isinstance(v, dict) for v in value)
    simple = isinstance(value, dict) and len(flat) < 100
    if not isinstance(value, (dict, list)) or not value or plain or simple:
        return flat
    inner = indent + " "
    if isinstance(value, dict):
        items = [f"{inner}{json.dumps(k)}: {pretty(v, inner)}" for k, v in value.items()]
        return "{\n" + ",\n".join(items) + f"\n{indent}}}"
    return "[\n" + ",\n".join(inner + pretty(v, inner) for v in value) + f"\n{indent}]"
