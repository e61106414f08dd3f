"""The demo wardrobe: seven garments of a small touring theatre, drafted by code.

Six are drafted as sheets; the bodice is drafted as pieces and changed as a cutter would change them.
``python -m service.demo`` writes one piece sheet a style beside these modules.
"""

from __future__ import annotations

from pathlib import Path

from service.demo import apron, bodice, breeches, cloak, coat_panel, skirt, waistcoat
from service.demo.sheet import StyleDraft, as_text
from service.formats.piece_sheet import piece_sheet_text, write_piece_sheet

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


def sheet_texts() -> dict[str, str]:
    """The text of every sheet, as its code makes it, by file name."""
    texts = {name: as_text(style) for name, style in wardrobe().items()}
    texts["bodice.json"] = piece_sheet_text(write_piece_sheet(bodice.style()))
    return texts


def sheets() -> tuple[Path, ...]:
    """The committed sheets, the waistcoat first."""
    names = ("waistcoat", "skirt", "apron", "cloak", "coat-panel", "breeches", "bodice")
    return tuple(FOLDER / f"{name}.json" for name in names)
