"""What of a style wants to be looked at, counted for the list of styles."""

from __future__ import annotations

import hashlib
import json
from collections import OrderedDict
from dataclasses import replace
from threading import Lock
from typing import Any

from nesting.errors import NestingError
from nesting.findings import Level
from nesting.pieces.piece import Style
from service import views
from service.body import body_check
from service.errors import FormatError
from service.truing import truing_view
from service.wardrobe import style_of

MOST_KEPT = 512
"""Counts of so many sheets are remembered: making all cut pieces of a style takes a while."""

_counted: OrderedDict[str, dict[str, Any]] = OrderedDict()
_lock = Lock()


def look(sheet: dict[str, Any]) -> dict[str, Any]:
    """Pieces that cannot be cut, pieces with a warning, seams that do not walk true and girths that do
    not fit, counted; ``readable`` is false for a sheet that cannot be read any more."""
    key = hashlib.sha256(json.dumps(sheet).encode()).hexdigest()
    with _lock:
        if key in _counted:
            _counted.move_to_end(key)
            return _counted[key]
    counts = _look(sheet)
    with _lock:
        _counted[key] = counts
        while len(_counted) > MOST_KEPT:
            _counted.popitem(last=False)
    return counts


def _look(sheet: dict[str, Any]) -> dict[str, Any]:
    try:
        style, _ = style_of(sheet, "the sheet")
    except FormatError:
        return _counts(readable=False)
    levels = {p.name: {f["level"] for f in views.piece_view(p)["findings"]} for p in style.pieces}
    refused = {name for name, found in levels.items() if Level.REFUSED in found}
    fit = replace(style, pieces=tuple(p for p in style.pieces if p.name not in refused))
    return _counts(
        pieces_refused=len(refused),
        pieces_to_see=sum(
            Level.WARNING in found for name, found in levels.items() if name not in refused
        ),
        seams_to_see=sum(bool(seam["findings"]) for seam in truing_view(fit)["seams"]),
        girths_to_see=0 if refused else _girths_off(fit),
    )


def _girths_off(style: Style) -> int:
    try:
        findings = body_check(style)["findings"]
    except NestingError:
        return 1  # a line that no piece has
    return sum(f["level"] == Level.WARNING for f in findings)


def _counts(*, readable: bool = True, **found: int) -> dict[str, Any]:
    names = ("pieces_refused", "pieces_to_see", "seams_to_see", "girths_to_see")
    return {"readable": readable, **{name: found.get(name, 0) for name in names}}
