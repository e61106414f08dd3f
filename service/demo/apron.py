"""An apron of rectangles: typed as width and length, the quickest way to enter a piece.

Common practice: skirt gathered into a band, bib faced with its own cloth, ties and neck strap folded
in half along their length. cm.
"""

from __future__ import annotations

from typing import Any, Final

from service.demo.sheet import PieceDraft, StyleDraft

SKIRT_WIDE, SKIRT_LONG = 84.0, 72.0
BAND_LONG, BAND_DEPTH = 46.0, 5.0
BIB_WIDE, BIB_LONG = 26.0, 28.0

GATHERED = SKIRT_WIDE - BAND_LONG
"""The skirt's top is longer than the band by this: it is gathered in."""

INCLUDED: Final = {"allowance": {"state": "included", "width": 1}}
"""A side that is drawn with its centimetre of seam."""


def draft() -> StyleDraft:
    """The style, cm."""
    return StyleDraft(
        name="Apron of the baker's boy",
        unit="cm",
        note=f"The skirt's top is gathered from {SKIRT_WIDE:g} to {BAND_LONG:g} cm.",
        allowance={"seam": 1, "hem": 4},
        pieces=(
            _box(
                "Skirt", SKIRT_WIDE, SKIRT_LONG,
                bottom={"kind": "hem"},
                left={"allowance": 2}, right={"allowance": 2},
                top={"partner": "Waistband/bottom", "ease": GATHERED},
            ),
            _box(
                "Waistband", BAND_LONG, BAND_DEPTH,
                count={"drawn": 2}, grain="along",
                bottom={"partner": "Skirt/top"},
            ),
            _box(
                "Bib", BIB_WIDE, BIB_LONG,
                top={"partner": "Bib facing/top"}, left={"allowance": 2}, right={"allowance": 2},
            ),
            _box("Bib facing", BIB_WIDE, 8, bottom={"kind": "finished"}, top={"partner": "Bib/top"}),
            _box("Pocket", 20, 22, count={"drawn": 2}, top={"kind": "hem", "allowance": 3}),
            _box("Waist tie", 7, 88, count={"drawn": 2}),
            # Cut as the old one was measured: its long sides are drawn with their allowance.
            _box("Neck strap", 7, 58, left=INCLUDED, right=INCLUDED),
        ),
    )  # fmt: skip


def _box(
    name: str,
    width: float,
    length: float,
    *,
    count: dict[str, int] | None = None,
    grain: str = "up",
    **sides: dict[str, Any],
) -> PieceDraft:
    outline = {"rectangle": {"width": width, "length": length}, "sides": sides}
    return PieceDraft(name, count=count or {"drawn": 1}, grain=grain, outline=outline)
