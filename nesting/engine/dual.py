"""Dual feasible functions: what a share of a capacity may be counted as, so that no legal set of shares
counts more than one.

A function u from [0, 1] to [0, 1] is dual feasible if any shares that add up to at most 1 have values
that add up to at most 1. Families (Lueker 1983; Fekete and Schepers, *New classes of fast lower bounds
for bin packing problems*, Mathematical Programming 91, 2001), with q a number of parts and e below 1/2:

- *steps*: (ceil((q + 1) s) - 1) / q;
- *large and small*: 1 above 1 - e, nothing below e, s between;
- *beside*: what may lie beside a share above 1/2, in units of e; 1 / floor(1 / e) from e to 1/2;
- any of them after another.

Every function here is a sum of steps and of s between two thresholds, and never decreases, so one table
of thresholds serves them all.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final

import numpy as np

from nesting.polygon import FloatArray

MOST_PARTS: Final = 7
"""Steps of up to so many parts."""

LEAST_SMALL: Final = 1.0 / 64
"""No smaller e is used: the functions would have very many steps."""


@dataclass(frozen=True, slots=True, eq=False)
class Functions:
    """F functions on T thresholds, all arrays of float64: ``thresholds`` (T,), ascending; a function's
    value at s is the sum of its ``rises`` (F, T) at thresholds below s, and of s times its ``slopes``
    (F, T) there."""

    thresholds: FloatArray
    rises: FloatArray
    slopes: FloatArray

    def at(self, shares: FloatArray) -> FloatArray:
        """Values (F, N) at N shares."""
        above = (shares[None, :] > self.thresholds[:, None]).astype(float)
        values: FloatArray = self.rises @ above + self.slopes @ (above * shares[None, :])
        return values


Steps = dict[float, float]
"""A function that only steps: threshold to rise."""


def functions_of(small: Iterable[float]) -> Functions:
    """All functions of the families with e among ``small`` (values outside [``LEAST_SMALL``, 1/2] are
    left out).

    The first of them is s itself.
    """
    near = sorted({e for e in small if LEAST_SMALL <= e <= 0.5})
    stepped = [steps(q) for q in range(1, MOST_PARTS + 1)]
    stepped += [_ends_of(_parts(q), cut) for q in range(3, MOST_PARTS + 1) for cut in _cuts(q)]
    stepped += [_within(steps(q), e) for q in range(2, MOST_PARTS + 1) for e in near]
    stepped += [beside(e) for e in near]
    thresholds = sorted({0.0, *near, *(1.0 - e for e in near), *(t for s in stepped for t in s)})
    index = {t: k for k, t in enumerate(thresholds)}
    linear = len(near) + 1
    rises = np.zeros((linear + len(stepped), len(thresholds)))
    slopes = np.zeros_like(rises)
    slopes[0, 0] = 1.0
    for row, e in enumerate(near, start=1):
        slopes[row, index[e]] += 1.0
        slopes[row, index[1.0 - e]] -= 1.0
        rises[row, index[1.0 - e]] += 1.0
    for row, one in enumerate(stepped, start=linear):
        for threshold, rise in one.items():
            rises[row, index[threshold]] += rise
    return Functions(np.array(thresholds), rises, slopes)


def steps(parts: int) -> Steps:
    """(ceil((parts + 1) s) - 1) / parts: shares are counted in the whole parts that they exceed.

    With ceil(y) - 1 < y the parts of shares that add up to at most 1 are fewer than parts + 1.
    """
    return {j / (parts + 1): 1.0 / parts for j in range(1, parts + 1)}


def beside(e: float) -> Steps:
    """A share s above 1/2 leaves floor((1 - s) / e) of the floor(1 / e) units that fit; shares from e to
    1/2 count one unit each. Two shares above 1/2 never go together."""
    units = math.floor(1.0 / e)
    out = {e: 1.0 / units}
    left = math.ceil(0.5 / e) - 1
    value = 1.0 - left / units
    out[0.5] = out.get(0.5, 0.0) + value - 1.0 / units
    for i in range(left, 0, -1):
        threshold = 1.0 - i * e
        if threshold > 0.5:
            out[threshold] = out.get(threshold, 0.0) + 1.0 / units
    return out


def _parts(parts: int) -> list[tuple[float, float]]:
    """The plateaux of ``steps``: (threshold, value above it)."""
    return [(j / (parts + 1), j / parts) for j in range(1, parts + 1)]


def _cuts(parts: int) -> list[float]:
    """The e, one for each difference they make, for ``large and small`` after steps of ``parts``."""
    return [(j + 0.5) / parts for j in range(1, (parts + 1) // 2) if (j + 0.5) / parts < 0.5]


def _ends_of(plateaux: list[tuple[float, float]], e: float) -> Steps:
    """*Large and small* after a function given by its plateaux."""
    out: Steps = {}
    before = 0.0
    for threshold, value in plateaux:
        now = 1.0 if value > 1.0 - e else 0.0 if value < e else value
        if now > before:
            out[threshold] = now - before
            before = now
    return out


def _within(one: Steps, e: float) -> Steps:
    """A function of steps after *large and small*: nothing below e, 1 above 1 - e."""
    out: Steps = {}
    total = 0.0
    for threshold in sorted(one):
        if threshold < 1.0 - e:
            at = max(threshold, e)
            out[at] = out.get(at, 0.0) + one[threshold]
            total += one[threshold]
    out[1.0 - e] = out.get(1.0 - e, 0.0) + 1.0 - total
    return out
