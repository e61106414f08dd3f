"""Written SVG, read back: cut pieces by our own reader and a plain XML one, lay sheets by the latter."""

from __future__ import annotations

import re
from dataclasses import replace
from xml.etree import ElementTree

import numpy as np
import pytest

from nesting.allowances.make import cut_piece
from nesting.cloth import Cloth, Flaw, Fold
from nesting.layout import Layout
from nesting.pieces.piece import Count, GrainRule, Style
from nesting.polygon import bounds
from service import pipeline
from service.formats.cut_paper import cut_paper, cut_papers, piece_label
from service.formats.lay_sheet import HAND_TEXT, distances, hand_letter, lay_sheets
from service.formats.paper import PENS, Ink, Stroke
from service.formats.piece_sheet import read_piece_sheet
from service.formats.svg_in import read_svg
from service.formats.svg_out import paper_svg, papers_svg

SVG = "{http://www.w3.org/2000/svg}"
SHEET = b"""{"format": "grainfold piece sheet", "version": 1, "unit": "cm", "style": "Jerkin <of> the & page",
 "defaults": {"allowance": {"seam": 1.5, "hem": 4}},
 "pieces": [
  {"name": "Front", "count": {"pair": 1}, "grain": "up", "grain_rule": "one way",
   "outline": {"start": [0, 0], "edges": [
     {"name": "hem", "kind": "hem", "to": [30, 0]},
     {"name": "side", "curve": [[31, 15], [29, 30], [27, 45]]},
     {"name": "neck", "to": [4, 50]}, {"name": "centre", "to": [0, 0]}]},
   "notches": [{"edge": "side", "distance": 12, "marks": 2, "name": "hip"}],
   "marks": [{"kind": "drill", "points": [[10, 20]], "name": "tip"},
             {"kind": "buttonhole", "points": [[3, 30]], "name": "top"},
             {"kind": "centre line", "points": [[5, 5], [5, 40]]}]},
  {"name": "Back", "count": {"on fold": 1}, "grain": "up",
   "outline": {"rectangle": {"width": 25, "length": 52},
               "sides": {"left": {"kind": "fold"}, "bottom": {"kind": "hem"}}}},
  {"name": "Band; long", "count": {"drawn": 2, "turned": 1}, "cloth": "velvet", "grain": "up",
   "outline": {"rectangle": {"width": 6, "length": 70}}}]}"""


@pytest.fixture(scope="module")
def style() -> Style:
    return read_piece_sheet(SHEET, source="jerkin.json")[0]


def layout_of(style: Style, fold: Fold, **cloth: object) -> Layout:
    cut = pipeline.cut_style(style)
    lay = pipeline.lay_for(cut, Cloth(width_mm=1400, **cloth), fold)  # type: ignore[arg-type]
    return pipeline.first_answer(cut, pipeline.plan(lay)).layout


def numbers(text: str) -> list[float]:
    return [float(n) for n in re.findall(r"-?\d+(?:\.\d+)?", text)]


def paths(svg: str, kind: str) -> list[np.ndarray]:
    """Points of the paths of one class, by a plain XML parser, y down."""
    root = ElementTree.fromstring(svg)
    found = [p for p in root.iter(f"{SVG}path") if p.get("class") == kind]
    return [np.array(numbers(p.get("d", ""))).reshape(-1, 2) for p in found]


def test_cut_pieces_are_written_at_true_size(style: Style) -> None:
    cuts = [cut_piece(p) for p in style.pieces]
    svg = paper_svg(cut_paper(cuts, style=style.name))
    root = ElementTree.fromstring(svg)
    width, height = (numbers(root.get(n, ""))[0] for n in ("width", "height"))
    assert (root.get("width", "")[-2:], root.get("height", "")[-2:]) == ("mm", "mm")
    assert numbers(root.get("viewBox", "")) == [0, 0, width, height]
    written = sorted(tuple(np.ptp(p, axis=0)) for p in paths(svg, "cut") if len(p) > 2)
    expected = sorted(tuple(np.ptp(c.cut_line, axis=0)) for c in cuts)
    assert np.allclose(written, expected, atol=2e-4)


def test_cut_pieces_read_back_by_the_convention(style: Style) -> None:
    cuts = [cut_piece(p) for p in style.pieces]
    again, findings = read_svg(paper_svg(cut_paper(cuts, style="Jerkin")).encode(), source="j.svg")
    by_name = {p.name: p for p in again.pieces}
    assert set(by_name) == {"Front", "Back", "Band, long"}
    for cut in cuts:
        piece = by_name[cut.piece.name.replace(";", ",")]
        assert piece.count == cut.piece.count
        assert (piece.cloth, piece.grain_rule) == (cut.piece.cloth, cut.piece.grain_rule)
        assert len(piece.notches) == len(cut.notches)
        shift = np.array(bounds(cut.cut_line)[:2])
        assert np.allclose(
            np.sort(piece.outline, axis=0), np.sort(cut.cut_line - shift, axis=0), atol=2e-4
        )
        assert cut_piece(piece).cut_line == pytest.approx(piece.outline, abs=1e-3)
    front = by_name["Front"]
    assert front.notches[0].marks == 2
    assert {(m.kind.value, m.name) for m in front.marks} == {
        ("drill", "tip"), ("buttonhole", "top"), ("centre line", ""), ("line", "net line"),
    }  # fmt: skip
    hole = next(m for m in front.marks if m.kind.value == "buttonhole")
    shift = np.array(bounds(cuts[0].cut_line)[:2])
    assert hole.points[0] == pytest.approx(tuple(np.array([30.0, 300.0]) - shift), abs=1e-3)
    assert by_name["Back"].fold_edges
    assert {f.code for f in findings} <= {"size", "check-line", "left-out"}
    assert any("is drawn right" in f.message for f in findings)


def test_one_paper_a_piece(style: Style) -> None:
    papers = cut_papers([cut_piece(p) for p in style.pieces], style="Jerkin")
    assert [p.title for p in papers] == ["Jerkin: Front", "Jerkin: Back", "Jerkin: Band; long"]
    for paper in papers:
        points = np.concatenate(
            [i.points for b in paper.blocks for i in b.items if isinstance(i, Stroke)]
        )
        assert points.min() >= 0
        assert (points <= [paper.width, paper.height]).all()


def test_counts_in_words(style: Style) -> None:
    labels = [piece_label(p, on_fold=bool(p.fold_edges)) for p in style.pieces]
    assert labels[0] == "Front; pair; shell; one way; cut"
    assert labels[1] == "Back; on fold; shell; either way; cut"
    assert labels[2] == "Band, long; 2 drawn; 1 turned; cloth velvet; either way; cut"
    assert style.pieces[2].count == Count(2, 1)


@pytest.mark.parametrize("fold", [Fold.OPEN, Fold.LENGTHWISE, Fold.DOUBLE, Fold.OFF_CENTRE])
def test_lay_sheet_is_to_scale_and_inside_its_page(style: Style, fold: Fold) -> None:
    layout = layout_of(style, fold)
    paper = lay_sheets(layout, style=style.name, lines=["Buy 1.20 m"])[0]
    svg = paper_svg(paper)
    cut = paths(svg, "cut")
    scale = float(re.search(r"scale 1 : ([\d.]+)", svg).group(1))  # type: ignore[union-attr]
    assert len(cut) == len(layout.placed)
    # All cut lines together, scaled up, are the layout but for one shift (y turned).
    drawn = np.concatenate([p * [scale, -scale] for p in cut])
    laid = np.concatenate([p.cut_line for p in layout.placed])
    shift = drawn - laid
    assert np.ptp(shift, axis=0).max() < 3e-4 * scale
    every = np.concatenate(
        [i.points for b in paper.blocks for i in b.items if isinstance(i, Stroke)]
    )
    assert every.min() >= 0
    assert (every <= [paper.width, paper.height]).all()
    texts = "\n".join(t.text or "" for t in ElementTree.fromstring(svg).iter(f"{SVG}text"))
    assert "Jerkin <of> the & page" in texts
    assert "Buy 1.20 m" in texts
    for p in layout.placed:
        assert f" {hand_letter(p)}" in texts
    if fold is not Fold.OPEN:
        assert paths(svg, "fold")
    assert paths(svg, "selvedge") or fold is Fold.DOUBLE


def test_distances_are_from_what_a_tape_can_touch(style: Style) -> None:
    layout = layout_of(style, Fold.LENGTHWISE)
    usable, s = layout.cloth.usable_width_mm, layout.cloth.selvedge_mm
    for p in layout.placed:
        x0, y0, x1, y1 = bounds(p.cut_line)
        d = distances(p, layout)
        zone = next(z for z in layout.zones if z.id == p.zone)
        assert (d.near, d.far, d.start) == (x0, x1, "the squared end")
        if zone.plies == 2:
            assert d.fold == pytest.approx(y0)
            # Fold, piece, selvedge: the three stretches make half the cloth.
            assert d.fold + (y1 - y0) + d.selvedge == pytest.approx(usable / 2 + s)
        else:
            assert d.fold is None
            assert d.selvedge == pytest.approx(y0 + s)
    back = next(p for p in layout.placed if p.on_fold)
    assert distances(back, layout).fold == pytest.approx(0, abs=0.05)


def test_on_a_double_fold_the_selvedges_meet_in_the_middle(style: Style) -> None:
    layout = layout_of(style, Fold.DOUBLE)
    quarter = layout.cloth.usable_width_mm / 4
    for p in layout.placed:
        d = distances(p, layout)
        if d.fold is not None:
            _, y0, _, y1 = bounds(p.cut_line)
            assert d.fold + (y1 - y0) + d.selvedge == pytest.approx(
                quarter + layout.cloth.selvedge_mm
            )


def test_a_crosswise_fold_is_what_one_measures_from(style: Style) -> None:
    pieces = tuple(replace(p, grain_rule=GrainRule.EITHER_WAY) for p in style.pieces)
    layout = layout_of(replace(style, pieces=pieces), Fold.CROSSWISE)
    starts = {distances(p, layout).start for p in layout.placed}
    assert "the fold across" in starts
    assert starts <= {"the fold across", "where the folded part ends"}
    assert min(distances(p, layout).near for p in layout.placed) == pytest.approx(0, abs=0.1)


def test_flaws_and_inches_are_drawn(style: Style) -> None:
    flaw = Flaw(((50.0, 900.0), (90.0, 900.0), (90.0, 940.0)), "burn")
    svg = paper_svg(
        lay_sheets(layout_of(style, Fold.OPEN, flaws=(flaw,)), style="J", system="imperial")[0]
    )
    assert "flaw burn" in svg
    assert " in to " in svg
    assert "0 in</text>" in svg


def test_line_kinds_differ_without_colour(style: Style) -> None:
    looks = {(p.width, p.dash) for k, p in PENS.items() if k not in (Ink.HATCH, Ink.NOTCH)}
    assert len(looks) == len(PENS) - 2
    svg = paper_svg(lay_sheets(layout_of(style, Fold.OPEN), style="J")[0])
    assert set(re.findall(r'(?:stroke|fill)="(#?\w+)"', svg)) == {"#000", "none"}
    assert set(HAND_TEXT) == set("PDTF")


def test_several_papers_stand_below_one_another_and_names_are_escaped(style: Style) -> None:
    paper = lay_sheets(layout_of(style, Fold.OPEN), style='J "<&\x00>')[0]
    root = ElementTree.fromstring(papers_svg([paper, paper]))
    assert numbers(root.get("height", ""))[0] == pytest.approx(2 * paper.height + 5)
    assert len([g for g in root.iter(f"{SVG}g") if g.get("transform")]) == 2
