from __future__ import annotations

from dataclasses import replace

import pytest

from nesting.allowances.defaults import HEMS_MM, SEAMS_MM, allowances_by_kind, with_defaults
from nesting.pieces.outline import Allowance, EdgeKind
from tests.nesting.drafts import add, half_skirt


def test_every_edge_gets_the_allowance_of_its_kind_unless_it_has_its_own() -> None:
    skirt = half_skirt()
    skirt = replace(
        skirt,
        edges=tuple(replace(e, allowance=add(25)) if e.name == "waist" else e for e in skirt.edges),
    )
    made = with_defaults(skirt, allowances_by_kind(10, 50), "waist")
    assert {e.name: e.allowance for e in made.edges} == {
        "hem": add(50),
        "side": add(10),
        "waist": add(25),
        "centre": Allowance(),
    }
    assert allowances_by_kind(10, 50)[EdgeKind.FINISHED] == Allowance()


def test_published_widths_lie_in_their_published_ranges() -> None:
    """Ranges of the American Sewing Guild's list (2025), inches; seams 1/4 to 3/4."""
    ranges = {"dress": (1.5, 2), "shirt": (3 / 8, 5 / 8), "skirt, straight or A-line": (2, 3)}
    for garment, (low, high) in ranges.items():
        assert low <= HEMS_MM[garment] / 25.4 <= high
    assert all(1 / 4 <= w / 25.4 <= 3 / 4 for w in SEAMS_MM.values())
    assert SEAMS_MM["home sewing"] == pytest.approx(15.875)
