"""Curtains: worked examples of drapery workrooms, guides and articles, recomputed by hand.

Rule common to all of them: widths = made-up width x fullness (+ returns and side hems) over the
cloth's width, whole; cut = finished length + hems + heading, up to whole repeats; buy = widths x cut.
Grades: B trade or workroom page, C general article. The pages are named by kind and number only:
they carry no author or year that could be cited better.
"""

from __future__ import annotations

import math

import pytest

from nesting.lengths import length_to_repeat, widths_needed
from nesting.units import INCH_MM, YARD_MM

pytestmark = pytest.mark.external


def inches(value: float) -> float:
    return value * INCH_MM


@pytest.mark.parametrize(
    ("source", "wanted", "cloth", "widths"),
    [
        # Drapery workroom measuring page (B): 63 in window, threefold, 54 in cloth: 3.5 -> 4.
        ("workroom page", inches(63 * 3), inches(54), 4),
        # General web article (C): 84 x 2.5 + 7 returns + 8 side hems = 225 in -> 5.
        ("article", inches(84 * 2.5 + 7 + 8), inches(54), 5),
        # General web article (C): 65 in track, pinch pleats x 2.25: 146.25 / 54 = 2.708 -> 3.
        ("article", inches(65 * 2.25), inches(54), 3),
        # Decorating article (C): 70 in, twofold, 54 in cloth: 2.593 -> 3.
        ("article", inches(70 * 2), inches(54), 3),
        # UK measuring guide (B), metric: 200 cm x 1.5 + 20 cm hems, 122 cm cloth: 2.623 -> 3.
        ("UK guide", 2000 * 1.5 + 200, 1220, 3),
    ],
)
def test_widths(source: str, wanted: float, cloth: float, widths: int) -> None:
    assert widths_needed(wanted, cloth) == widths


@pytest.mark.parametrize(
    ("source", "cut", "repeat", "padded"),
    [
        # Drapery workroom measuring page (B): 114 in, repeat 11: 10.36 -> 11 repeats = 121 in.
        ("workroom page", inches(114), inches(11), inches(121)),
        # Workroom newsletter, August 2011 (B): 100 + 16 in of hems, repeat 25: cut 125, waste 9.
        ("newsletter", inches(116), inches(25), inches(125)),
        # UK workroom tutorial (B), metric: nine repeats of 31.8 cm are 286.2 cm.
        ("UK tutorial", 2862, 318, 2862),
        # UK measuring guide (B), metric: drop 135 = 5 x 27 exactly: it must not gain a repeat.
        ("UK guide", 1350, 270, 1350),
    ],
)
def test_cut_length_up_to_the_repeat(source: str, cut: float, repeat: float, padded: float) -> None:
    assert length_to_repeat(cut, repeat) == pytest.approx(padded, abs=1e-6)


@pytest.mark.parametrize(
    ("widths", "cut", "total_in", "yards"),
    [
        (4, inches(114), 456, 12.667),  # workroom page (B); it prints 12.6, cut off: see below
        (4, inches(121), 484, 13.444),  # the same with the repeat of 11 in
        (5, inches(78 + 10), 440, 12.222),  # general article (C)
        (3, inches(80 + 16), 288, 8.0),  # general article (C)
    ],
)
def test_cloth_for_all_widths(widths: int, cut: float, total_in: float, yards: float) -> None:
    assert widths * cut == pytest.approx(inches(total_in))
    assert widths * cut / YARD_MM == pytest.approx(yards, abs=5e-4)


def test_whole_repeats_cost_less_than_adding_one_repeat_a_drop() -> None:
    # Sewing site (C): 2 widths of 100 in with a repeat of 26, "add a repeat": 252 in = 7 yd.
    lazy = 2 * inches(100 + 26)
    exact = 2 * length_to_repeat(inches(100), inches(26))
    assert lazy / YARD_MM == pytest.approx(7.0)
    assert exact / YARD_MM == pytest.approx(5.778, abs=5e-4)
    # UK measuring guide (B): 4 widths of 135 cm, repeat 27, "add one repeat": 648 cm.
    assert 4 * (1350 + 270) == 6480
    assert 4 * length_to_repeat(1350, 270) == pytest.approx(5400)


def test_published_mistakes_are_not_repeated() -> None:
    # Workroom page: prints 12.6 yd for 456 in. That is 2.4 in short of four drops.
    assert 4 * inches(114) - inches(2.3) > 12.6 * YARD_MM
    # Shop page: 1.5 m window x 1.5 = 2.25, sold as "3 drops" of 1.5 m cloth: the division by the
    # cloth's width was forgotten; two are enough.
    assert widths_needed(1500 * 1.5, 1500) == 2 < math.ceil(2.25)
    # Cornice page: 167 / 54 = 3.09 strips of 12 in sold as 1.03 yd. Strips are whole: four.
    strips = widths_needed(inches(167), inches(54))
    assert strips == 4
    assert strips * inches(12) / YARD_MM == pytest.approx(1.333, abs=5e-4)
    # The same with a repeat of 23 in: 92 in = 2.556 yd, where the page says 1.97.
    assert strips * length_to_repeat(inches(12), inches(23)) / YARD_MM == pytest.approx(
        2.556, abs=5e-4
    )
