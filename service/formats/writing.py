"""Layouts and cut pieces as files: which paper goes into which format, and what the files are called."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace
from enum import StrEnum
from typing import Final

from nesting.allowances.cut_piece import CutPiece
from nesting.layout import Layout
from nesting.units import show_length
from service.errors import WriteError
from service.formats.cut_paper import cut_paper, cut_papers
from service.formats.dxf_out import paper_dxf
from service.formats.lay_sheet import lay_sheets, layout_plot
from service.formats.paper import Paper, moved
from service.formats.pdf_out import page_size, papers_pdf, tiled_pdf
from service.formats.svg_out import paper_svg, papers_svg

STACK_MM: Final = 50.0


class Drawing(StrEnum):
    """Formats that are written; each is a file's suffix."""

    SVG = "svg"
    PDF = "pdf"
    DXF = "dxf"


def drawing_kind(name: str) -> Drawing:
    """The format that a file's name asks for. Raises WriteError."""
    suffix = name.rpartition(".")[2].lower()
    if suffix not in tuple(Drawing):
        raise WriteError(
            f"{name} names no kind of drawing",
            where=name,
            hint=f"Name a file ending in {', '.join(f'.{d}' for d in Drawing)}.",
        )
    return Drawing(suffix)


def lay_file(
    laid: Sequence[tuple[Layout, str]], *, style: str, kind: Drawing, page: str = "A4"
) -> bytes:
    """Layouts of a style's cloths, each with a line of what to buy, in one file: lay sheets to scale
    (SVG one below the other, PDF on ``page``), or the layouts at true size (DXF, one below the other).
    Raises WriteError."""
    drawn = [(layout, line) for layout, line in laid if layout.placed]
    if not drawn:
        raise WriteError(f"{style} has nothing laid to draw", where=style)
    if kind is Drawing.DXF:
        return paper_dxf(_stacked([layout_plot(layout, style=style) for layout, _ in drawn]))
    size = page_size(page if kind is Drawing.PDF else "A3")
    papers = [
        paper
        for layout, line in drawn
        for paper in lay_sheets(
            layout,
            style=style,
            lines=[line],
            page=size[::-1],
            system="imperial" if layout.cloth.step.unit == "yd" else "metric",
        )
    ]
    return papers_pdf(papers) if kind is Drawing.PDF else papers_svg(papers).encode()


def cut_file(cuts: Sequence[CutPiece], *, style: str, kind: Drawing, page: str = "A4") -> bytes:
    """All cut pieces at true size in one file; a PDF is tiles of ``page``. Raises WriteError."""
    if kind is Drawing.PDF:
        return tiled_pdf(cut_papers(cuts, style=style, check=False), page=page)
    whole = cut_paper(cuts, style=style)
    return paper_dxf(whole) if kind is Drawing.DXF else paper_svg(whole).encode()


def cut_files(cuts: Sequence[CutPiece], *, style: str, page: str = "A4") -> dict[str, bytes]:
    """Cut pieces at true size by file name: each as SVG, all as SVG, DXF, and PDF on tiles of ``page``.

    Raises WriteError for another page, or when the tiles would be too many.
    """
    base, papers = file_name(style), cut_papers(cuts, style=style)
    names = {
        f"{base}.svg": Drawing.SVG,
        f"{base}.dxf": Drawing.DXF,
        f"{base}-{page}.pdf": Drawing.PDF,
    }
    files = {n: cut_file(cuts, style=style, kind=k, page=page) for n, k in names.items()}
    for cut, paper in zip(cuts, papers, strict=True):
        name = f"{base}-{file_name(cut.piece.name)}"
        while f"{name}.svg" in files:
            name += "-again"
        files[f"{name}.svg"] = paper_svg(paper).encode()
    return files


def file_name(text: str) -> str:
    """A text as a file's name on any system: letters, digits, dashes."""
    return re.sub(r"[^\w]+", "-", text).strip("-_")[:60] or "pieces"


def buy_line(layout: Layout, buy_text: str) -> str:
    """What to buy, and of which width, for a lay sheet's head."""
    system = "imperial" if layout.cloth.step.unit == "yd" else "metric"
    return (
        f"Buy {buy_text}; length used {show_length(layout.length_mm, system=system)} of cloth "
        f"{show_length(layout.cloth.usable_width_mm, system=system)} wide between the selvedges"
    )


def _stacked(papers: Sequence[Paper]) -> Paper:
    """Papers as one, the first at the top."""
    width = max(p.width for p in papers)
    height = sum(p.height for p in papers) + STACK_MM * (len(papers) - 1)
    blocks, top = [], height
    for paper in papers:
        blocks += [moved(b, dy=top - paper.height) for b in paper.blocks]
        top -= paper.height + STACK_MM
    return replace(papers[0], width=width, height=height, blocks=tuple(blocks))
