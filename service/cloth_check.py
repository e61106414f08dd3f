"""Does the real cloth, as measured on the table, hold the layout? Pure; lengths mm."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

TAPE_MM = 1.0
"""A tape laid along cloth is read to a millimetre at best: so much is forgiven, not more."""


@dataclass(frozen=True, slots=True)
class ClothCheck:
    """Spare length and width, mm (negative: short), the narrowest place counted from one, and words."""

    spare_length_mm: float
    spare_width_mm: float
    narrowest: int
    fits: bool
    words: str


def check_cloth(
    layout: Mapping[str, Any], lengths_mm: Sequence[float], widths_mm: Sequence[float]
) -> ClothCheck:
    """Compare a cloth's measured lengths (both selvedges) and opened widths (several places) with
    what the pieces of ``layout`` (wire form) reach to, ends and selvedges included.

    The shorter selvedge and the narrowest place decide: a piece may lie at either. Only where the
    layout was made for a slanted end, every piece is held against the line from the near selvedge's
    end (measured first) to the far one's.
    """
    spare_length = (
        min(lengths_mm) - _needed_length(layout)
        if layout.get("far_room_mm") is None or len(lengths_mm) != 2
        else _spare_to_slant(layout, lengths_mm[0], lengths_mm[1])
    )
    spare_width = min(widths_mm) - _needed_width(layout)
    narrowest = list(widths_mm).index(min(widths_mm)) + 1
    short = spare_length < -TAPE_MM
    narrow = spare_width < -TAPE_MM
    if not short and not narrow:
        words = (
            f"The cloth holds the layout: {spare_length:.0f} mm to spare along, "
            f"{spare_width:.0f} mm across."
        )
    else:
        faults = []
        if narrow:
            faults.append(f"{-spare_width:.0f} mm too narrow at place {narrowest}")
        if short:
            faults.append(f"{-spare_length:.0f} mm too short")
        words = (
            f"The cloth is {' and '.join(faults)}. Do not cut: give the desk the measured "
            "width and length, and lay again."
        )
    return ClothCheck(spare_length, spare_width, narrowest, not short and not narrow, words)


def _needed_length(layout: Mapping[str, Any]) -> float:
    """Length of single cloth, both ends included; a crosswise fold takes its stretch twice."""
    ends = 2 * float(layout["end_allowance_mm"])
    reach = max((float(x) for p in layout["placements"] for x, _ in p["cut_line"]), default=0.0)
    crosswise = any("x0" in z["fold_edges"] for z in layout["zones"])
    return (2 * reach if crosswise else reach) + ends


def _spare_to_slant(layout: Mapping[str, Any], near_mm: float, far_mm: float) -> float:
    """What is left along, at least, between a piece in any ply and the slanted end, ends squared off."""
    ends, selvedge = 2 * float(layout["end_allowance_mm"]), float(layout["selvedge_mm"])
    usable = float(layout["usable_width_mm"])
    zones = {z["id"]: z for z in layout["zones"]}
    spare = min(near_mm, far_mm) if not layout["placements"] else math.inf
    for placement in layout["placements"]:
        zone = zones[placement["zone"]]
        for x, y in placement["cut_line"]:
            for across in _opened(zone, float(y), usable):
                share = (across + selvedge) / (usable + 2 * selvedge)
                end = near_mm + (far_mm - near_mm) * share
                spare = min(spare, end - ends - float(x))
    return spare


def _opened(zone: Mapping[str, Any], y: float, usable: float) -> tuple[float, ...]:
    """Where a height in a zone lies on the opened cloth, once for each ply."""
    if zone["plies"] == 1:
        return (y + zone["y0"],)
    if "y1" in zone["fold_edges"]:
        return usable / 4 + y, 5 * usable / 4 - y
    return zone["y1"] + y, zone["y1"] - y


def _needed_width(layout: Mapping[str, Any]) -> float:
    """Width of the opened cloth, selvedges included."""
    selvedge = float(layout["selvedge_mm"])
    if layout["fold"] not in ("open", "lengthwise", "crosswise"):
        return float(layout["usable_width_mm"]) + 2 * selvedge
    zones = {z["id"]: z for z in layout["zones"]}
    needed = 0.0
    for placement in layout["placements"]:
        reach = max(float(y) for _, y in placement["cut_line"])
        folded = "y0" in zones[placement["zone"]]["fold_edges"]
        needed = max(needed, 2 * (reach + selvedge) if folded else reach + 2 * selvedge)
    return needed
