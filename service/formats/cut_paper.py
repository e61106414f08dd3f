"""Cut pieces at true size on paper, labelled by the drawing convention so that they can be read again.

Beside the pieces stands a check line: measure it before trusting a print.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final

import numpy as np
from shapely import Polygon, maximum_inscribed_circle

from nesting.allowances.cut_piece import CutNotch, CutPiece
from nesting.pieces.outline import AllowanceState, EdgeKind
from nesting.pieces.piece import GrainRule, Mark, MarkKind, Piece
from nesting.polygon import FloatArray, as_points
from nesting.units import show_length
from service.formats.paper import (
    Anchor,
    Block,
    Ink,
    Paper,
    Stroke,
    Words,
    arrow,
    extent,
    line,
    moved,
)

GAP_MM: Final = 20.0
CHECK_MM: Final = 100.0
HEAD_MM: Final = 25.0
POINT_RADIUS_MM: Final = 2.0
TICK_MM: Final = 4.0
_CLOTH_WORDS = ("shell", "lining", "interlining", "interfacing", "contrast", "pocketing", "wadding")
_NOTCH_WORDS = {1: "notch", 2: "double notch", 3: "triple notch"}


def cut_papers(cuts: Sequence[CutPiece], *, style: str, check: bool = True) -> list[Paper]:
    """One paper for each cut piece, just large enough for it; without the check line when ``check``
    is False, for printing on pages that have one of their own."""
    return [_paper([cut], style, f"{style}: {cut.piece.name}", check=check) for cut in cuts]


def cut_paper(cuts: Sequence[CutPiece], *, style: str) -> Paper:
    """All cut pieces on one paper, in rows, largest first."""
    return _paper(cuts, style, style)


def piece_block(cut: CutPiece) -> Block:
    """A cut piece in its own frame, mm: cut line, net line, fold, grain, notches, marks and texts."""
    piece = cut.piece
    items: list[Stroke | Words] = [
        Stroke(cut.cut_line, Ink.CUT, closed=True, label="cut", title="cut line"),
        Stroke(cut.net_line, Ink.NET, closed=True, label="line net line", title="net line"),
    ]
    if cut.fold is not None:
        items.append(Stroke(cut.fold, Ink.FOLD, label="fold", title="lies on the fold"))
    if piece.grain is not None:
        tail, head = np.array(piece.grain.tail), np.array(piece.grain.head)
        both = piece.grain_rule is not GrainRule.ONE_WAY
        items += arrow(tail, head, size=8.0, both=both)
    items += [notch_stroke(n, cut.cut_line) for n in cut.notches]
    items += [mark_stroke(m) for m in cut.marks]
    items += _texts(cut)
    return Block(piece_label(piece, on_fold=cut.fold is not None), tuple(items))


def piece_label(piece: Piece, *, on_fold: bool) -> str:
    """The piece's words by the drawing convention: ``Front; pair; shell; either way; cut``."""
    drawn, turned = piece.count.drawn, piece.count.turned
    if on_fold:
        counts = ["on fold" if drawn == 1 else f"{drawn} on fold"]
    elif drawn == turned:
        counts = ["pair" if drawn == 1 else f"{drawn} pairs"]
    else:
        counts = [f"{drawn} drawn"] * (drawn > 0) + [f"{turned} turned"] * (turned > 0)
    cloth = piece.cloth if piece.cloth in _CLOTH_WORDS else f"cloth {piece.cloth}"
    name = piece.name.replace(";", ",")
    return "; ".join([name, *counts, cloth.replace(";", ","), piece.grain_rule.value, "cut"])


def notch_stroke(notch: CutNotch, cut_line: FloatArray) -> Stroke:
    """A notch as snipped; where there is no allowance to snip, a tick outside the piece instead."""
    label = f"{_NOTCH_WORDS.get(notch.marks, 'notch')} {notch.name}".strip()
    if math.dist(notch.at, notch.tip) > TICK_MM / 100:
        return line(Ink.NOTCH, notch.at, notch.tip, label=label, title=label)
    at = np.array(notch.at)
    a, b = cut_line, np.roll(cut_line, -1, axis=0)
    d = b - a
    t = np.clip(((at - a) * d).sum(axis=1) / np.maximum((d * d).sum(axis=1), 1e-12), 0.0, 1.0)
    nearest = int(np.argmin(np.hypot(*(a + t[:, None] * d - at).T)))
    out = np.array([d[nearest][1], -d[nearest][0]]) / max(float(np.hypot(*d[nearest])), 1e-9)
    return Stroke(
        as_points(np.array([at, at + TICK_MM * out])),
        Ink.NOTCH,
        label=label,
        title=f"{label}: mark it, there is no allowance to snip",
    )


def mark_stroke(mark: Mark) -> Stroke:
    """A mark as a line, a point as a small circle (radius POINT_RADIUS_MM)."""
    label = f"{mark.kind.value} {mark.name}".strip()
    if mark.kind not in _READ_BACK:
        label = f"line {label}"
    if len(mark.points) == 1:
        a = np.linspace(0, 2 * np.pi, 25)[:-1]
        ring = np.array(mark.points[0]) + POINT_RADIUS_MM * np.column_stack([np.cos(a), np.sin(a)])
        return Stroke(as_points(ring), Ink.NOTCH, closed=True, label=label, title=label)
    return Stroke(as_points(mark.points), Ink.MARK, label=label, title=label)


_READ_BACK = frozenset(
    (MarkKind.DRILL, MarkKind.BUTTON, MarkKind.BUTTONHOLE)
    + (MarkKind.CENTRE_LINE, MarkKind.BALANCE, MarkKind.LINE)
)


def _texts(cut: CutPiece) -> list[Words]:
    piece = cut.piece
    # In a bent piece (a facing) the middle of the box lies outside: write where it is widest.
    widest = maximum_inscribed_circle(Polygon(cut.cut_line))
    x, y = widest.coords[0]
    size = float(np.clip(widest.length / 6, 2.0, 8.0))
    count = piece_label(piece, on_fold=cut.fold is not None).split("; ")[1:-1]
    added = sorted(
        {
            f"{e.kind.value} {round(e.allowance.width_mm, 1):g} mm"
            for e in piece.edges
            if e.allowance.state is AllowanceState.ADD and e.kind is not EdgeKind.FOLD
        }
    )
    lines = [piece.name, ", ".join(count), ", ".join(added)]
    return [
        Words(
            x, y - i * 1.5 * size, text, size * (1.2 if i == 0 else 0.8), Anchor.MIDDLE, bold=not i
        )
        for i, text in enumerate(lines)
        if text
    ]


def _paper(cuts: Sequence[CutPiece], style: str, title: str, *, check: bool = True) -> Paper:
    margin = GAP_MM if check else 2.0
    blocks = [piece_block(c) for c in cuts]
    blocks.sort(key=lambda b: extent([b])[1] - extent([b])[3])
    widest = max(extent([b])[2] - extent([b])[0] for b in blocks)
    room = max(widest, 1400.0, CHECK_MM)
    placed: list[Block] = []
    x = y = row = 0.0
    for block in blocks:
        x0, y0, x1, y1 = extent([block])
        if x > 0 and x + (x1 - x0) > room:
            x, y, row = 0.0, y - row - GAP_MM, 0.0
        placed.append(moved(block, dx=x - x0, dy=y - y1))
        x += x1 - x0 + GAP_MM
        row = max(row, y1 - y0)
    x0, y0, x1, y1 = extent(placed)
    sheet = [moved(b, dx=margin - x0, dy=margin - y0) for b in placed]
    if not check:
        return Paper(x1 - x0 + 2 * margin, y1 - y0 + 2 * margin, title, tuple(sheet))
    width = max(x1 - x0, CHECK_MM) + 2 * margin
    height = y1 - y0 + 2 * margin + HEAD_MM
    return Paper(width, height, title, (*sheet, _check_block(height, style)))


def _check_block(height: float, style: str) -> Block:
    y = height - HEAD_MM + 6.0
    a, b = (GAP_MM, y), (GAP_MM + CHECK_MM, y)
    said = show_length(CHECK_MM).replace(".0", "")
    return Block(
        "",
        (
            line(Ink.CUT, a, b, label=f"check; {said}", title="check line"),
            line(Ink.RULER, (a[0], y - 2), (a[0], y + 2), label="ignore"),
            line(Ink.RULER, (b[0], y - 2), (b[0], y + 2), label="ignore"),
            Words(a[0], y + 6.0, f"{style}: true size", 4.0, bold=True),
            Words(a[0], y - 5.0, f"This line is {said} long: measure it before cutting.", 3.0),
        ),
    )
