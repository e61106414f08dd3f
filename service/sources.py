"""Files named on the command line: read, and laid together when there are several."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import replace
from pathlib import Path

from nesting.findings import Finding
from nesting.pieces.piece import Piece, Style
from service.errors import FormatError
from service.formats.reading import read_bytes

SUFFIXES = (".json", ".svg", ".dxf", ".pdf")
"""Kinds of file taken from a directory."""


def read_sources(
    paths: Sequence[Path], *, unit: str | None = None
) -> tuple[Style, tuple[Finding, ...]]:
    """One style of all the files, and what was noticed; a directory stands for the files in it.

    Pieces of the same name in several files are told apart by their style's name. Raises
    FormatError naming the file.
    """
    read = [_read(file, unit) for file in _files(paths)]
    styles = [style for style, _ in read]
    findings = tuple(f for _, noticed in read for f in noticed)
    return (styles[0] if len(styles) == 1 else _together(styles)), findings


def _files(paths: Iterable[Path]) -> list[Path]:
    files: list[Path] = []
    for path in paths:
        if not path.is_dir():
            files.append(path)
            continue
        found = sorted(f for f in path.iterdir() if f.suffix.lower() in SUFFIXES and f.is_file())
        if not found:
            raise FormatError(
                f"there is no piece sheet or drawing in {path}",
                hint=f"Files ending in {' or '.join(SUFFIXES)} are read.",
                where=str(path),
            )
        files += found
    return files


def _read(file: Path, unit: str | None) -> tuple[Style, tuple[Finding, ...]]:
    try:
        data = file.read_bytes()
    except OSError as error:
        raise FormatError(
            f"{file} cannot be opened: {(error.strerror or str(error)).lower()}",
            hint="Look at the name, and whether you may read the file.",
            where=str(file),
        ) from error
    return read_bytes(data, name=file.name, unit_choice=unit)


def _together(styles: Sequence[Style]) -> Style:
    counted = Counter(p.name for s in styles for p in s.pieces)

    def named(style: Style, piece: Piece) -> Piece:
        return (
            piece
            if counted[piece.name] == 1
            else replace(piece, name=f"{style.name}: {piece.name}")
        )

    pieces = [named(s, p) for s in styles for p in s.pieces]
    twice = [name for name, n in Counter(p.name for p in pieces).items() if n > 1]
    if twice:
        raise FormatError(
            f"two files bring the piece “{twice[0]}” of the same style",
            hint="Name each file once, or use --copies to lay a style several times.",
            where=twice[0],
        )
    # Several garments have no girth in common: what one of them should measure is left out.
    return Style(" + ".join(s.name for s in styles), tuple(pieces))
