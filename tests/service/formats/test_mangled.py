# ruff: noqa: E501  one case a line reads best in the tables
"""Mangled files: whatever is done to a file, it is read or refused in words, never a stack trace."""

from __future__ import annotations

import contextlib
import copy
import io
import json
import random
from typing import Any

import ezdxf
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from nesting.allowances.make import cut_piece
from nesting.errors import NestingError
from nesting.pieces.piece import Style
from service.errors import FormatError
from service.formats.reading import read_bytes

SHEET: dict[str, Any] = {
    "format": "grainfold piece sheet",
    "version": 1,
    "unit": "cm",
    "style": "Jerkin",
    "note": "n",
    "defaults": {"allowance": {"seam": 1.5, "hem": "4 cm"}, "cloth": "shell"},
    "pieces": [
        {
            "name": "Front",
            "count": {"on fold": 1},
            "grain": {"tail": [5, 5], "head": [5, 40]},
            "outline": {
                "start": [0, 0],
                "edges": [
                    {"name": "hem", "kind": "hem", "to": [30, 0], "allowance": {"state": "add", "width": 3}},
                    {"name": "side", "curve": [[31, 15], [29, 30], [27, 45]], "inlay": 1},
                    {"name": "neck", "path": [{"to": [10, 50]}, {"to": [0, 50]}]},
                    {"name": "centre", "kind": "fold", "points": [[0, 25], [0, 0]]},
                ],
            },
            "notches": [{"edge": "side", "distance": 12, "from": "end"}],
            "darts": [{"name": "d", "edge": "hem", "first": 5, "second": 8, "point": [6, 12]}],
            "marks": [{"kind": "drill", "points": [[10, 20]]}],
        },
        {"name": "Tie", "outline": {"rectangle": {"width": 4, "length": "1 3/8 in"}, "sides": {"left": {"allowance": "none"}}}},
        {"name": "Gusset", "grain": "up", "outline": {"points": [[0, 0], [9, 0], [0, 9]]}},
    ],
}  # fmt: skip
ODD = st.sampled_from(
    [None, True, 0, -1, 1e308, 10**30, "", "x" * 300, "1/0", "-5 cm", "½", "\x00", [], {}, [[]], [1, 2], {"a": 1},
     "none", "fold", [0, 0], [[0, 0], [0, 0], [0, 0]], {"to": [0, 0]}, "NaN", 1.5]
)  # fmt: skip


def reads_or_refuses(data: bytes, name: str) -> None:
    """Read and cut, or be refused with the file's (or the piece's) name; anything else fails here."""
    said = outcome(data, name)
    assert "Traceback" not in said
    assert said.strip()


def outcome(data: bytes, name: str) -> str:
    try:
        style, _ = read_bytes(data, name=name, guard=False)
    except FormatError as refused:
        return refused.message if name in refused.message else ""
    assert isinstance(style, Style)
    for piece in style.pieces:
        with contextlib.suppress(NestingError):
            cut_piece(piece)
    return style.name


def places(node: Any, path: tuple[Any, ...] = ()) -> list[tuple[Any, ...]]:
    found = [path] if path else []
    for key, value in (
        node.items()
        if isinstance(node, dict)
        else enumerate(node)
        if isinstance(node, list)
        else ()
    ):
        found += places(value, (*path, key))
    return found


@settings(max_examples=100, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(st.data())
def test_mangled_sheets(data: st.DataObject) -> None:
    sheet = copy.deepcopy(SHEET)
    for _ in range(data.draw(st.integers(1, 3))):
        path = data.draw(st.sampled_from(places(sheet)))
        node = sheet
        for key in path[:-1]:
            node = node[key]
        if data.draw(st.booleans()):
            node[path[-1]] = copy.deepcopy(data.draw(ODD))
        elif isinstance(node, dict):
            del node[path[-1]]
        if not sheet:
            return
    reads_or_refuses(json.dumps(sheet).encode(), "jerkin.json")


SVG = """<svg xmlns="http://www.w3.org/2000/svg" width="400mm" height="700mm" viewBox="0 0 400 700">
<title>Jerkin; seam 15 mm</title><defs><symbol id="s" viewBox="0 0 10 10"><path d="M0 0h9v9z"/></symbol></defs>
<g data-name="Front; on fold; one way" transform="translate(10 20) rotate(3)">
<path data-name="net" d="M100 600 L400 600 C410 500 400 300 340 100 Q220 130 100 110 Z"/>
<path data-name="fold" d="M100 111 L100 599"/><path data-name="grain" d="M150 500 V200"/>
<path data-name="double notch hip" d="M385 400 L410 400"/>
<path data-name="dart waist" d="M200 118 L220 240 L240 116.3"/><circle data-name="drill" cx="220" cy="250" r="2"/></g>
<use href="#s" x="5" y="6" width="40" height="40"/><rect id="Belt" width="5cm" height="10%" rx="3"/>
<ellipse cx="9" cy="9" rx="5" ry="4"/><polygon points="1,2 30,2 30,40"/><text>x</text></svg>"""
BITS = [
    "0",
    "-",
    "1e9",
    "1e400",
    "nan",
    "%",
    "em",
    "mm",
    '"',
    "<",
    ">",
    "Z",
    "A",
    ";",
    "  ",
    "é",
    "#s",
    "9" * 30,
    "fold",
    "net",
]


@pytest.mark.parametrize("seed", [*range(80), 1392])
def test_mangled_drawings(seed: int) -> None:
    chance = random.Random(seed)
    text = SVG
    for _ in range(chance.randint(1, 4)):
        i = chance.randrange(len(text))
        text = text[:i] + chance.choice(BITS) + text[i + chance.choice((0, 1, 1, 3, 20)) :]
    reads_or_refuses(text.encode(), "jerkin.svg")


def plain_dxf() -> str:
    document = ezdxf.new("R2000")
    document.header["$INSUNITS"] = 4
    space = document.modelspace()
    space.add_lwpolyline(
        [(0, 0, 0, 0, 0.3), (300, 0), (300, 600), (0, 600)], close=True, dxfattribs={"layer": "CUT"}
    )
    space.add_line((100, 100), (100, 500), dxfattribs={"layer": "GRAIN"})
    space.add_spline([(400, 0), (500, 50), (450, 90), (400, 0)])
    document.blocks.new("B").add_circle((0, 0), 50)
    space.add_blockref("B", (700, 100), dxfattribs={"xscale": 2})
    out = io.StringIO()
    document.write(out)
    return out.getvalue()


DXF = plain_dxf().splitlines()


@pytest.mark.parametrize("seed", [*range(30), 1620, 2266])
def test_mangled_dxf(seed: int) -> None:
    chance = random.Random(seed)
    tags = list(DXF)
    start = tags.index("ENTITIES")
    for _ in range(chance.randint(1, 5)):
        i = chance.randrange(start, len(tags))
        kind = chance.randrange(3)
        if kind == 0:
            tags[i] = chance.choice(
                ["0", "-1", "1e308", "nan", "", "x", "LINE", "10", "99999999999"]
            )
        elif kind == 1:
            del tags[i]
        else:
            tags.insert(i, chance.choice(["0", "x", "ENDSEC"]))
    reads_or_refuses("\n".join(tags).encode(), "jerkin.dxf")


def plain_pdf() -> bytes:
    from reportlab.pdfgen.canvas import Canvas

    out = io.BytesIO()
    canvas = Canvas(out, invariant=1, pageCompression=0)
    canvas.rect(10, 10, 300, 500)
    canvas.circle(100, 200, 50)
    canvas.drawString(50, 50, "Front")
    canvas.save()
    return out.getvalue()


PDF = plain_pdf()


@pytest.mark.parametrize("seed", range(30))
def test_mangled_pdf(seed: int) -> None:
    chance = random.Random(seed)
    data = bytearray(PDF)
    for _ in range(chance.randint(1, 12)):
        data[chance.randrange(len(data))] = chance.randrange(256)
    reads_or_refuses(bytes(data), "jerkin.pdf")
