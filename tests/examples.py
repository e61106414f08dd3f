"""How many random examples a property is tried on: a moderate number each time, thousands on request."""

from __future__ import annotations

import os

from hypothesis import HealthCheck, settings

WILD = 3000


def examples(count: int) -> settings:
    """``count`` examples, the same in every run; 3000 fresh ones with ``GRAINFOLD_EXAMPLES=wild``."""
    if os.environ.get("GRAINFOLD_EXAMPLES") != "wild":
        return settings(max_examples=count, deadline=None)
    return settings(
        max_examples=WILD,
        deadline=None,
        suppress_health_check=[HealthCheck.too_slow, HealthCheck.filter_too_much],
    )
