"""``grainfold cut``: cut pieces at true size, as drawings in a directory."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from nesting.allowances.make import cut_piece
from service.errors import WriteError
from service.formats.writing import cut_files
from service.sources import read_sources


def run_cut(sources: Sequence[Path], *, out: Path, page: str, unit: str | None) -> None:
    """Read, cut, write; print the names of the files. Raises what reading, cutting, writing raise."""
    style, _ = read_sources(sources, unit=unit)
    files = cut_files([cut_piece(p) for p in style.pieces], style=style.name, page=page)
    try:
        out.mkdir(parents=True, exist_ok=True)
        for name, data in files.items():
            (out / name).write_bytes(data)
    except OSError as error:
        raise WriteError(
            f"{out} cannot be written to: {(error.strerror or str(error)).lower()}",
            where=str(out),
            hint="Name a directory that you may write in.",
        ) from error
    for name in files:
        print(out / name)
