# ruff: noqa: E501  one case a line reads best in the tables
"""SVG drawings: the convention, the unit policy, and hostile files."""

from __future__ import annotations

import numpy as np
import pytest

from nesting.allowances.make import cut_piece
from nesting.findings import Level
from nesting.pieces.outline import (
    Allowance,
    AllowanceState,
    Corner,
    Edge,
    EdgeKind,
    Pressed,
)
from nesting.pieces.piece import Count, DrawnAs, GrainRule, MarkKind, Style
from nesting.polygon import bounds, signed_area
from service.errors import FormatError, TooLargeError, UnitError
from service.formats.svg_in import SVG_CONVENTION, read_svg
from service.formats.words import WordError, read_line_words, read_piece_words

NS = 'xmlns="http://www.w3.org/2000/svg" xmlns:ed="urn:an-editor"'
PAGE = f'<svg {NS} width="1000mm" height="1000mm" viewBox="0 0 1000 1000">'
ADD = AllowanceState.ADD


def drawing(body: str, title: str = "Stage skirt; seam 15 mm; hem 4 cm") -> bytes:
    return f"{PAGE}<title>{title}</title>{body}</svg>".encode()


def read(data: bytes, **options: str) -> tuple[Style, tuple]:
    return read_svg(data, source="skirt.svg", **options)


def codes(findings: tuple) -> set[str]:
    return {f.code for f in findings}


FRONT = """
<g ed:label="Front; on fold; shell; one way">
  <path ed:label="net" d="M100 700 L400 700 C410 500 400 300 340 100 Q 220 130 100 110 Z"/>
  <path ed:label="fold" d="M100 111 L100 699.5"/>
  <path ed:label="hem lower; 5 cm; inlay 1 cm" d="M100 700 H400"/>
  <path ed:label="seam side; to Back/side" d="M400 700 C410 500 400 300 340 100"/>
  <path ed:label="grain" d="M150 600 V200"/>
  <path ed:label="double notch hip" d="M390 400 L410 400"/>
  <path ed:label="dart waist" d="M200 118 L220 240 L240 116.3"/>
  <circle ed:label="drill tip" cx="220" cy="250" r="2"/>
  <path ed:label="centre line" d="M110 650 V150"/>
  <path ed:label="ignore" d="M0 0 L5 5"/>
</g>"""


def test_a_piece_with_everything_said() -> None:
    style, findings = read(drawing(FRONT))
    assert style.name == "Stage skirt"
    front = style.pieces[0]
    assert (front.name, front.cloth, front.count) == ("Front", "shell", Count(1, 0))
    assert front.grain_rule is GrainRule.ONE_WAY
    assert front.drawn_as is DrawnAs.NET
    assert {e.name for e in front.edges} == {"lower", "side", "edge 3", "fold"}
    lower, side, fold = front.edge("lower"), front.edge("side"), front.edge("fold")
    assert (lower.kind, lower.inlay_mm) == (EdgeKind.HEM, 10.0)
    assert lower.allowance == Allowance(ADD, 50.0)
    assert side.allowance == Allowance(ADD, 15.0)
    assert side.partners == ("Back/side",)
    assert fold.kind is EdgeKind.FOLD
    assert fold.allowance == Allowance()
    assert fold.length_mm == pytest.approx(590.0)
    assert np.allclose(fold.points, [[0, 590], [0, 0]], atol=1e-9)
    assert signed_area(front.outline) > 0
    assert front.grain is not None
    assert front.grain.tail == pytest.approx((50.0, 100.0))
    assert front.grain.head == pytest.approx((50.0, 500.0))
    notch = front.notches[0]
    assert (notch.edge, notch.marks, notch.name) == ("side", 2, "hip")
    assert 295 < notch.distance_mm < 305
    dart = front.darts[0]
    assert dart.point == pytest.approx((120.0, 460.0))
    assert dart.second_mm - dart.first_mm == pytest.approx(40.0, abs=0.2)
    kinds = {m.kind: m for m in front.marks}
    assert kinds[MarkKind.DRILL].points[0] == pytest.approx((120.0, 450.0))
    assert len(kinds[MarkKind.CENTRE_LINE].points) == 2
    assert codes(findings) == {"size"}
    assert findings[0].message == "Front: 60.0 cm tall, 30.3 cm wide (half, on the fold)"


def test_what_is_read_can_be_cut() -> None:
    style, _ = read(drawing(FRONT))
    cut = cut_piece(style.pieces[0])
    x0, y0, x1, y1 = bounds(cut.cut_line)
    # 5 cm hem + 1 cm inlay below; the fold gets nothing; the side gets 15 mm at its widest.
    assert (x0, y0) == (pytest.approx(0.0, abs=0.01), pytest.approx(-60.0, abs=0.01))
    assert x1 == pytest.approx(bounds(cut.net_line)[2] + 15.0, abs=0.7)
    assert y1 > 600


def test_plain_closed_paths_are_pieces_and_what_is_missing_is_told() -> None:
    body = (
        '<rect id="Waistband" x="10" y="10" width="700" height="80"/>'
        '<path id="path1234" d="M0 500h50v50h-50z"/>'
        '<path id="tick" d="M0 0h5"/>'
    )
    style, findings = read(drawing(body, title=""))
    assert [p.name for p in style.pieces] == ["Waistband", "path1234"]
    assert style.name == "skirt"
    assert codes(findings) == {
        "size", "line-unsaid", "no-grain", "count-unsaid", "allowance-unsaid", "unused-line",
    }  # fmt: skip
    assert all(f.level is Level.WARNING for f in findings if f.code != "size")
    assert style.pieces[0].grain is None


def test_piece_words_on_a_lone_path_even_where_they_start_like_a_line() -> None:
    body = '<rect ed:label="Hem facing; pair; lining; any way; cut" width="70" height="80"/>'
    style, findings = read(drawing(body))
    p = style.pieces[0]
    assert (p.name, p.cloth, p.count, p.drawn_as) == (
        "Hem facing",
        "lining",
        Count(1, 1),
        DrawnAs.CUT,
    )
    assert codes(findings) == {"size"}


def test_ids_and_titles_serve_where_an_editor_has_no_labels() -> None:
    body = (
        '<g id="Back_x3B__pair"><path id="net_2_" d="M0 0h90v90z"/><line id="grain-3" x1="40" y1="20" x2="40" y2="9"/></g>'
        '<g><title>Cuff; 2 drawn</title><rect width="9" height="9"><title>cut</title></rect></g>'
    )  # fmt: skip
    style, _ = read(drawing(body))
    assert [(p.name, p.count, p.drawn_as) for p in style.pieces] == [
        ("Back", Count(1, 1), DrawnAs.NET),
        ("Cuff", Count(2, 0), DrawnAs.CUT),
    ]
    assert style.pieces[0].grain is not None


def test_a_layer_named_by_a_role_gives_it_to_its_lines() -> None:
    body = (
        '<g ed:label="Sleeve; pair"><g ed:label="cut"><path d="M0 0h90v90z"/></g>'
        '<g ed:label="grain"><path d="M60 20v20"/></g></g>'
    )
    style, findings = read(drawing(body))
    assert style.pieces[0].drawn_as is DrawnAs.CUT
    assert style.pieces[0].grain is not None
    assert codes(findings) == {"size"}


def test_pieces_in_layers_and_copies_of_a_symbol() -> None:
    body = (
        '<g ed:label="All pieces"><g ed:label="A; pair"><rect ed:label="net" width="9" height="9"/></g>'
        '<g ed:label="B; pair"><rect ed:label="net" x="20" width="9" height="19"/></g></g>'
        '<symbol id="s"><path d="M0 0h30v30z"/></symbol><use ed:label="C; pair" href="#s" x="90"/>'
    )
    style, _ = read(drawing(body))
    assert [p.name for p in style.pieces] == ["A", "B", "C"]


def test_of_a_net_and_a_cut_line_the_words_decide() -> None:
    lines = '<rect ed:label="net" x="10" y="10" width="70" height="80"/><rect ed:label="cut" width="90" height="100"/>'
    group = '<g ed:label="Cuff; pair; any way{}">' + lines + "</g>"
    style, findings = read(drawing(group.format("; seam 1 cm"), title="S"))
    assert (style.pieces[0].drawn_as, round(bounds(style.pieces[0].outline)[2], 6)) == (
        DrawnAs.NET,
        70.0,
    )
    assert "two-lines" in codes(findings)
    style, findings = read(drawing(group.format(""), title="S"))
    assert (style.pieces[0].drawn_as, round(bounds(style.pieces[0].outline)[2], 6)) == (
        DrawnAs.CUT,
        90.0,
    )
    assert style.pieces[0].edges[0].allowance.state is AllowanceState.INCLUDED
    assert "two-lines" in codes(findings)


def test_a_circle_is_one_edge_and_a_polygon_has_corners() -> None:
    body = (
        '<circle ed:label="Crown; 1; any way; net" cx="90" cy="90" r="80"/>'
        '<polygon ed:label="Gusset; pair; net" points="0,0 90,0 0,90"/>'
        '<path ed:label="Smooth; pair; net" d="M0 0 C0 50 50 100 100 100 S 200 50 200 0 Z"/>'
    )
    style, _ = read(drawing(body))
    assert [len(p.edges) for p in style.pieces] == [1, 3, 2]
    assert all(cut_piece(p).cut_line is not None for p in style.pieces)


@pytest.mark.parametrize(
    ("body", "words"),
    [
        ('<g ed:label="A; pari"><rect ed:label="net" width="9" height="9"/></g>', "did you mean “pair”"),
        ('<g ed:label="A; pair; hem 4"><rect ed:label="net" width="9" height="9"/></g>', "needs a unit"),
        ('<g ed:label="A; 0"><rect ed:label="net" width="9" height="9"/></g>', "a count of 0"),
        ('<g ed:label="A; on fold"><rect ed:label="net" width="9" height="9"/></g>', "no line is labelled “fold”"),
        ('<g ed:label="A; pair"><path ed:label="net" d="M0 0h9v9h-9"/></g>', "open: 9.00 mm"),
        ('<g ed:label="A; pair"><path ed:label="grain" d="M0 0h9"/></g>', "one outline, none came"),
        ('<g ed:label="A; pair"><rect width="9" height="9"/><rect x="20" width="9" height="9"/></g>', "2 closed paths came"),
        ('<g ed:label="A; pair"><rect ed:label="net" width="9" height="9"/><path ed:label="fold" d="M5 0v9"/></g>', "does not lie along the outline"),
        ('<g ed:label="A; pair"><rect ed:label="net" width="9" height="9"/><path ed:label="notch" d="M4 4h1"/></g>', "does not touch the outline"),
        ('<g ed:label="A; pair"><rect ed:label="net" width="9" height="9"/><path ed:label="dart" d="M4 4h1"/></g>', "a dart is a line"),
        ('<g ed:label="A; pair"><rect ed:label="net" width="9" height="9"/><path ed:label="grain" d="M4 4h1"/><path ed:label="grain" d="M4 4h3"/></g>', "one grain line, 2 came"),
        ('<g ed:label="A; pair"><rect ed:label="net" width="9" height="9"/><path ed:label="hem; wide" d="M0 9h9"/></g>', "“wide” is not understood"),
        ('<rect ed:label="A" width="9" height="9"/><rect ed:label="A" x="20" width="9" height="9"/>', "2 pieces are called “A”"),
        ('<path d="M0 0h9"/>', "no closed path"),
        ('<rect ed:label="A" x="1e6" width="9" height="9"/>', "beyond 100 m"),
        ('<rect ed:label="A" width="9" height="9" transform="spin(2)"/>', "cannot be read"),
    ],
)  # fmt: skip
def test_what_cannot_be_is_refused_by_name(body: str, words: str) -> None:
    with pytest.raises(FormatError) as caught:
        read(drawing(body))
    assert any(words in p.message for p in caught.value.problems), caught.value.problems
    assert "skirt.svg" in caught.value.message


# Units


UNITLESS = f'<svg {NS} width="400" height="700" viewBox="0 0 400 700">'
BODY = '<g ed:label="Front; pair"><rect ed:label="net" x="20" width="300" height="600"/></g>'


@pytest.mark.parametrize(
    "head",
    [
        UNITLESS,
        f"<svg {NS}>",
        f'<svg {NS} width="100%" height="100%" viewBox="0 0 400 700">',
        f'<svg {NS} width="400px" height="700px">',
        f'<svg {NS} width="400mm" height="700mm">',
    ],
)
def test_without_a_physical_unit_it_is_refused_with_the_choices(head: str) -> None:
    with pytest.raises(UnitError) as caught:
        read((head + BODY + "</svg>").encode())
    choices = dict(caught.value.choices)
    assert list(choices)[:6] == ["96", "90", "72", "mm", "cm", "in"]
    assert choices["96"].endswith("Front 15.9 cm tall, 7.9 cm wide")
    assert choices["mm"].endswith("Front 60.0 cm tall, 30.0 cm wide")


@pytest.mark.parametrize(
    ("choice", "tall"),
    [
        ("96", 158.75),
        ("90", 600 * 25.4 / 90),
        ("72", 600 * 25.4 / 72),
        ("300", 50.8),
        ("mm", 600.0),
        ("cm", 6000.0),
        ("tall Front = 62.4 cm", 624.0),
        ("wide front=12 in", 609.6),
    ],
)
def test_a_choice_sets_the_size(choice: str, tall: float) -> None:
    style, findings = read((UNITLESS + BODY + "</svg>").encode(), unit_choice=choice)
    assert bounds(style.pieces[0].outline)[3] == pytest.approx(tall)
    assert "unit-chosen" in codes(findings)


@pytest.mark.parametrize(
    ("choice", "words"),
    [
        ("furlong", "none of the choices"),
        ("tall Back = 60 cm", "no one outline called “Back”"),
        ("tall Front = wide", "cannot be read"),
        ("check = 50 cm", "0 lines labelled “check”"),
        ("5", "none of the choices"),
        ("tall Front = 0", "at least 1 mm"),
    ],
)
def test_a_choice_that_is_none_is_told(choice: str, words: str) -> None:
    with pytest.raises(UnitError, match=words):
        read((UNITLESS + BODY + "</svg>").encode(), unit_choice=choice)


def test_a_check_line_sets_the_size_of_a_drawing_without_units() -> None:
    body = BODY + '<path ed:label="check; 50 cm" d="M0 650h250"/>'
    style, findings = read((UNITLESS + body + "</svg>").encode())
    assert bounds(style.pieces[0].outline)[3] == pytest.approx(1200.0)
    assert "unit-from-check" in codes(findings)
    body = BODY + '<path ed:label="check" d="M0 650h250"/>'
    style, _ = read((UNITLESS + body + "</svg>").encode(), unit_choice="check = 25 cm")
    assert bounds(style.pieces[0].outline)[3] == pytest.approx(600.0)


def test_a_check_line_is_compared_in_a_drawing_with_units() -> None:
    body = BODY + '<path ed:label="check; 50 cm" d="M0 650h{}"/>'
    _, findings = read(drawing(body.format(500)))
    assert next(f for f in findings if f.code == "check-line").level is Level.NOTE
    _, findings = read(drawing(body.format(480)))
    wrong = next(f for f in findings if f.code == "check-line")
    assert wrong.level is Level.WARNING
    assert "says 50.0 cm but is drawn 48.0 cm" in wrong.message


def test_a_test_square_is_pointed_at_but_not_acted_on() -> None:
    body = BODY + '<rect width="354.33" height="354.33"/>'
    with pytest.raises(UnitError) as caught:
        read((UNITLESS + body + "</svg>").encode())
    hints = {c: "exactly 10 cm" in t for c, t in caught.value.choices}
    assert [c for c, hint in hints.items() if hint] == ["90"]


def test_a_stretched_page_and_an_overruled_unit_are_warned_of() -> None:
    head = (
        f'<svg {NS} width="400mm" height="400mm" viewBox="0 0 400 700" preserveAspectRatio="none">'
    )
    _, findings = read((head + BODY + "</svg>").encode())
    assert "stretched" in codes(findings)
    _, findings = read(drawing(BODY), unit_choice="96")
    assert next(f for f in findings if f.code == "unit-chosen").level is Level.WARNING


# Hostile files


def bomb_of_uses(levels: int) -> str:
    groups = ['<rect id="u0" width="9" height="9"/>']
    groups += [
        f'<g id="u{i}">' + f'<use href="#u{i - 1}"/>' * 10 + "</g>" for i in range(1, levels)
    ]
    return "<defs>" + "".join(groups) + f'</defs><use href="#u{levels - 1}"/>'


ENTITY_BOMB = (
    '<?xml version="1.0"?><!DOCTYPE svg [<!ENTITY a "aaaaaaaaaa">'
    + "".join(f'<!ENTITY b{i} "{"&a;" if i == 0 else f"&b{i - 1};" * 10}">' for i in range(12))
    + f"]><svg {NS}><title>&b11;</title></svg>"
)


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"", "not well-formed"),
        (b"<svg", "not well-formed"),
        (b"<html/>", "not an SVG drawing"),
        (b"\x1f\x8b\x08\x00", "compressed"),
        (ENTITY_BOMB.encode(), "document type or entities"),
        (b'<!DOCTYPE svg [<!ENTITY x SYSTEM "file:///etc/passwd">]><svg>&x;</svg>', "document type"),
        (b'<!DOCTYPE svg SYSTEM "http://example.org/a.dtd" [<!ELEMENT svg ANY>]><svg/>', "document type"),
        (ENTITY_BOMB.encode("utf-16"), "document type"),
        (drawing("<g>" * 20_000 + "</g>" * 20_000), "200 deep"),
        (drawing("<g/>" * 60_000), "50000 elements"),
        (drawing(bomb_of_uses(7)), "20000 copies"),
        (drawing("".join(f'<g id="c{i}"><use href="#c{i + 1}"/></g>' for i in range(300))), "200 deep"),
        (drawing('<path d="M0 0' + "h1v1" * 200_000 + '"/>'), "more than"),
        (drawing('<rect width="nan" height="inf"/>'), "is not a length"),
    ],
)  # fmt: skip
def test_hostile_files_are_refused_in_words(data: bytes, words: str) -> None:
    with pytest.raises(FormatError, match=words):
        read(data)


def test_fifty_megabytes_are_refused_before_parsing() -> None:
    # Not XML at all: had it been parsed, the refusal would say so.
    with pytest.raises(TooLargeError, match="50 MB"):
        read(b"<" * 50_000_000)


def test_a_plain_doctype_of_an_old_program_is_no_obstacle() -> None:
    doctype = (
        b'<?xml version="1.0" encoding="UTF-8"?>\n<!DOCTYPE svg PUBLIC "-//W3C//DTD SVG 1.1//EN" '
        b'"http://www.w3.org/Graphics/SVG/1.1/DTD/svg11.dtd">\n'
    )
    style, _ = read(doctype + drawing(BODY))
    assert style.pieces[0].name == "Front"


def test_every_word_of_the_convention_is_understood() -> None:
    quoted = [q for q in SVG_CONVENTION.split("`")[1::2] if q]
    piece = {"pair", "on fold", "shell", "one way", "cloth velvet", "seam 15 mm", "finished none"}
    assert piece <= set(quoted)
    for text in quoted:
        if text.startswith(("Stage", "Front")):
            read_piece_words(text)
            continue
        try:
            read_line_words(text)
        except WordError:
            read_piece_words(f"X; {text}")


PANEL = """
<g ed:label="Panel; pair">
  <path ed:label="net" d="M100 700 L400 700 L360 100 L100 100 Z"/>
  <path ed:label="grain" d="M150 600 V200"/>
  {lines}
</g>"""


def panel(*lines: str) -> dict[str, Edge]:
    style, _ = read(drawing(PANEL.format(lines="".join(lines))))
    return {e.name: e for e in style.pieces[0].edges}


def over(label: str, path: str) -> str:
    return f'<path ed:label="{label}" d="{path}"/>'


LOW, SIDE = "M100 700 H400", "M400 700 L360 100"


def test_a_drawing_says_ease_pressing_and_how_a_hem_is_folded() -> None:
    edges = panel(
        over("hem; 4 cm; folded at 2 cm", LOW),
        over("seam side; to Back/side; ease 6 mm; pressed open", SIDE),
    )
    assert edges["hem"].folds_mm == (20.0,)
    side = edges["side"]
    assert (side.ease_mm, side.pressed, side.partners) == (6.0, Pressed.OPEN, ("Back/side",))


def test_a_drawing_names_a_row_of_edges_to_sew_on() -> None:
    label = "seam side; to Side back/side + Back/side"
    assert panel(over(label, SIDE))["side"].partners == ("Side back/side", "Back/side")


def test_what_an_edge_says_of_its_ends_goes_to_both_corners() -> None:
    edges = panel(over("hem; turns back", LOW), over("seam side", SIDE))
    # Counter-clockwise: the centre leads down to the hem, the hem to the side.
    assert edges["hem"].corner is Corner.THIS_TURNS_BACK
    before = next(
        e for e in edges.values() if e.points[-1] == pytest.approx(edges["hem"].points[0])
    )
    assert before.corner is Corner.NEXT_TURNS_BACK
    edges = panel(over("seam side; ends blunt", SIDE))
    assert [e.corner for e in edges.values()].count(Corner.BLUNT) == 2


def test_two_edges_that_say_two_things_of_one_corner_are_refused() -> None:
    lines = over("hem; ends square", LOW), over("seam side; ends mitred", SIDE)
    with pytest.raises(FormatError, match="two things of the corner"):
        panel(*lines)
