"""A replacement for one torn coat skirt: points measured with a tape from the old panel, in inches.

No formula: the waist of the panel was pinned at 0, 0, its front edge along the grain, and the tape gave
across and down for each point. Curves are as many points as were measured. The lining of a left skirt
is a right skirt as its own cloth sees it: one piece, turned over.
"""

from __future__ import annotations

from typing import Any

from service.demo.sheet import PieceDraft, StyleDraft

PANEL = (
    (0.0, -34.0), (3.0, -34.125), (6.0, -34.0), (9.0, -33.625), (12.0, -33.0), (15.0, -32.125),
    (14.25, -25.0), (13.375, -18.0), (12.5, -12.0), (11.625, -7.0), (10.875, -3.5), (10.25, -0.25),
    (7.75, 0.25), (5.0, 0.5), (2.5, 0.375), (0.0, 0.0),
)  # fmt: skip
"""Across and up, inches, from the front corner of the hem round to the waist at the front edge."""

HEM_SIDES = range(1, 6)
WAIST_SIDES = range(12, 16)
FLAP = ((0.0, 0.0), (3.5, -0.5), (7.0, 0.0), (7.25, 2.75), (-0.25, 2.75))


def draft() -> StyleDraft:
    """The style, inches."""
    return StyleDraft(
        name="Coat of the colonel, new left skirt",
        unit="in",
        note="Measured from the torn panel. Seams 1/2 in as in the old coat, hem 2 in.",
        allowance={"seam": "1/2 in", "hem": "2 in"},
        pieces=(
            PieceDraft("Left skirt", grain="up", grain_rule="one way", outline=_panel(2.0)),
            PieceDraft(
                "Left skirt lining",
                cloth="lining", count={"turned": 1}, grain="up", outline=_panel(1.0),
            ),
            PieceDraft(
                "Pocket flap", count={"drawn": 1}, grain="up", grain_rule="one way", outline=_flap()
            ),
            PieceDraft(
                "Pocket flap lining", cloth="lining", count={"turned": 1}, grain="up", outline=_flap()
            ),
            PieceDraft(
                "Hem canvas",
                cloth="interfacing",
                grain="along",
                outline={
                    "points": [list(p) for p in _canvas()],
                    "sides": {f"{i}": {"kind": "finished"} for i in range(1, len(_canvas()) + 1)},
                },
            ),
        ),
    )  # fmt: skip


def _panel(hem: float) -> dict[str, Any]:
    sides: dict[str, Any] = {f"{i}": {"kind": "hem", "allowance": hem} for i in HEM_SIDES}
    sides |= {f"{i}": {"name": f"waist {n}"} for n, i in enumerate(WAIST_SIDES, start=1)}
    sides[f"{len(PANEL)}"] = {"name": "front edge", "allowance": "1 in"}
    return {"points": [list(p) for p in PANEL], "sides": sides}


def _flap() -> dict[str, Any]:
    return {"points": [list(p) for p in FLAP], "sides": {"4": {"name": "top"}}}


def _canvas() -> tuple[tuple[float, float], ...]:
    """A strip 2 in deep that follows the hem, cut to the net line."""
    hem = PANEL[:6]
    return (*hem, *((x, y + 2.0) for x, y in reversed(hem)))
