"""Where a drafted length comes out right: the number at which a difference is nothing."""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

HALVINGS: Final = 60
"""Halving a metre so often ends far below a micrometre."""


def find(difference: Callable[[float], float], low: float, high: float) -> float:
    """The value between ``low`` and ``high`` at which ``difference`` changes sign, by halving.

    Raises ValueError if it has the same sign at both ends: the draft's measures contradict.
    """
    below = difference(low) < 0
    if below == (difference(high) < 0):
        raise ValueError(f"no value between {low:g} and {high:g} makes the lengths meet")
    for _ in range(HALVINGS):
        middle = (low + high) / 2
        if (difference(middle) < 0) == below:
            low = middle
        else:
            high = middle
    return (low + high) / 2
