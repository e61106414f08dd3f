"""Rules of thumb for vests: W. D. F. Vincent, *Vincent's Systems of Cutting All Kinds of Tailor-Made
Garments*, "Vests", diagrams 37 to 40 (Wikisource, page 39): depth of scye = 1/6 breast + 3, across chest =
1/4 breast - 1, front shoulder = 1/4 breast + 3 1/2, over shoulder = 1/3 breast + 5. Its sample for a 36
chest lists 9 depth of scye, 8 across chest, 12 front shoulder, 17 over shoulder. Inches."""

from __future__ import annotations

import pytest

from service.demo.waistcoat import vest_rules

pytestmark = pytest.mark.external


def test_the_sample_of_36() -> None:
    rules = vest_rules(36)
    assert rules.depth_of_scye == pytest.approx(9)
    assert rules.across_chest == pytest.approx(8)
    assert rules.over_shoulder == pytest.approx(17)
    # The sample's front shoulder is a direct measure, half an inch under the rule.
    assert rules.front_shoulder == pytest.approx(12.5)
    assert abs(rules.front_shoulder - 12) <= 0.5
