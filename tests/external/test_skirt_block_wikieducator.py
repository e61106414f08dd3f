"""Skirt block: WikiEducator hand-out on drafting a skirt block, its table for waist 68 and hip 94 cm,
to the tenth of a centimetre. Our demo skirt is drafted by the same function from other measures."""

from __future__ import annotations

import pytest

from service.demo import skirt
from service.demo.sheet import net_length
from service.demo.skirt import DART_WIDTH, skirt_block

pytestmark = pytest.mark.external

TENTH = 0.05


def test_the_table() -> None:
    block = skirt_block(68, 94)
    assert block.half_width == pytest.approx(49.5, abs=TENTH)
    assert block.back_hip == pytest.approx(25.5, abs=TENTH)
    assert block.front_hip == pytest.approx(24.0, abs=TENTH)
    assert block.back_waist == pytest.approx(20.2, abs=TENTH)
    assert block.front_waist == pytest.approx(19.0, abs=TENTH)
    assert block.back_hip - block.back_waist == pytest.approx(5.3, abs=TENTH)
    assert block.front_hip - block.front_waist == pytest.approx(5.0, abs=TENTH)
    waist = 2 * (block.back_waist + block.front_waist - 2 * DART_WIDTH)
    assert waist == pytest.approx(70.4, abs=TENTH)
    assert 2 * block.half_width == pytest.approx(99.0, abs=TENTH)


def test_the_demo_skirt_keeps_the_blocks_ease() -> None:
    # Finished waist = waist + 2.4, finished hip = hip + 5; the waist line is a curve, so a little
    # longer than the block's straight measure.
    pieces = {p.name: p for p in skirt.draft().pieces}
    waist = 2 * sum(net_length(pieces[n], "waist") for n in ("Front", "Back"))
    assert waist == pytest.approx(skirt.WAIST + 2.4, abs=0.3)
    block = skirt_block(skirt.WAIST, skirt.HIP)
    assert 2 * (block.front_hip + block.back_hip) == pytest.approx(skirt.HIP + 5)
