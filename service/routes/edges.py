"""How edges become cut lines: every corner and dart treatment, cut by the code itself."""

from __future__ import annotations

from functools import lru_cache
from typing import Any

from fastapi import APIRouter
from fastapi.responses import JSONResponse, Response

from nesting.allowances.gallery import Example, examples
from nesting.pieces.outline import Edge
from service import views
from service.schemas import ExampleList

router = APIRouter(prefix="/api", tags=["documents"])


@router.get("/edges", response_model=ExampleList)
def edges() -> Response:
    """One cut piece for each treatment: net and cut line, notches, and what it is for."""
    return JSONResponse({"examples": _examples()})


@lru_cache(maxsize=1)
def _examples() -> list[dict[str, Any]]:
    return [_view(example) for example in examples()]


def _view(example: Example) -> dict[str, Any]:
    return {
        "code": example.code,
        "title": example.title,
        "text": example.text,
        "piece": views.cut_view(example.cut),
        "widths_mm": [_widths(edge) for edge in example.cut.piece.edges],
        "folded": [views.points_view(line) for line in example.folded],
    }


def _widths(edge: Edge) -> list[float]:
    allowance = edge.allowance
    widths = [allowance.width_mm, *(width for _, width in allowance.steps)]
    if allowance.end_width_mm is not None:
        widths.append(allowance.end_width_mm)
    return widths
