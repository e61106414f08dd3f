"""Write the demo wardrobe's piece sheets."""

from __future__ import annotations

from service.demo import FOLDER, wardrobe
from service.demo.sheet import as_text

if __name__ == "__main__":
    for name, style in wardrobe().items():
        (FOLDER / name).write_text(as_text(style), encoding="utf-8")
        print(f"{name}: {style.name}, {len(style.pieces)} pieces")
