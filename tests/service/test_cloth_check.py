"""The real cloth against the layout: which reading decides, and what folds and ends add."""

from __future__ import annotations

from typing import Any

import pytest

from service.cloth_check import check_cloth


def layout(fold: str, *, folded: str = "", zone_plies: int = 1) -> dict[str, Any]:
    """One piece reaching to x = 1000, y = 400."""
    return {
        "fold": fold,
        "usable_width_mm": 1476.0,
        "selvedge_mm": 12.0,
        "end_allowance_mm": 20.0,
        "zones": [{"id": "z", "plies": zone_plies, "fold_edges": [folded] if folded else []}],
        "placements": [{"zone": "z", "cut_line": [[0, 0], [1000, 0], [1000, 400], [0, 400]]}],
    }


@pytest.mark.parametrize(
    ("fold", "folded", "length", "width"),
    [
        ("open", "", 1040, 424),
        ("lengthwise", "y0", 1040, 824),
        ("crosswise", "x0", 2040, 424),
        # Where both sides are folded or plies lie side by side, the whole width is needed.
        ("double", "y0", 1040, 1500),
        ("off-centre", "y0", 1040, 1500),
    ],
)
def test_exact_cloth_fits_with_nothing_to_spare(
    fold: str, folded: str, length: float, width: float
) -> None:
    found = check_cloth(layout(fold, folded=folded), [length, length], [width] * 3)
    assert found.fits
    assert (found.spare_length_mm, found.spare_width_mm) == pytest.approx((0, 0))


def test_shorter_selvedge_and_narrowest_place_decide() -> None:
    found = check_cloth(layout("open"), [1100, 1030], [430, 430, 420])
    assert not found.fits
    assert found.narrowest == 3
    assert found.words.startswith("The cloth is 4 mm too narrow at place 3 and 10 mm too short.")


def test_a_millimetre_is_the_tapes_own() -> None:
    assert check_cloth(layout("open"), [1039.2, 1040], [424] * 3).fits
    assert not check_cloth(layout("open"), [1038.8, 1040], [424] * 3).fits
