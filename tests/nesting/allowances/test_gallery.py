from __future__ import annotations

import pytest
import shapely

from nesting.allowances.gallery import Example, examples
from nesting.allowances.treatments import Treatment, corners_made
from nesting.findings import Level
from nesting.pieces.outline import Corner, Pressed
from nesting.pieces.piece import DartFold, MarkKind
from nesting.polygon import signed_area

ALL = {e.code: e for e in examples()}


@pytest.mark.parametrize("example", ALL.values(), ids=ALL)
def test_every_example_is_a_sound_cut_piece_with_a_title_and_words(example: Example) -> None:
    outer = shapely.Polygon(example.cut.cut_line)
    assert outer.is_valid
    assert outer.buffer(0.05).covers(shapely.Polygon(example.cut.net_line))
    assert signed_area(example.cut.cut_line) > 0
    assert example.title
    assert example.text.endswith(".")
    assert [f for f in example.cut.findings if f.level is not Level.NOTE] == []


@pytest.mark.parametrize(
    "code", ["hem-flared", "hem-tapered", "hem-double", "seam-pressed", "seam-towards"]
)
def test_what_is_folded_back_lies_inside_the_cut_line(code: str) -> None:
    example = ALL[code]
    outer = shapely.Polygon(example.cut.cut_line).buffer(0.01)
    assert example.folded
    for layer in example.folded:
        shape = shapely.Polygon(layer)
        assert shape.is_valid
        assert shape.area > 100
        assert outer.covers(shape)


def test_every_treatment_has_a_code_of_its_own() -> None:
    assert len(ALL) == len(examples()) == 27
    assert {"mitre", "step", "blunt", "hollow", "inlay", "fold", "included", "dart"} <= set(ALL)
    assert any(m.kind is MarkKind.BUTTONHOLE for m in ALL["stand"].cut.marks)


def test_a_slanted_dart_shows_two_mouths() -> None:
    one, two = (shapely.Polygon(ALL[f"dart-slanted-{k}"].cut.cut_line) for k in ("first", "second"))
    assert one.symmetric_difference(two).area > 10


def test_every_treatment_of_a_corner_and_every_way_of_pressing_is_shown() -> None:
    """A treatment that is added to the code without a drawing is found here."""
    pieces = [e.cut.piece for e in ALL.values()]
    made = {c.made for p in pieces for c in corners_made(p)}
    assert made >= set(Treatment) - {Treatment.STRAIGHT, Treatment.AS_DRAWN}
    said = {e.corner for p in pieces for e in p.edges}
    assert said >= {Corner.AUTO, Corner.MITRE, Corner.STEP, Corner.BLUNT, Corner.NEXT_TURNS_BACK}
    assert {e.pressed for p in pieces for e in p.edges} == set(Pressed)
    assert {d.fold for p in pieces for d in p.darts} == set(DartFold)
    assert any(m.name == "clip" for m in ALL["hollow"].cut.marks)


def test_the_curved_hem_keeps_its_depth_and_is_to_be_eased() -> None:
    cut = ALL["hem-curved"].cut
    hem = shapely.LineString(cut.piece.edge("hem").points)
    run = next(path for name, path in cut.runs if name == "hem")
    middle = [p for p in run if 40 < p[0] < 160]
    assert [shapely.Point(p).distance(hem) for p in middle] == pytest.approx(
        [18] * len(middle), abs=0.05
    )
    assert "hem-to-be-eased" in [f.code for f in cut.findings]
