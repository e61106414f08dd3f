"""``grainfold check``: what is to be noticed about pieces before anything is cut."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

from nesting.errors import NestingError
from nesting.findings import Finding, Level
from nesting.pieces.partners import edges_by_name
from nesting.pieces.piece import Piece, Style
from service import views
from service.body import body_check
from service.sources import read_sources
from service.truing import truing_view

REFUSED = "refused"

SEAM_FIELDS = (
    "first", "second", "first_mm", "second_mm", "difference_mm", "turn_at_start_deg",
    "turn_at_end_deg", "findings", "proposals",
)  # fmt: skip
"""What a check tells of a seam: all but the drawing."""


def run_check(sources: Sequence[Path], *, as_json: bool, unit: str | None) -> int:
    """Print the findings: of pieces, of seams walked, and of girths where the sheet gives the body's
    measures; 1 if one of them is refused, else 0."""
    style, noticed = read_sources(sources, unit=unit)
    pieces = [_checked(piece, noticed) for piece in style.pieces]
    loose = [
        views.finding_view(f) for f in noticed if f.where not in {p.name for p in style.pieces}
    ]
    seams, sewn = _seams(style, pieces)
    girths, fitted = _girths(style)
    loose = [*loose, *sewn, *fitted]
    if as_json:
        told = {
            "style": style.name,
            "pieces": pieces,
            "seams": seams,
            "girths": girths,
            "findings": loose,
        }
        print(json.dumps(told, indent=1, ensure_ascii=False))
    else:
        _print(style.name, pieces, loose)
        _print_seams(seams)
        _print_girths(girths)
    everything = [*loose, *(f for p in pieces for f in p["findings"])]
    return int(any(f["level"] == REFUSED for f in everything))


def _seams(style: Style, pieces: Sequence[dict[str, Any]]) -> tuple[list[Any], list[Any]]:
    """The seams walked, without their drawings, and what was found about all of them. Pieces that
    cannot be cut are not walked."""
    bad = {p["piece"] for p in pieces if any(f["level"] == REFUSED for f in p["findings"])}
    fit = tuple(p for p in style.pieces if p.name not in bad)
    walked = truing_view(replace(style, pieces=fit))
    seams = [{k: v for k, v in seam.items() if k in SEAM_FIELDS} for seam in walked["seams"]]
    findings = [f for f in walked["findings"] if not _of_unfit(f, style, bad)]
    return seams, [*findings, *(f for seam in seams for f in seam["findings"])]


def _of_unfit(finding: dict[str, str], style: Style, bad: set[str]) -> bool:
    """Whether a partner is only missing because its piece cannot be cut, which is said already."""
    edges = edges_by_name(style.pieces)
    if finding["code"] != "partner-unknown" or finding["where"] not in edges:
        return False
    said = edges[finding["where"]][1]
    named = (edges[n][0].name for n in (*said.partners, *said.run) if n in edges)
    return any(name in bad for name in named)


def _girths(style: Style) -> tuple[list[Any], list[Any]]:
    try:
        checked = body_check(style)
    except NestingError as error:
        unknown = Finding(
            error.code, Level.WARNING, error.message, where=error.where, hint=error.hint
        )
        return [], [views.finding_view(unknown)]
    return checked["girths"], checked["findings"]


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


def _print_seams(seams: Sequence[dict[str, Any]]) -> None:
    if seams:
        true = sum(not seam["findings"] for seam in seams)
        print(f"  seams walked: {len(seams)}, of which {true} are true")


def _print_girths(girths: Sequence[dict[str, Any]]) -> None:
    for girth in girths:
        print(
            f"  {girth['said']}: {girth['total_mm']:.0f} mm for {girth['body_mm']:.0f} mm and "
            f"{girth['ease_mm']:.0f} mm of ease"
        )
        counted = ", ".join(f"{p['piece']} {p['mm']:.0f} mm" for p in girth["parts"])
        print(f"    counted: {counted or 'nothing'}")
        if girth["left_out"]:
            left = ", ".join(f"{p['piece']} ({p['why']})" for p in girth["left_out"])
            print(f"    not counted: {left}")


def _print_findings(findings: Sequence[dict[str, str]], margin: str) -> None:
    for f in findings:
        if f["code"] == "size":
            continue
        hint = f" {f['hint']}" if f["hint"] else ""
        print(f"{margin}{f['level']}: {f['message'].rstrip('.')}.{hint}")
