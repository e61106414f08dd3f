"""An answer as the JSON object that the API and `estimate --json` share (design of the wire)."""

from __future__ import annotations

from typing import Any

from nesting.allowances.cut_piece import CutNotch
from nesting.answer import Answer, fit_text
from nesting.estimate import length_within
from nesting.findings import Finding
from nesting.lacks import Lack
from nesting.layout import Asked, Placed, Zone
from nesting.pieces.piece import Mark
from nesting.polygon import FloatArray

DIGITS = 4
"""Coordinates on the wire: a tenth of a micrometre."""


def answer_json(answer: Answer, *, seconds: float | None = None) -> dict[str, Any]:
    """One entry of ``cloths``: plain JSON data, lengths in mm. ``seconds`` is how long was searched."""
    layout, bought, fit = answer.layout, answer.estimate, answer.fit
    cloth = layout.cloth
    owned, near, far = cloth.owned_mm, cloth.available_mm, cloth.far_length_mm
    return {
        "cloth": cloth.role,
        "fold": layout.fold.value,
        "nap": cloth.nap,
        "usable_width_mm": _mm(cloth.usable_width_mm),
        "selvedge_mm": cloth.selvedge_mm,
        "end_allowance_mm": cloth.end_allowance_mm,
        "length_mm": _mm(layout.length_mm),
        "floor_mm": _mm(layout.floor_mm),
        "need_mm": _mm(bought.need_mm),
        "buy_mm": _mm(bought.buy_mm),
        "buy_text": bought.buy_text,
        "floor_buy_mm": _mm(bought.floor_buy_mm),
        "price": bought.price,
        "currency": bought.currency,
        "terms": [
            {"code": t.code, "label": t.label, "mm": _mm(t.mm), "total_mm": _mm(t.total_mm)}
            for t in bought.terms
        ],
        "utilisation": round(answer.utilisation, 6),
        "fits": None if fit is None else fit.fits,
        "fits_text": "" if fit is None else fit_text(fit, seconds=seconds),
        "slack_mm": None if fit is None or fit.slack_mm is None else _mm(fit.slack_mm),
        "shortage_mm": None if fit is None or fit.shortage_mm is None else _mm(fit.shortage_mm),
        "blocking_piece": None if fit is None else fit.blocking_piece,
        "room_mm": None if owned is None else _mm(length_within(near or owned, cloth)),
        "far_room_mm": None if far is None else _mm(length_within(far, cloth)),
        "lacks": [lack_json(k) for k in layout.lacks],
        "zones": [_zone(z) for z in layout.zones],
        "asked": [_asked(a) for a in layout.asked],
        "placements": [_placed(p) for p in layout.placed],
        "not_laid": [_asked(a) for a in layout.not_laid],
        "steps_text": list(layout.steps_text),
        "findings": [finding_json(f) for f in answer.findings],
    }


def lack_json(lack: Lack) -> dict[str, Any]:
    """A flaw or a missing part as it is sent."""
    return {
        "zone": lack.zone,
        "kind": lack.kind.value,
        "name": lack.name,
        "outline": _points(lack.outline),
    }


def finding_json(finding: Finding) -> dict[str, str]:
    """A finding as it is sent."""
    return {
        "code": finding.code,
        "level": finding.level.value,
        "message": finding.message,
        "where": finding.where,
        "hint": finding.hint,
    }


def _zone(zone: Zone) -> dict[str, Any]:
    return {
        "id": zone.id,
        "x0": _mm(zone.x0),
        "x1": _mm(zone.x1),
        "y0": _mm(zone.y0),
        "y1": _mm(zone.y1),
        "plies": zone.plies,
        "fold_edges": list(zone.fold_edges),
    }


def _asked(asked: Asked) -> dict[str, Any]:
    return {"piece": asked.piece, "drawn": asked.drawn, "turned": asked.turned}


def _placed(placed: Placed) -> dict[str, Any]:
    return {
        "piece": placed.piece,
        "copy": placed.copy,
        "zone": placed.zone,
        "plies": placed.plies,
        "on_fold": placed.on_fold,
        "hands": [h.value for h in placed.hands],
        "turned_over": placed.turned_over,
        "turn_deg": placed.turn_deg,
        "grain_rule": placed.grain_rule.value,
        "grain": _points(placed.grain),
        "cut_line": _points(placed.cut_line),
        "net_line": _points(placed.net_line),
        "notches": [_notch(n) for n in placed.notches],
        "marks": [_mark(m) for m in placed.marks],
    }


def _notch(notch: CutNotch) -> dict[str, Any]:
    return {
        "at": [_mm(v) for v in notch.at],
        "tip": [_mm(v) for v in notch.tip],
        "marks": notch.marks,
        "name": notch.name,
    }


def _mark(mark: Mark) -> dict[str, Any]:
    return {
        "kind": mark.kind.value,
        "points": [[_mm(x), _mm(y)] for x, y in mark.points],
        "name": mark.name,
    }


def _points(points: FloatArray) -> list[list[float]]:
    return [[_mm(x), _mm(y)] for x, y in points.tolist()]


def _mm(value: float) -> float:
    return round(float(value), DIGITS) + 0.0
