"""SVG out: papers at true size in mm; the lay sheet, and cut pieces for a cutter or a plotter."""

from __future__ import annotations

import re
from collections.abc import Sequence
from xml.sax.saxutils import escape, quoteattr

from service.formats.paper import PENS, Block, Paper, Stroke, Words

GAP_MM = 5.0
"""Between sheets that are put one below the other in one file."""

_NOT_XML = re.compile("[^\t\n\r\u0020-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")


def paper_svg(paper: Paper) -> str:
    """One paper as an SVG drawing whose unit is the mm."""
    return papers_svg([paper])


def papers_svg(papers: Sequence[Paper]) -> str:
    """Papers one below the other in one SVG drawing; each is a group named by its title."""
    width = max(p.width for p in papers)
    height = sum(p.height for p in papers) + GAP_MM * (len(papers) - 1)
    parts = [
        '<?xml version="1.0" encoding="UTF-8"?>',
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{_n(width)}mm" height="{_n(height)}mm" '
        f'viewBox="0 0 {_n(width)} {_n(height)}">',
        f"<title>{_text(papers[0].title)}</title>",
        '<g fill="none" stroke="#000" stroke-linejoin="round">',
    ]
    top = 0.0
    for paper in papers:
        lone = len(papers) == 1
        parts += [] if lone else [f'<g transform="translate(0 {_n(top)})">', _title(paper.title)]
        for block in paper.blocks:
            parts += _block(block, paper.height)
        parts += [] if lone else ["</g>"]
        top += paper.height + GAP_MM
    return "\n".join([*parts, "</g>", "</svg>", ""])


def _block(block: Block, height: float) -> list[str]:
    label = f" data-name={quoteattr(_clean(block.label))}" if block.label else ""
    lines = [f"<g{label}>"]
    if block.title:
        lines.append(_title(block.title))
    items = (
        _stroke(i, height) if isinstance(i, Stroke) else _words(i, height) for i in block.items
    )
    return [*lines, *items, "</g>"]


def _stroke(stroke: Stroke, height: float) -> str:
    pen = PENS[stroke.ink]
    dash = f' stroke-dasharray="{" ".join(_n(d) for d in pen.dash)}"' if pen.dash else ""
    points = "L".join(f"{_n(x)} {_n(height - y)}" for x, y in stroke.points)
    label = f" data-name={quoteattr(_clean(stroke.label))}" if stroke.label else ""
    # An empty path needs no closing tag; a title makes programs and readers say what it is.
    inner = f">{_title(stroke.title)}</path>" if stroke.title else "/>"
    closing = "Z" if stroke.closed else ""
    return (
        f'<path class="{stroke.ink}"{label} d="M{points}{closing}" '
        f'stroke-width="{_n(pen.width)}"{dash}{inner}'
    )


def _words(words: Words, height: float) -> str:
    x, y = _n(words.x), _n(height - words.y)
    turn = f' transform="rotate({_n(-words.turn_deg)} {x} {y})"' if words.turn_deg else ""
    bold = ' font-weight="bold"' if words.bold else ""
    return (
        f'<text x="{x}" y="{y}" font-family="sans-serif" font-size="{_n(words.size)}" '
        f'text-anchor="{words.anchor}" fill="#000" stroke="none"{bold}{turn}>'
        f"{_text(words.text)}</text>"
    )


def _title(text: str) -> str:
    return f"<title>{_text(text)}</title>"


def _text(text: str) -> str:
    return escape(_clean(text))


def _clean(text: str) -> str:
    """Without characters that XML cannot hold."""
    return _NOT_XML.sub("", text)


def _n(value: float) -> str:
    """A number to a tenth of a micrometre, without trailing zeros."""
    text = f"{value:.4f}".rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text
