# ruff: noqa: E501  one case a line reads best in the table
"""SVG geometry: path data, shapes, transforms, viewports, copies, each case with a known answer.

Known answers are worked out by hand from SVG 1.1 and SVG 2 (W3C); path data is also compared with
svgelements, a general SVG library that grainfold itself does not use.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
import svgelements
from hypothesis import given, settings
from hypothesis import strategies as st

from nesting.polygon import signed_area
from service.errors import FormatError
from service.formats.svg_in import svg_lines
from service.formats.svg_path import PathDataError, parse_path

HEAD = 'xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink"'
PAGE = f'<svg {HEAD} width="200mm" height="100mm" viewBox="0 0 200 100">'


def box(body: str, head: str = PAGE, at: int = 0) -> tuple[float, float, float, float]:
    """(x0, y0, x1, y1) in mm, y down from the page's top as drawn, of line ``at``."""
    lines = svg_lines((head + body + "</svg>").encode(), source="case.svg")
    assert lines.problems == ()
    p = lines.lines[at].points
    return tuple(round(float(v), 3) for v in (*(p * [1, -1]).min(0), *(p * [1, -1]).max(0)))


SQUARE = '<rect x="10" y="20" width="30" height="40"/>'

CASES = {
    "plain": (SQUARE, PAGE, (10, 20, 40, 60)),
    "y is up in mm": ('<path d="M0 0H10V10H0Z"/>', PAGE, (0, 0, 10, 10)),
    "view box off its origin": (
        SQUARE,
        f'<svg {HEAD} width="200mm" height="100mm" viewBox="10 10 200 100">',
        (0, 10, 30, 50),
    ),
    "inches": (SQUARE, f'<svg {HEAD} width="2in" height="1in" viewBox="0 0 200 100">', (2.54, 5.08, 10.16, 15.24)),
    "points, pica, cm": (SQUARE, f'<svg {HEAD} width="144pt" height="6pc" viewBox="0 0 200 100">', (2.54, 5.08, 10.16, 15.24)),
    "height follows the width": (SQUARE, f'<svg {HEAD} width="20cm" viewBox="0 0 200 100">', (10, 20, 40, 60)),
    "meet centres the rest": (
        SQUARE,
        f'<svg {HEAD} width="200mm" height="200mm" viewBox="0 0 200 100">',
        (10, 70, 40, 110),
    ),
    "slice at the top left": (
        SQUARE,
        f'<svg {HEAD} width="200mm" height="200mm" viewBox="0 0 200 100" preserveAspectRatio="xMinYMin slice">',
        (20, 40, 80, 120),
    ),
    "stretched": (
        SQUARE,
        f'<svg {HEAD} width="200mm" height="200mm" viewBox="0 0 200 100" preserveAspectRatio="none">',
        (10, 40, 40, 120),
    ),
    "group and shape turn": (
        '<g transform="translate(100,50) rotate(90)"><rect width="30" height="40" transform="scale(2)"/></g>',
        PAGE,
        (20, 50, 100, 110),
    ),
    "turn about a point": ('<rect x="10" y="10" width="20" height="10" transform="rotate(90 10 10)"/>', PAGE, (0, 10, 10, 30)),
    "mirror by matrix": ('<rect x="10" y="10" width="20" height="10" transform="matrix(-1 0 0 1 100 0)"/>', PAGE, (70, 10, 90, 20)),
    "skew": ('<rect width="10" height="10" transform="skewX(45)"/>', PAGE, (0, 0, 20, 10)),
    "css units in a transform": ('<rect width="10" height="10" transform="translate(5px, 3px)"/>', PAGE, (5, 3, 15, 13)),
    "nested svg": (
        '<svg x="50" y="10" width="100" height="50" viewBox="0 0 10 5"><rect width="5" height="5"/></svg>',
        PAGE,
        (50, 10, 100, 60),
    ),
    "nested svg in a turned group": (
        '<g transform="rotate(90)"><svg x="10" y="-50" width="20" height="20" viewBox="0 0 2 2"><rect width="1" height="1"/></svg></g>',
        PAGE,
        (40, 10, 50, 20),
    ),
    "per cent of the view box": ('<rect x="10%" y="10%" width="50%" height="20%"/>', PAGE, (20, 10, 120, 30)),
    "a circle's per cent is of the diagonal": ('<circle cx="100" cy="50" r="10%"/>', PAGE, (84.189, 34.189, 115.811, 65.811)),
    "mm inside are css mm, not page mm": ('<rect width="10mm" height="1in"/>', PAGE, (0, 0, 37.795, 96)),
    "copy": ('<defs><rect id="r" width="10" height="10"/></defs><use href="#r" x="5" y="7"/>', PAGE, (5, 7, 15, 17)),
    "copy with the older href, before what it copies": ('<use xlink:href="#r" x="5" transform="scale(2)"/><defs><rect id="r" width="10" height="10"/></defs>', PAGE, (10, 0, 30, 20)),
    "copy of a copy": (
        '<defs><rect id="r" width="1" height="1"/><g id="two"><use href="#r" x="3"/></g></defs><use href="#two" y="4" transform="translate(10)"/>',
        PAGE,
        (13, 4, 14, 5),
    ),
    "symbol with a view box and a size": (
        '<symbol id="s" viewBox="0 0 10 10"><rect width="10" height="5"/></symbol><use href="#s" x="10" y="10" width="40" height="40"/>',
        PAGE,
        (10, 10, 50, 30),
    ),
    "a symbol that is not used is not drawn": ('<symbol id="s"><rect width="99" height="5"/></symbol><rect width="1" height="1"/>', PAGE, (0, 0, 1, 1)),
    "round corners": ('<rect x="10" y="10" width="40" height="20" rx="5"/>', PAGE, (10, 10, 50, 30)),
    "ellipse": ('<ellipse cx="50" cy="50" rx="40" ry="20"/>', PAGE, (10, 30, 90, 70)),
    "line": ('<line x1="1" y1="2" x2="3" y2="4"/>', PAGE, (1, 2, 3, 4)),
    "polygon": ('<polygon points="1,2 30,2,30 40"/>', PAGE, (1, 2, 30, 40)),
    "arc flags without spaces": ('<path d="M0 50a50 50 0 01100 0z"/>', PAGE, (0, 0, 100, 50)),
    "arc with radii too small": ('<path d="M0 50A1 1 0 0 1 100 50Z"/>', PAGE, (0, 0, 100, 50)),
    "numbers run together": ('<path d="M.5.5l9.5-.5L10-5e-1z"/>', PAGE, (0.5, -0.5, 10, 0.5)),
    "smooth curves": ('<path d="M0 0C0 10 10 10 10 0S20-10 20 0Q25 10 30 0T40 0z"/>', PAGE, (0, -7.5, 40, 7.5)),
}  # fmt: skip


@pytest.mark.parametrize("name", CASES)
def test_known_answers(name: str) -> None:
    body, head, expected = CASES[name]
    assert box(body, head) == pytest.approx(expected, abs=0.021)


def test_an_arc_under_skew_is_the_skewed_ellipse() -> None:
    body = '<path d="M90 50A40 40 0 0 1 10 50A40 40 0 0 1 90 50Z" transform="skewX(30) rotate(20) scale(1 .5)"/>'
    p = svg_lines((PAGE + body + "</svg>").encode(), source="s").lines[0].points * [1, -1]
    skew = np.array([[1, math.tan(math.radians(30))], [0, 1]])
    c, s = math.cos(math.radians(20)), math.sin(math.radians(20))
    m = skew @ np.array([[c, -s], [s, c]]) @ np.diag([1, 0.5])
    back = (p @ np.linalg.inv(m).T - [50, 50]) / 40
    # Vertices lie on the curve: on the circle after taking the matrix back.
    assert np.abs(np.hypot(*back.T) - 1).max() * 40 < 0.001
    area = abs(signed_area(p))
    assert area == pytest.approx(math.pi * 1600 * abs(np.linalg.det(m)), rel=1e-3)


def test_chord_error_of_a_circle() -> None:
    p = (
        svg_lines((PAGE + '<circle cx="100" cy="50" r="45"/></svg>').encode(), source="s")
        .lines[0]
        .points
    )
    middles = (p[1:] + p[:-1]) / 2
    assert np.abs(np.hypot(*(middles - [100, -50]).T) - 45).max() < 0.02


number = st.integers(-200, 200).map(lambda n: n / 4)


@st.composite
def path_texts(draw: st.DrawFn) -> str:
    parts = [f"M{draw(number)} {draw(number)}"]
    takes = {"L": 2, "H": 1, "V": 1, "C": 6, "S": 4, "Q": 4, "T": 2}
    for _ in range(draw(st.integers(1, 8))):
        command = draw(st.sampled_from("LHVCSQTAZ"))
        lower = draw(st.booleans())
        if command == "Z":
            parts.append("z")
            continue
        if command == "A":
            rx, ry = draw(st.integers(1, 90)), draw(st.integers(1, 90))
            flags = f"{draw(st.integers(0, 1))} {draw(st.integers(0, 1))}"
            numbers = f"{rx} {ry} {draw(number)} {flags} {draw(number)} {draw(number)}"
        else:
            numbers = " ".join(str(draw(number)) for _ in range(takes[command]))
        parts.append((command.lower() if lower else command) + numbers)
    return " ".join(parts)


@settings(max_examples=150, deadline=None)
@given(path_texts())
def test_path_data_ends_where_another_library_ends_it(text: str) -> None:
    """Segment ends and lengths as svgelements has them (its curves, our numbers)."""
    ours = [s for sub in parse_path(text) for s in sub.segments]
    theirs = [
        s
        for s in svgelements.Path(text)
        if not isinstance(s, svgelements.Move) and s.start != s.end
    ]
    straight = [s for s in theirs if isinstance(s, (svgelements.Line, svgelements.Close))]
    mine = [s for s in ours if len(s) == 2]
    ends = {(round(s.end.x, 3), round(s.end.y, 3)) for s in straight}
    assert {tuple(np.round(s[-1], 3)) for s in mine} >= ends
    for arc in (s for s in theirs if isinstance(s, svgelements.Arc)):
        for t in (0.0, 0.3, 0.5, 0.9, 1.0):
            q = arc.point(t)
            away = min(_distance_to_cubics(ours, q.x, q.y), 9e9)
            assert away < 0.05


def _distance_to_cubics(segments: list[np.ndarray], x: float, y: float) -> float:
    t = np.linspace(0, 1, 400)[:, None]
    best = math.inf
    for s in segments:
        if len(s) == 4:
            p = (
                (1 - t) ** 3 * s[0]
                + 3 * (1 - t) ** 2 * t * s[1]
                + 3 * (1 - t) * t**2 * s[2]
                + t**3 * s[3]
            )
        else:
            p = (1 - t) * s[0] + t * s[1]
        a, d = p[:-1], np.diff(p, axis=0)
        u = np.clip((([x, y] - a) * d).sum(1) / np.maximum((d * d).sum(1), 1e-12), 0, 1)[:, None]
        best = min(best, float(np.hypot(*(([x, y] - a - u * d).T)).min()))
    return best


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("M0 0L10 10 x", "is not path data"),
        ("M0 0L10", "number 2 is missing"),
        ("M0 0A5 5 0 2 0 1 1", "number 4 is missing"),
        ("L0 0", "must start with a move"),
        ("M0 0ZL", "takes 2 numbers"),
        ("M0 0Z 5", "a command is missing"),
        ("M0 0L1e400 0", "beyond all use"),
        ("M0 0LNaN 0", "takes 2 numbers"),
    ],
)
def test_a_slip_in_path_data_is_told_and_never_a_shorter_path(text: str, words: str) -> None:
    with pytest.raises(PathDataError, match=words):
        parse_path(text)


@pytest.mark.parametrize(
    ("body", "words"),
    [
        ('<rect width="-1" height="2"/>', "0 or more"),
        ('<rect width="5em" height="2"/>', "depends on a font"),
        ('<rect width="x" height="2"/>', "is not a length"),
        ('<polygon points="1 2 3"/>', "odd count"),
        ('<rect width="1" height="2" transform="spin(3)"/>', "cannot be read"),
        ('<rect width="1" height="2" transform="rotate(1 2)"/>', "cannot be read"),
        ('<rect width="1" height="2" style="transform: rotate(3deg)"/>', "set by a style"),
        ('<use href="#nobody"/>', "not in the file"),
        ('<use href="other.svg#r"/>', "outside the file"),
        ('<g id="a"><use href="#a"/></g>', "contains itself"),
        ('<g id="a"><use href="#b"/></g><g id="b"><use href="#a"/></g>', "contains itself"),
        ('<svg viewBox="0 0 0 5"><rect width="1" height="1"/></svg>', "no area"),
    ],
)
def test_what_cannot_be_drawn_is_told(body: str, words: str) -> None:
    lines = svg_lines((PAGE + body + "</svg>").encode(), source="s.svg")
    assert any(words in p.message for p in lines.problems), lines.problems


@pytest.mark.parametrize(
    ("body", "what"),
    [
        ('<g display="none">' + SQUARE + "</g>", "hidden element"),
        ('<g style="fill:red; display:none">' + SQUARE + "</g>", "hidden element"),
        ('<text x="1" y="1">Front</text>', "text"),
        ('<image href="photo.png" width="10" height="10"/>', "picture"),
    ],
)
def test_what_is_left_out_is_told(body: str, what: str) -> None:
    lines = svg_lines((PAGE + body + "</svg>").encode(), source="s.svg")
    assert lines.lines == ()
    assert any(f"1 {what}" in f.message for f in lines.findings)


def test_a_style_sheet_that_could_move_lines_is_warned_of() -> None:
    body = "<style>.a{transform:rotate(3deg)}</style>" + SQUARE
    lines = svg_lines((PAGE + body + "</svg>").encode(), source="s.svg")
    assert [f.code for f in lines.findings] == ["style-sheet"]
    body = "<style>.a{fill:red;stroke-width:2px}</style>" + SQUARE
    assert svg_lines((PAGE + body + "</svg>").encode(), source="s.svg").findings == ()


@pytest.mark.parametrize("head", [f'<svg {HEAD} width="0mm" height="0mm" viewBox="0 0 1 1">', f'<svg {HEAD} width="9mm" viewBox="a b c d">'])  # fmt: skip
def test_a_page_without_size_is_refused(head: str) -> None:
    with pytest.raises(FormatError) as caught:
        svg_lines((head + SQUARE + "</svg>").encode(), source="s.svg")
    assert "s.svg" in caught.value.message
