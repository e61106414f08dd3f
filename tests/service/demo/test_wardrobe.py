"""The demo wardrobe is what its code drafts, can be sewn together, and goes through the whole job."""

from __future__ import annotations

import itertools
import math
from functools import cache

import pytest

from nesting.cloth import Cloth, Fold
from nesting.findings import Level
from nesting.pieces.check import check_piece
from nesting.pieces.piece import Hand, Piece, Style
from nesting.polygon import point_along
from service.body import body_check
from service.demo import FOLDER, apron, sheet_texts, sheets, wardrobe
from service.formats.piece_sheet import read_piece_sheet
from service.pipeline import Cut, cut_style, first_answer, lay_for, plan
from service.truing import truing_view

FILES = [path.name for path in sheets()]
DRAFTED = [name for name in FILES if name in wardrobe()]

SEWN_MM = 1.0
"""Edges that are sewn together may differ by this much; what is eased or gathered says so."""


LEFT_OUT = {"bodice.json": [("girth-left-out", "note")]}
"""Styles of which a facing is not counted round the body, which is told."""


@cache
def style(name: str) -> Style:
    return read_piece_sheet((FOLDER / name).read_bytes(), source=name)[0]


@cache
def cut(name: str) -> Cut:
    return cut_style(style(name))


def net_length(piece: Piece, edge: str) -> float:
    """Length of an edge once its darts are sewn, mm."""
    mouths = sum(d.second_mm - d.first_mm for d in piece.darts if d.edge == edge)
    return piece.edge(edge).length_mm - mouths


def drafted_ease(name: str) -> dict[tuple[str, str], float]:
    """How much longer an edge is meant to be than its partner, mm."""
    if name not in wardrobe():
        eased = [(p, e) for p in style(name).pieces for e in p.edges if e.ease_mm]
        return {(p.name, e.name): e.ease_mm for p, e in eased}
    draft = wardrobe()[name]
    unit = {"cm": 10.0, "in": 25.4}[draft.unit]
    ease = {(p.name, s.name): s.ease * unit for p in draft.pieces for s in p.sides}
    if name == "apron.json":
        gathered = apron.GATHERED * unit
        ease |= {("Skirt", "top"): gathered, ("Waistband", "bottom"): -gathered}
    return ease


def test_the_wardrobe_is_large_enough() -> None:
    assert set(FILES) == set(sheet_texts()) == {p.name for p in FOLDER.glob("*.json")}
    assert FILES[0] == "waistcoat.json"
    pieces = [p for name in FILES for p in style(name).pieces]
    assert len(FILES) >= 5
    assert len(pieces) >= 30
    assert {p.cloth for p in pieces} == {"shell", "lining", "interfacing"}
    assert sum(bool(p.fold_edges) for p in pieces) >= 6
    assert sum(bool(p.darts) for p in pieces) >= 6


@pytest.mark.parametrize("name", FILES)
def test_the_committed_sheet_is_what_the_code_drafts(name: str) -> None:
    assert (FOLDER / name).read_text(encoding="utf-8") == sheet_texts()[name], (
        "run: python -m service.demo"
    )


@pytest.mark.parametrize("name", FILES)
def test_sewn_edges_are_of_one_length(name: str) -> None:
    pieces = {p.name: p for p in style(name).pieces}
    ease = drafted_ease(name)
    seams = [(p, e) for p in pieces.values() for e in p.edges if e.partners]
    assert seams or name == "coat-panel.json"
    for piece, edge in seams:
        there = [partner.split("/") for partner in edge.partners]
        if any(len(pieces[p].edge(e).partners) > 1 for p, e in there):
            continue  # a part of the seam that its partner names a row for
        longer = net_length(piece, edge.name) - sum(net_length(pieces[p], e) for p, e in there)
        assert longer == pytest.approx(ease.get((piece.name, edge.name), 0.0), abs=SEWN_MM), (
            f"{piece.name}/{edge.name} to {edge.partners}"
        )


@pytest.mark.parametrize("name", FILES)
def test_its_seams_walk_true_and_its_girths_fit(name: str) -> None:
    """Lengths net of darts and of the ease that the sheet states, notches, and outer edges that run
    on from piece to piece."""
    walked = truing_view(style(name))
    assert [f["message"] for seam in walked["seams"] for f in seam["findings"]] == []
    assert walked["findings"] == []
    told = body_check(style(name))["findings"]
    assert [(f["code"], f["level"]) for f in told] == LEFT_OUT.get(name, [])


def test_the_skirt_is_cut_for_its_player() -> None:
    girths = body_check(style("skirt.json"))["girths"]
    assert [g["said"] for g in girths] == ["waist", "level 200 mm below the waist"]


@pytest.mark.parametrize("name", FILES)
def test_both_legs_of_a_dart_are_of_one_length(name: str) -> None:
    for piece in style(name).pieces:
        for dart in piece.darts:
            points = piece.edge(dart.edge).points
            first, second = (
                math.dist(point_along(points, at)[0], dart.point)
                for at in (dart.first_mm, dart.second_mm)
            )
            assert first == pytest.approx(second, abs=SEWN_MM), piece.name


@pytest.mark.parametrize("name", DRAFTED)
def test_curves_are_smooth_between_corners(name: str) -> None:
    for piece in wardrobe()[name].pieces:
        for side in piece.sides:
            if any(d.on == side.name for d in piece.darts):
                continue  # a dart's mouth has corners of its own
            pens = [side.start, *(s[-1] for s in side.steps)]
            for pen, (one, after) in zip(pens, itertools.pairwise(side.steps), strict=False):
                into = one[-2] if len(one) == 3 else pen
                turn = math.atan2(after[0][1] - one[-1][1], after[0][0] - one[-1][0]) - math.atan2(
                    one[-1][1] - into[1], one[-1][0] - into[0]
                )
                turn = math.degrees((turn + math.pi) % (2 * math.pi) - math.pi)
                assert abs(turn) < 0.5, (
                    f"{piece.name}/{side.name} has a corner of {turn:.1f} degrees"
                )


@pytest.mark.parametrize("name", FILES)
def test_nothing_about_it_wants_mending(name: str) -> None:
    _, findings = read_piece_sheet((FOLDER / name).read_bytes(), source=name)
    findings += tuple(f for p in style(name).pieces for f in check_piece(p))
    findings += tuple(f for c in cut(name).halves.values() for f in c.findings)
    assert [f for f in findings if f.level is not Level.NOTE] == []


@pytest.mark.parametrize("fold", [Fold.OPEN, Fold.LENGTHWISE])
@pytest.mark.parametrize("name", FILES)
def test_every_cloth_of_it_is_laid_and_proved(name: str, fold: Fold) -> None:
    for role in style(name).cloths:
        cloth = Cloth(role, width_mm=1500 if role == "shell" else 1400)
        answer = first_answer(cut(name), plan(lay_for(cut(name), cloth, fold)))
        laid = [(p.piece, hand) for p in answer.layout.placed for hand in p.hands]
        for asked in answer.layout.asked:
            hands = [laid.count((asked.piece, hand)) for hand in Hand]
            assert sum(hands) == asked.drawn + asked.turned
        assert answer.layout.floor_mm <= answer.layout.length_mm + 1e-6
        assert 0 < answer.utilisation <= 1


def test_the_waistcoat_one_way_and_folded_lengthwise() -> None:
    made = cut("waistcoat.json")
    planned = plan(lay_for(made, Cloth(width_mm=1400, nap=True), Fold.LENGTHWISE))
    answer = first_answer(made, planned)
    back = next(p for p in answer.layout.placed if p.piece == "Back")
    assert back.on_fold
    assert abs(back.cut_line[:, 1].min()) < 0.05
    assert all(p.turn_deg == 0 for p in answer.layout.placed)
