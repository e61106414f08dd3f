"""``grainfold check``: what is to be noticed about pieces before anything is cut."""

from __future__ import annotations

import json
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from nesting.findings import Finding
from nesting.pieces.piece import Piece
from service import views
from service.sources import read_sources

REFUSED = "refused"


def run_check(sources: Sequence[Path], *, as_json: bool, unit: str | None) -> int:
    """Print the findings; 1 if one of them is refused, else 0."""
    style, noticed = read_sources(sources, unit=unit)
    pieces = [_checked(piece, noticed) for piece in style.pieces]
    loose = [
        views.finding_view(f) for f in noticed if f.where not in {p.name for p in style.pieces}
    ]
    if as_json:
        print(
            json.dumps(
                {"style": style.name, "pieces": pieces, "findings": loose},
                indent=1,
                ensure_ascii=False,
            )
        )
    else:
        _print(style.name, pieces, loose)
    everything = [*loose, *(f for p in pieces for f in p["findings"])]
    return int(any(f["level"] == REFUSED for f in everything))


def _checked(piece: Piece, noticed: Sequence[Finding]) -> dict[str, Any]:
    view = views.piece_view(piece)
    own = [views.finding_view(f) for f in noticed if f.where == piece.name]
    return {
        "piece": piece.name,
        "cloth": piece.cloth,
        "count_text": view["count_text"],
        "size_text": view["size_text"],
        "findings": [*(f for f in own if f not in view["findings"]), *view["findings"]],
    }


def _print(style: str, pieces: Sequence[dict[str, Any]], loose: Sequence[dict[str, str]]) -> None:
    print(style)
    for piece in pieces:
        print(f"  {piece['piece']}: {piece['size_text']}; {piece['count_text']}, {piece['cloth']}")
        _print_findings(piece["findings"], "    ")
    _print_findings(loose, "  ")


def _print_findings(findings: Sequence[dict[str, str]], margin: str) -> None:
    for f in findings:
        if f["code"] == "size":
            continue
        hint = f" {f['hint']}" if f["hint"] else ""
        print(f"{margin}{f['level']}: {f['message'].rstrip('.')}.{hint}")
