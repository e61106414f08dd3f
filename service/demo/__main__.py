"""Write the demo wardrobe's piece sheets."""

from __future__ import annotations

from service.demo import FOLDER, sheet_texts

if __name__ == "__main__":
    for name, text in sheet_texts().items():
        (FOLDER / name).write_text(text, encoding="utf-8")
        print(f"{name}: {len(text.splitlines())} lines")
