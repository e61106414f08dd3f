from __future__ import annotations

import pytest
import shapely

from nesting.allowances.gallery import Example, examples
from nesting.findings import Level
from nesting.pieces.piece import MarkKind
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


@pytest.mark.parametrize("code", ["hem-flared", "hem-tapered", "hem-double", "seam-pressed"])
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
    assert len(ALL) == len(examples()) == 22
    assert {"mitre", "step", "blunt", "hollow", "inlay", "fold", "included", "dart"} <= set(ALL)
    assert any(m.kind is MarkKind.BUTTONHOLE for m in ALL["stand"].cut.marks)


def test_a_slanted_dart_shows_two_mouths() -> None:
    one, two = (shapely.Polygon(ALL[f"dart-slanted-{k}"].cut.cut_line) for k in ("first", "second"))
    assert one.symmetric_difference(two).area > 10
