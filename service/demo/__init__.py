"""The demo wardrobe: six garments of a small touring theatre, drafted by code.

``python -m service.demo`` writes one piece sheet a style beside these modules.
"""

from __future__ import annotations

from pathlib import Path

from service.demo import apron, breeches, cloak, coat_panel, skirt, waistcoat
from service.demo.sheet import StyleDraft

FOLDER = Path(__file__).parent


def wardrobe() -> dict[str, StyleDraft]:
    """Every style by its sheet's file name."""
    return {
        "waistcoat.json": waistcoat.draft(),
        "skirt.json": skirt.draft(),
        "apron.json": apron.draft(),
        "cloak.json": cloak.draft(),
        "coat-panel.json": coat_panel.draft(),
        "breeches.json": breeches.draft(),
    }


def sheets() -> tuple[Path, ...]:
    """The committed sheets, the waistcoat first."""
    names = ("waistcoat", "skirt", "apron", "cloak", "coat-panel", "breeches")
    return tuple(FOLDER / f"{name}.json" for name in names)
