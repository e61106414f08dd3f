"""Where a piece may be put: bounds, touching sides and repeats, and the random source."""

from __future__ import annotations

import math

from nesting.engine.kernels.ground import I64, Ground, hot


@hot
def draw(random: I64) -> float:
    """A number in [0, 1) (xorshift, Marsaglia 2003, 32 bits); the state must not be 0."""
    x = random[0]
    x ^= (x << 13) & 0xFFFFFFFF
    x ^= x >> 17
    x ^= (x << 5) & 0xFFFFFFFF
    random[0] = x
    return float(x / 4294967296.0)


@hot
def settle(
    value: float, low: float, high: float, period: float, phase: float, tolerance: float
) -> float:
    """The nearest allowed number: within [low, high] and, with a period above 0, within
    ``tolerance`` of phase + k * period. NaN if there is none."""
    if high < low:
        return math.nan
    value = min(max(value, low), high)
    if period <= 0.0:
        return value
    first = math.ceil((low - tolerance - phase) / period)
    last = math.floor((high + tolerance - phase) / period)
    if last < first:
        return math.nan
    k = min(max(math.floor((value - phase) / period + 0.5), first), last)
    tooth = phase + k * period
    value = min(max(value, tooth - tolerance), tooth + tolerance)
    return min(max(value, low), high)


@hot
def settle_x(g: Ground, o: int, x: float, length: float) -> float:
    """The nearest x that option ``o`` allows in a strip of the given length; NaN if none."""
    p = g.option
    high = min(p[o, 1], length - p[o, 4])
    if high < p[o, 0] and high > p[o, 0] - g.touch:
        high = p[o, 0]
    return settle(x, p[o, 0], high, p[o, 5], p[o, 6], p[o, 7])


@hot
def settle_y(g: Ground, o: int, y: float) -> float:
    """The nearest y that option ``o`` allows; NaN if none."""
    p = g.option
    return settle(y, p[o, 2], p[o, 3], p[o, 8], p[o, 9], p[o, 10])
