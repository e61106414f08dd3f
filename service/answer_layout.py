"""A stored answer (``answer_json``) back to the layout that it tells of, for drawing it again."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from nesting.allowances.cut_piece import CutNotch
from nesting.cloth import Cloth, Fold, ShopStep, SpotKind
from nesting.lacks import Lack
from nesting.layout import Asked, Layout, Placed, Zone
from nesting.pieces.piece import GrainRule, Hand, Mark, MarkKind
from nesting.polygon import as_points


def layout_from_json(cloth: Mapping[str, Any]) -> Layout:
    """The layout of one entry of ``cloths``. Its cloth carries what the answer says (usable width,
    selvedge, ends, nap, the shop's unit), not what was asked: a width before shrinkage is not in it.
    """
    selvedge = float(cloth["selvedge_mm"])
    return Layout(
        cloth=Cloth(
            role=cloth["cloth"],
            width_mm=float(cloth["usable_width_mm"]) + 2 * selvedge,
            selvedge_mm=selvedge,
            nap=bool(cloth["nap"]),
            end_allowance_mm=float(cloth["end_allowance_mm"]),
            step=ShopStep(unit="yd" if str(cloth["buy_text"]).endswith("yd") else "m"),
        ),
        fold=Fold(cloth["fold"]),
        zones=tuple(Zone(**{**z, "fold_edges": tuple(z["fold_edges"])}) for z in cloth["zones"]),
        asked=tuple(Asked(**a) for a in cloth["asked"]),
        placed=tuple(_placed(p) for p in cloth["placements"]),
        length_mm=float(cloth["length_mm"]),
        floor_mm=float(cloth["floor_mm"]),
        not_laid=tuple(Asked(**a) for a in cloth["not_laid"]),
        steps_text=tuple(cloth.get("steps_text", ())),
        lacks=tuple(
            Lack(SpotKind(k["kind"]), as_points(k["outline"]), k["name"], k["zone"])
            for k in cloth.get("lacks", ())
        ),
    )


def _placed(p: Mapping[str, Any]) -> Placed:
    return Placed(
        piece=p["piece"],
        copy=p["copy"],
        zone=p["zone"],
        plies=p["plies"],
        on_fold=p["on_fold"],
        hands=tuple(Hand(h) for h in p["hands"]),
        turned_over=p["turned_over"],
        turn_deg=p["turn_deg"],
        grain_rule=GrainRule(p["grain_rule"]),
        grain=as_points(p["grain"]),
        cut_line=as_points(p["cut_line"]),
        net_line=as_points(p["net_line"]),
        notches=tuple(
            CutNotch(tuple(n["at"]), tuple(n["tip"]), n["marks"], n["name"]) for n in p["notches"]
        ),
        marks=tuple(
            Mark(MarkKind(m["kind"]), tuple((x, y) for x, y in m["points"]), m["name"])
            for m in p["marks"]
        ),
    )
