"""From the engine's solutions back to pieces on cloth."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

from nesting.cloth import Cloth, Fold
from nesting.engine.problem import Placement, Solution
from nesting.lacks import lacks_of_zones
from nesting.lay.lay import asked
from nesting.lay.shapes import Frame, grain_line, placed_frame
from nesting.lay.spread import Band, Part, Spread, Strip, beginning_at
from nesting.layout import Layout, Placed, Zone
from nesting.polygon import as_points
from nesting.tolerance import POINT_MM


def layout_of(plan: Spread, solutions: tuple[Solution, ...]) -> Layout:
    """The layout that one solution per strip makes, strips laid one after the other.

    The length counts both plies of a crosswise fold; its floor is the sum of the strips' floors.
    """
    lay = plan.lay
    zones: list[Zone] = []
    placed: list[Placed] = []
    start = length = floor = 0.0
    copies: dict[str, int] = {}
    for strip, solution in zip(plan.strips, solutions, strict=True):
        end = start + solution.length
        if strip is not plan.strips[-1]:
            end = next_start(end, lay.cloth)
        zones += [
            Zone(b.id, start, end, b.y0, b.y1, b.plies, tuple(s.value for s in b.fold_edges))
            for b in strip.bands
        ]
        for placement in solution.placements:
            name = strip.parts[placement.item].cut.piece.name
            copies[name] = copies.get(name, 0) + 1
            placed.append(placed_at(strip, placement, start, copies[name]))
        length += (end - start) * strip.plies_along
        start = end
        proved = solution.floor if strip.floor is None else min(strip.floor, solution.length)
        floor += proved * strip.plies_along
    return Layout(
        cloth=lay.cloth,
        fold=lay.fold,
        zones=tuple(zones),
        asked=asked(lay),
        placed=tuple(placed),
        length_mm=length,
        floor_mm=floor,
        steps_text=_steps(plan, solutions),
        lacks=lacks_of_zones(lay.cloth, zones),
    )


def settled(plan: Spread, lengths: Sequence[float]) -> Spread:
    """The plan with every strip where those before it end; ``lengths`` are theirs. The same plan where
    nothing depends on it."""
    if not plan.lay.cloth.lacks:
        return plan
    start, strips = 0.0, list(plan.strips)
    for index, length in enumerate(lengths[: len(strips) - 1]):
        start = next_start(start + length, plan.lay.cloth)
        strips[index + 1] = beginning_at(strips[index + 1], start, plan.lay)
    return replace(plan, strips=tuple(strips))


def next_start(x: float, cloth: Cloth) -> float:
    """Where the next strip may begin after one that ends at ``x``: on matched cloth at the same place
    of the repeat."""
    repeat = cloth.repeat_along_mm
    return math.ceil((x - POINT_MM) / repeat) * repeat if repeat else x


def placed_at(strip: Strip, placement: Placement, start: float, copy: int) -> Placed:
    """The piece that a placement of a strip stands for, the strip beginning at x = ``start``."""
    part = strip.parts[placement.item]
    pose = strip.problem.items[placement.item].poses[placement.pose]
    frame = placed_frame(part.base, pose, placement.x + start, placement.y)
    band = strip.bands[strip.domain_bands[placement.item][placement.domain]]
    return _moved(part, frame, band, copy, pose.turn_deg, turned_over=pose.mirrored)


def _moved(
    part: Part, frame: Frame, band: Band, copy: int, turn_deg: float, *, turned_over: bool
) -> Placed:
    cut = part.cut
    return Placed(
        piece=cut.piece.name,
        copy=copy,
        zone=band.id,
        plies=part.plies,
        on_fold=part.on_fold,
        hands=part.hands,
        turned_over=turned_over,
        turn_deg=turn_deg,
        grain_rule=cut.piece.grain_rule,
        grain=frame.points(as_points(grain_line(cut.piece, cut.net_line))),
        cut_line=frame.outline(cut.cut_line),
        net_line=frame.outline(cut.net_line),
        notches=tuple(frame.notch(n) for n in cut.notches),
        marks=tuple(frame.mark(m) for m in cut.marks),
        runs=tuple((name, frame.points(line)) for name, line in cut.runs),
    )


_SPREADING = {
    Fold.OPEN: "Spread the cloth open in a single ply, right side up.",
    Fold.LENGTHWISE: "Fold the cloth lengthwise, right sides together, selvedge on selvedge.",
    Fold.OFF_CENTRE: "Fold the cloth lengthwise off centre, right sides together.",
    Fold.DOUBLE: "Fold both selvedges to the middle, right sides together: a fold on each side.",
    Fold.CROSSWISE: "Fold the cloth across, right sides together, end on end.",
}


_NEAR_SELVEDGE = {
    Fold.OPEN: "The selvedge that flaws were measured from is the lower one here.",
    Fold.LENGTHWISE: "A flaw of either ply is drawn where it lies under the other one, too.",
    Fold.OFF_CENTRE: (
        "Fold over the selvedge that flaws were measured from. A flaw of either ply is drawn."
    ),
    Fold.DOUBLE: "The selvedge that flaws were measured from is folded over at the lower fold here.",
}


def _steps(plan: Spread, solutions: tuple[Solution, ...]) -> tuple[str, ...]:
    lay = plan.lay
    steps = []
    for strip, solution in zip(plan.strips, solutions, strict=True):
        if strip.id == "opened out":
            if len(plan.strips) > 1:
                steps.append(
                    f"Cut the folded part, then open the remaining {solution.length:.0f} mm out to "
                    "a single ply, right side up."
                )
            else:
                steps.append(
                    "Nothing can be doubled here: "
                    + _SPREADING[Fold.OPEN][0].lower()
                    + _SPREADING[Fold.OPEN][1:]
                )
        else:
            steps.append(_SPREADING[lay.fold])
            if lay.fold is Fold.OFF_CENTRE and lay.fold_depth_mm is not None:
                steps.append(f"The fold lies {lay.fold_depth_mm:.0f} mm deep.")
            if lay.cloth.lacks:
                steps.append(_NEAR_SELVEDGE[lay.fold])
        singles = [p for p in strip.parts if p.plies == 1]
        if singles and lay.fold is not Fold.OPEN:
            names = dict.fromkeys(p.cut.piece.name for p in singles)
            steps.append(f"In a single ply: {', '.join(names)}.")
    return tuple(steps)
