"""The body check of a style: girths at named lines, by the sheet's own measures or by those asked."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from typing import Any

from nesting.pieces.body_check import Girth, check_body, said
from nesting.pieces.measures import BodyMeasure
from nesting.pieces.piece import Style
from service import views
from service.schemas_changes import MeasureSaid
from service.truing import net_pieces
from service.wishes import in_mm, signed_mm


def body_check(style: Style, asked: Sequence[MeasureSaid] | None = None) -> dict[str, Any]:
    """Girths, what does not fit, and the lines that may be measured.

    Raises RefusedError naming the field of a measure that cannot be read, and PieceError for a line
    that no piece of that cloth has.
    """
    measures = (
        style.measures
        if asked is None
        else tuple(_measure(m, f"measures.{i}") for i, m in enumerate(asked))
    )
    pieces, lost = net_pieces(style.pieces)
    girths, findings = check_body(pieces, measures)
    return {
        "girths": [_girth(g) for g in girths],
        "lines": _lines(style),
        "findings": [views.finding_view(f) for f in (*lost, *findings)],
    }


def _measure(asked: MeasureSaid, where: str) -> BodyMeasure:
    return BodyMeasure(
        asked.line,
        in_mm(asked.body, f"{where}.body"),
        signed_mm(asked.ease, f"{where}.ease"),
        in_mm(asked.below, f"{where}.below"),
        asked.cloth,
        tuple(asked.leave_out),
        tuple(asked.count_in),
    )


def _girth(girth: Girth) -> dict[str, Any]:
    measure = girth.measure
    return {
        "line": measure.line,
        "below_mm": measure.below_mm,
        "cloth": measure.cloth,
        "said": said(measure),
        "body_mm": measure.body_mm,
        "ease_mm": measure.ease_mm,
        "total_mm": round(girth.total_mm, 2),
        "difference_mm": round(girth.difference_mm, 2) + 0.0,
        "parts": [{"piece": name, "mm": round(mm, 2)} for name, mm in girth.parts],
        "left_out": [{"piece": name, "why": why} for name, why in girth.left_out],
        "leave_out": list(measure.leave_out),
        "count_in": list(measure.count_in),
    }


def _lines(style: Style) -> list[str]:
    """Names of marked lines and edges, those of most pieces first."""
    counted: Counter[str] = Counter()
    for piece in style.pieces:
        counted.update(
            {m.name for m in piece.marks if m.name and len(m.points) > 1}
            | {e.name for e in piece.edges}
        )
    return [name for name, _ in counted.most_common()]
