"""Small piece sheets for the service's tests, from the wardrobe of a touring theatre."""

from __future__ import annotations

import copy
from typing import Any

APRON: dict[str, Any] = {
    "format": "grainfold piece sheet",
    "version": 1,
    "unit": "cm",
    "style": "Apron of the inn scene",
    "defaults": {"allowance": {"seam": 1.5, "hem": 4}},
    "pieces": [
        {
            "name": "Skirt",
            "count": {"on fold": 1},
            "outline": {
                "rectangle": {"width": 45, "length": 60},
                "sides": {"left": {"kind": "fold"}, "bottom": {"kind": "hem"}},
            },
        },
        {
            "name": "Pocket",
            "count": {"pair": 1},
            "grain": "up",
            "outline": {"points": [[0, 0], [18, 0], [20, 20], [0, 20]]},
        },
        {
            "name": "Waistband",
            "count": {"drawn": 1},
            "outline": {"rectangle": {"width": 8, "length": 60}},
        },
        {
            "name": "Band lining",
            "cloth": "lining",
            "outline": {"rectangle": {"width": 8, "length": 60}},
        },
    ],
}

SEVERAL: dict[str, Any] = {
    "format": "grainfold piece sheet",
    "version": 1,
    "unit": "mm",
    "style": "Patches for the travelling coat",
    "pieces": [
        {
            "name": f"Patch {i}",
            "count": {"drawn": 3},
            "grain": "up",
            "outline": {"points": [[0, 0], [150 + 40 * i, 0], [90, 210 + 15 * i], [-30, 120]]},
        }
        for i in range(5)
    ],
}
"""Fifteen odd pieces: their first layout can be improved for a while."""


def apron(**changes: Any) -> dict[str, Any]:
    """The apron with other values at its top."""
    return {**copy.deepcopy(APRON), **changes}


def with_piece(**piece: Any) -> dict[str, Any]:
    """A style of one piece, of which only what a test is about need be said."""
    outline = {"points": [[0, 0], [300, 0], [300, 400], [0, 400]]}
    whole = {"name": "Panel", "grain": "up", "outline": outline, **piece}
    whole = {k: v for k, v in whole.items() if v is not None}
    return {**apron(unit="mm", style="Panel"), "defaults": {}, "pieces": [whole]}
