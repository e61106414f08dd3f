"""The piece sheet: what it reads, what it refuses and in which words, and that it loses nothing."""

from __future__ import annotations

import json
import pickle
from dataclasses import fields
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from nesting.findings import Level
from nesting.pieces.outline import Allowance, AllowanceState, Corner, Edge, EdgeKind, Pressed
from nesting.pieces.piece import (
    Count,
    Dart,
    DartFold,
    DrawnAs,
    Grain,
    GrainRule,
    Mark,
    MarkKind,
    Notch,
    Piece,
    Style,
)
from nesting.polygon import as_points, bounds, signed_area
from service.errors import FormatError, TooLargeError
from service.formats.building import size_text
from service.formats.piece_sheet import (
    piece_sheet_schema,
    piece_sheet_text,
    read_piece_sheet,
    write_piece_sheet,
)


def sheet(*pieces: Any, **fields: Any) -> dict[str, Any]:
    return {
        "format": "grainfold piece sheet",
        "version": 1,
        "unit": "cm",
        "style": "Stage apron",
        "defaults": {"allowance": {"seam": 1.5, "hem": "4 cm"}},
        "pieces": list(pieces),
        **fields,
    }


def read(raw: Any) -> tuple[Style, tuple[Any, ...]]:
    data = raw if isinstance(raw, bytes) else json.dumps(raw).encode()
    return read_piece_sheet(data, source="apron.json")


def refused(raw: Any) -> FormatError:
    with pytest.raises(FormatError) as caught:
        read(raw)
    return caught.value


TIE = {"name": "Tie", "outline": {"rectangle": {"width": 4, "length": "1.2 m"}}}
BELT = {"rectangle": {"width": 4, "length": 9}}
ADD = {"state": "add", "width": 1}
DART = {"name": "d", "edge": "top", "point": [1, 1]}
SKIRT = {
    "name": "Skirt",
    "grain": {"tail": [20, 5], "head": [20, 50]},
    "count": {"on fold": 1},
    "outline": {
        "start": [0, 0],
        "edges": [
            {"name": "hem", "kind": "hem", "to": [45, 0]},
            {"name": "side", "curve": [[46, 20], [44, 40], [40, 60]], "inlay": 2},
            {
                "name": "waist",
                "path": [{"to": [30, 60]}, {"curve": [[20, 60], [10, 59], [0, 59]]}],
                "allowance": "included",
            },
            {"name": "centre", "kind": "fold", "to": [0, 0]},
        ],
    },
    "notches": [{"edge": "side", "distance": 10, "from": "end", "marks": 2}],
    "darts": [
        {"name": "front dart", "edge": "waist", "first": 12, "second": 14, "point": [27, 50]}
    ],
    "marks": [{"kind": "drill", "points": [[27, 51]], "name": "dart point"}],
}


def test_a_rectangle_is_a_piece_with_its_grain_along_the_length() -> None:
    style, findings = read(sheet(TIE))
    tie = style.pieces[0]
    assert bounds(tie.outline) == (0.0, 0.0, 40.0, 1200.0)
    assert [e.name for e in tie.edges] == ["bottom", "right", "top", "left"]
    assert all(e.allowance == Allowance(AllowanceState.ADD, 15.0) for e in tie.edges)
    assert tie.grain is not None
    assert tie.grain.tail[0] == tie.grain.head[0] == 20.0
    assert tie.grain.head[1] > tie.grain.tail[1]
    assert {"size", "grain-of-rectangle"} == {f.code for f in findings}


def test_size_is_said_in_words() -> None:
    style, _ = read(sheet(TIE, SKIRT))
    assert size_text(style.pieces[0]) == "Tie: 120.0 cm tall, 4.0 cm wide"
    assert size_text(style.pieces[0], system="imperial") == "Tie: 47 1/4 in tall, 1 9/16 in wide"
    assert size_text(style.pieces[1]).endswith("wide (half, on the fold)")


def test_edges_lines_curves_and_everything_said_of_them() -> None:
    style, _ = read(sheet(SKIRT))
    skirt = style.pieces[0]
    assert [e.kind for e in skirt.edges] == [
        EdgeKind.HEM, EdgeKind.SEAM, EdgeKind.SEAM, EdgeKind.FOLD,
    ]  # fmt: skip
    hem, side, waist, centre = skirt.edges
    assert hem.allowance == Allowance(AllowanceState.ADD, 40.0)
    assert side.inlay_mm == 20.0
    assert waist.allowance == Allowance(AllowanceState.INCLUDED)
    assert centre.allowance == Allowance()
    assert len(hem.points) == 2
    assert len(side.points) > 10
    assert np.array_equal(waist.points[1], [300.0, 600.0])
    assert skirt.notches[0].distance_mm == pytest.approx(side.length_mm - 100.0)
    assert skirt.notches[0].marks == 2
    assert skirt.count == Count(1, 0)
    assert skirt.grain == Grain((200.0, 50.0), (200.0, 500.0))
    assert signed_area(skirt.outline) > 0


def test_curve_keeps_to_the_promised_chord_error() -> None:
    style, _ = read(sheet(SKIRT))
    side = style.pieces[0].edges[1].points
    t = np.linspace(0, 1, 20_001)[:, None]
    p = [np.array(c) * 10.0 for c in ([45, 0], [46, 20], [44, 40], [40, 60])]
    exact = (
        (1 - t) ** 3 * p[0] + 3 * (1 - t) ** 2 * t * p[1] + 3 * (1 - t) * t**2 * p[2] + t**3 * p[3]
    )
    a, b = side[:-1], side[1:]
    d = b - a
    s = np.clip(((exact[:, None] - a) * d).sum(2) / (d * d).sum(1), 0, 1)
    off = np.hypot(*np.moveaxis(exact[:, None] - (a + s[..., None] * d), 2, 0)).min(axis=1)
    assert off.max() <= 0.02 + 1e-9


def test_typed_points_close_themselves_and_sides_are_counted_from_one() -> None:
    panel = {
        "name": "Panel",
        "grain": "up",
        "outline": {
            "points": [[0, 0], ["11 13/16 in", 0], [28, 60], [0, 60], [0, 0]],
            "sides": {"1": {"kind": "hem", "name": "lower edge"}, "edge 3": {"allowance": "none"}},
        },
    }
    style, _ = read(sheet(panel))
    p = style.pieces[0]
    assert [e.name for e in p.edges] == ["lower edge", "edge 2", "edge 3", "edge 4"]
    assert p.edges[0].length_mm == pytest.approx((11 + 13 / 16) * 25.4)
    assert p.edges[2].allowance == Allowance()
    assert p.edges[0].kind is EdgeKind.HEM


def test_fraction_and_unit_in_the_sheet_and_in_a_text() -> None:
    raw = sheet(
        {"name": "Cuff", "outline": {"rectangle": {"width": "1⅜", "length": "10 cm"}}}, unit="in"
    )
    style, _ = read(raw)
    assert bounds(style.pieces[0].outline)[2:] == (pytest.approx(34.925), 100.0)


def test_clockwise_outline_is_relisted_and_distances_follow() -> None:
    panel = {
        "name": "Panel",
        "grain": "up",
        "outline": {
            "start": [0, 0],
            "edges": [
                {"name": "left", "to": [0, 50], "allowance": {**ADD, "end_width": 3}},
                {"name": "top", "to": [20, 50], "allowance": {**ADD, "steps": [[5, 2], [15, 4]]}},
                {"name": "right", "to": [20, 0]},
                {"name": "bottom", "to": [0, 0]},
            ],
        },
        "notches": [{"edge": "left", "distance": 10}],
        "darts": [{"name": "d", "edge": "top", "first": 4, "second": 9, "point": [13, 30]}],
    }  # fmt: skip
    style, findings = read(sheet(panel))
    p = style.pieces[0]
    assert [e.name for e in p.edges] == ["bottom", "right", "top", "left"]
    assert signed_area(p.outline) == pytest.approx(200.0 * 500.0)
    assert p.notches[0].distance_mm == pytest.approx(400.0)
    assert (p.darts[0].first_mm, p.darts[0].second_mm) == (pytest.approx(110), pytest.approx(160))
    assert p.darts[0].fold is DartFold.SECOND_LEG
    left, top = p.edge("left").allowance, p.edge("top").allowance
    assert (left.width_mm, left.end_width_mm) == (30.0, 10.0)
    assert (top.width_mm, top.steps) == (40.0, ((50.0, 20.0), (150.0, 10.0)))
    assert [f.level for f in findings if f.code == "clockwise"] == [Level.NOTE]


def test_unsaid_allowance_is_warned_of_and_a_cut_line_is_not_widened() -> None:
    bare = {"name": "Yoke", "outline": {"rectangle": {"width": 30, "length": 10}}}
    style, findings = read(sheet(bare, defaults={}))
    warned = next(f for f in findings if f.code == "allowance-unsaid")
    assert warned.level is Level.WARNING
    assert "bottom" in warned.message
    assert warned.where == "Yoke"
    style, findings = read(sheet({**bare, "drawn": "cut"}, defaults={}))
    assert all(e.allowance.state is AllowanceState.INCLUDED for e in style.pieces[0].edges)
    assert not [f for f in findings if f.code == "allowance-unsaid"]


def test_every_problem_of_a_sheet_is_told_at_once_by_name() -> None:
    error = refused(
        sheet(
            {"name": "Front", "outline": {"rectangle": {"width": "wide", "length": 60}}},
            {"name": "Back", "count": {"pear": 2}, "outline": {"points": [[0, 0], [1, 0], [1]]}},
            {
                "name": "Tie",
                "outline": {"rectangle": {"width": 4, "length": 9}},
                "count": {"pair": 0},
            },
        )
    )
    told = [(p.where, p.message) for p in error.problems]
    assert told[0] == (
        "Front / outline / rectangle / width",
        "“wide” cannot be read as a length: no number was found",
    )
    assert ("Back / outline / points 3", "expected a point [x, y], got [1]") in told
    assert ("Back / count / pear", "“pear” is not a field here") in told
    assert any(w == "Tie / count" and "leave the piece out" in m for w, m in told)
    assert next(p for p in error.problems if "pear" in p.message).hint == "Did you mean “pair”?"
    assert "Front / outline / rectangle / width" in error.message


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"outline": {"start": [0, 0], "edges": [{"to": [1, 0]}, {"to": [1, 9]}]}}, "outline is open"),
        ({"outline": {"rectangle": {"width": 0, "length": 9}}}, "above 0"),
        ({"outline": {"rectangle": {"width": -3, "length": 9}}}, "must be 0 or more"),
        ({"outline": {"points": [[0, 0], [1, 1]]}}, "3 or more are needed, 2 came"),
        ({"outline": {**BELT, "points": [[0, 0], [1, 0], [1, 1]]}}, "exactly one of"),
        ({"outline": {}}, "none of them came"),
        ({"outline": {"rectangle": {"width": 4e7, "length": 9}}}, "beyond 100 m"),
        ({"outline": {"rectangle": {"width": True, "length": 9}}}, "expected a length"),
        ({"outline": {"rectangle": {"width": 4, "length": 9}, "sides": {"lower": {}}}}, "no side"),
        ({"count": {"on fold": 1}}, "no edge is of kind fold"),
        ({"count": {"pair": 1, "drawn": 1}}, "say one of"),
        ({"count": {"pair": 1.5}}, "valid integer"),
        ({"grain": "sideways"}, "say “up”"),
        ({"grain": {"tail": [0, 0]}}, "“head” is missing"),
        ({"grain_rule": "two way"}, "is not one of: one way, either way"),
        ({"notches": [{"edge": "rigth", "distance": 2}]}, "there is no edge “rigth”"),
        ({"notches": [{"edge": "right", "distance": 20}]}, "beyond the end"),
        ({"darts": [{**DART, "first": 3, "second": 1}]}, "must come after"),
        ({"name": "a\nb"}, "control characters"),
        ({"name": ""}, "1 to 80 characters"),
        ({"outline": {**BELT, "sides": {"left": {"allowance": {"state": "add"}}}}}, "say how much"),
        ({"outline": {**BELT, "sides": {"left": {"name": "top"}}}}, "two edges are called"),
    ],
)  # fmt: skip
def test_what_cannot_be_is_refused_in_words(change: dict[str, Any], words: str) -> None:
    piece = {"name": "Tie", "outline": {"rectangle": {"width": 4, "length": 9}}, **change}
    error = refused(sheet(piece))
    assert any(words in p.message for p in error.problems), error.problems
    assert all(p.where for p in error.problems)


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"", "Expecting value"),
        (b"[]", "object in curly brackets"),
        (b"\xff\xfe{}", "not UTF-8"),
        (b"[" * 100_000, "nested too deep"),
        (b'{"format": 1, "format": 2}', "said twice"),
        (b'{"format": "grainfold piece sheet", "version": 1, "x": NaN}', "NaN"),
        (b'{"a": 1' + b"0" * 5000 + b"}", "Exceeds the limit"),
        (b'{"format": "something else"}', "not a grainfold piece sheet"),
        (b'{"format": "grainfold piece sheet", "version": 2}', "says version 2"),
        (
            b'{"format": "grainfold piece sheet", "version": 1, "unit": "cubit"}',
            "“style” is missing",
        ),
    ],
)
def test_what_is_no_sheet_is_refused_in_words(data: bytes, words: str) -> None:
    error = refused(data)
    assert any(words in m for m in (error.message, *(p.message for p in error.problems))), error
    assert "apron.json" in error.message


def test_a_huge_sheet_is_refused_by_its_size() -> None:
    with pytest.raises(TooLargeError) as caught:
        read(b" " * 50_000_000)
    assert "50 MB" in caught.value.message


def test_a_very_long_number_is_told_not_raised() -> None:
    assert (
        "too large"
        in refused(
            sheet({**TIE, "outline": {"rectangle": {"width": 10**400, "length": 1}}})
        ).message
    )
    assert (
        "beyond 100 m"
        in refused(sheet({**TIE, "outline": {"rectangle": {"width": 1e300, "length": 1}}})).message
    )


def test_missing_and_repeated_pieces() -> None:
    assert "1 to 500 pieces" in refused(sheet()).message
    assert "two pieces are called “Tie”" in refused(sheet(TIE, TIE)).message


def test_an_error_crosses_a_process_border_whole() -> None:
    error = refused(sheet(TIE, TIE))
    back = pickle.loads(pickle.dumps(error))
    assert (back.message, back.problems, back.code, back.where) == (
        error.message, error.problems, error.code, error.where,
    )  # fmt: skip


def test_schema_documents_every_field_with_an_example() -> None:
    schema = piece_sheet_schema()
    assert schema["$schema"].startswith("https://json-schema.org")
    parts = [schema, *schema["$defs"].values()]
    fields = [(n, f) for p in parts for n, f in p.get("properties", {}).items()]
    assert len(fields) > 40
    assert [n for n, f in fields if not f.get("description") or not f.get("examples")] == []


def same(a: Style, b: Style) -> None:
    assert (a.name, a.note) == (b.name, b.note)
    assert len(a.pieces) == len(b.pieces)
    for p, q in zip(a.pieces, b.pieces, strict=True):
        for field in (
            "name",
            "grain",
            "grain_rule",
            "count",
            "cloth",
            "drawn_as",
            "darts",
            "marks",
            "origin",
        ):
            assert getattr(p, field) == getattr(q, field), field
        assert len(p.edges) == len(q.edges)
        for e, f in zip(p.edges, q.edges, strict=True):
            for said in fields(Edge):
                if said.name != "points":
                    assert getattr(e, said.name) == getattr(f, said.name), said.name
            assert np.abs(e.points - f.points).max() <= 1e-9
        for m, n in zip(p.notches, q.notches, strict=True):
            assert (m.edge, m.marks, m.name) == (n.edge, n.marks, n.name)
            assert m.distance_mm == pytest.approx(n.distance_mm, abs=1e-9)


def test_written_and_read_again_nothing_is_lost() -> None:
    style, _ = read(sheet(TIE, SKIRT, note="for the tour"))
    again, _ = read(piece_sheet_text(write_piece_sheet(style)).encode())
    same(style, again)


ROWS: tuple[tuple[str, ...], ...] = (
    ("Back/side",),
    ("Front + back/waist + hip",),
    (),
    ("Side front/shoulder", "Front/shoulder"),
    ("Yoke/a + Yoke/b", "Yoke/c"),
)
"""Partners, among them names that hold the plus which parts a row where it is typed."""

coordinate = st.floats(1.0, 3000.0, allow_nan=False)


@st.composite
def pieces(draw: st.DrawFn) -> Piece:
    w, h = draw(coordinate), draw(coordinate)
    corners = [(0.0, 0.0), (w, 0.0), (w, h), (0.0, h)]
    edges = tuple(
        Edge(
            f"e{i}",
            as_points([corners[i], corners[(i + 1) % 4]]),
            draw(st.sampled_from(EdgeKind)),
            Allowance(
                draw(st.sampled_from(AllowanceState)),
                draw(st.floats(0, 80)),
                draw(st.none() | st.floats(0, 80)),
                tuple(draw(st.lists(st.tuples(st.floats(0, 5), st.floats(0, 80)), max_size=2))),
            ),
            draw(st.floats(0, 50)),
            draw(st.sampled_from(ROWS)),
            draw(st.sampled_from(ROWS[2:])),
            draw(st.sampled_from(Corner)),
            draw(st.sampled_from(Pressed)),
            tuple(draw(st.lists(st.floats(0, 40), max_size=2))),
            draw(st.floats(0, 20)),
        )
        for i in range(4)
    )
    return Piece(
        draw(st.text("abcdefgé ½'\"", min_size=1, max_size=9).map(str.strip).filter(bool)),
        edges,
        draw(st.none() | st.just(Grain((-1.5, 1.0), (2.0, 3.0)))),
        draw(st.sampled_from(GrainRule)),
        Count(draw(st.integers(1, 5)), draw(st.integers(0, 5))),
        "lining",
        draw(st.sampled_from(DrawnAs)),
        (Notch("e1", h * draw(st.floats(0, 1)), 2, "n"),),
        (Dart("d", "e0", 0.25 * w, 0.5 * w, (0.3 * w, 0.5 * h), draw(st.sampled_from(DartFold))),),
        (Mark(MarkKind.CENTRE_LINE, ((0.0, 0.0), (w, h)), "c"),),
        "typed",
    )


@settings(max_examples=60, deadline=None)
@given(pieces())
def test_any_piece_survives_the_sheet(piece: Piece) -> None:
    style = Style("S", (piece,), "n")
    again, _ = read(json.dumps(write_piece_sheet(style)).encode())
    same(style, again)


def test_the_body_s_measures_are_read_in_the_sheet_s_unit_and_written_back() -> None:
    body = {"measures": [{"line": "waist", "body": 72, "ease": "1 in", "below": "20 mm"}]}
    piece = {"name": "Belt", "outline": {"rectangle": {"width": 8, "length": 90}}}
    style, _ = read(sheet(piece, body=body))
    (measure,) = style.measures
    assert (measure.line, measure.cloth) == ("waist", "shell")
    assert (measure.body_mm, measure.ease_mm, measure.below_mm) == pytest.approx((720, 25.4, 20))
    again, _ = read(write_piece_sheet(style))
    assert again.measures == style.measures


def test_a_measure_that_cannot_be_read_names_its_field() -> None:
    piece = {"name": "Belt", "outline": {"rectangle": {"width": 8, "length": 90}}}
    body = {"measures": [{"line": "waist", "body": "wide"}]}
    assert "body / measures 1 / body" in str(refused(sheet(piece, body=body)).problems[0].where)


def test_defaults_may_name_published_usual_widths() -> None:
    piece = {
        "name": "Flap",
        "grain": "up",
        "outline": {
            "rectangle": {"width": 8, "length": 90},
            "sides": {"bottom": {"kind": "hem"}},
        },
    }
    style, _ = read(
        sheet(piece, defaults={"allowance": {"seam": "home sewing", "hem": "coat or jacket"}})
    )
    widths = {e.name: e.allowance.width_mm for e in style.pieces[0].edges}
    # 5/8 inch and the middle of 1 1/2 to 2 inches: S. Lo, Pattern Cutting (2011); American Sewing Guild.
    assert widths["top"] == pytest.approx(15.875)
    assert widths["bottom"] == pytest.approx(44.45)
    with pytest.raises(FormatError, match="a thumb"):
        read(sheet(piece, defaults={"allowance": {"seam": "a thumb"}}))


def partnered(partner: object, **more: object) -> dict[str, Any]:
    outline = {**BELT, "sides": {"left": {"partner": partner, **more}}}
    return sheet({"name": "Back", "outline": outline})


@pytest.mark.parametrize(
    ("said", "row"),
    [
        ("Back/side", ("Back/side",)),
        ("", ()),
        (["Side front/shoulder", "Front/shoulder"], ("Side front/shoulder", "Front/shoulder")),
        ("Side front/shoulder + Front/shoulder", ("Side front/shoulder", "Front/shoulder")),
        ("Front + back/side", ("Front + back/side",)),
        (["A/x + B/y"], ("A/x + B/y",)),
    ],
)
def test_a_partner_is_one_edge_or_a_row_of_edges(said: object, row: tuple[str, ...]) -> None:
    style, _ = read(partnered(said))
    assert style.pieces[0].edge("left").partners == row


def test_a_run_of_edges_is_read_and_written() -> None:
    run = ["Side back/shoulder", "Back/left"]
    style, _ = read(partnered(["Side front/shoulder", "Front/shoulder"], run=run))
    edge = style.pieces[0].edge("left")
    assert edge.run == tuple(run)
    again, _ = read(piece_sheet_text(write_piece_sheet(style)).encode())
    assert again.pieces[0].edge("left").run == edge.run
    assert again.pieces[0].edge("left").partners == edge.partners


@pytest.mark.parametrize(
    ("said", "words"),
    [
        (["A/x", "A/x"], "A/x stands twice in the row"),
        (["A/x", 3], "expected “piece/edge” or a list of them"),
        ({"edge": "A/x"}, "expected “piece/edge” or a list of them"),
        (["A/x", " "], "has 1 to 170 characters"),
        ([f"A/{k}" for k in range(60)], "at most 50 edges, got 60"),
    ],
)
def test_a_row_that_cannot_be_read_is_refused_by_name(said: object, words: str) -> None:
    (told,) = refused(partnered(said)).problems
    assert words in told.message
    assert told.where.startswith("Back")


def test_an_edge_that_is_sewn_alone_has_no_run() -> None:
    with pytest.raises(FormatError, match="a run has two edges or more"):
        read(partnered("A/x", run=["Back/left"]))
