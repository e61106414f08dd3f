"""How much of a line an outline covers: section lengths, piece by piece linear across the outline."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final

import numpy as np

from nesting.clipping import Join, Region, offset
from nesting.polygon import FloatArray, as_points, signed_area

DRAWN_IN: Final = 5e-6
"""Outlines are drawn in by this share of the width where a bound asks who has room beside whom: more
than a legal layout may hide (``legal.SLACK_PER_WIDTH``)."""


def drawn_in(outline: FloatArray, width: float) -> Region:
    """An outline (N, 2) drawn in by ``DRAWN_IN`` of the width; nothing, if it is as thin as that."""
    return offset([outline], -DRAWN_IN * width, join=Join.MITRE, grid=width * 1e-8)


def upright(outline: FloatArray) -> FloatArray:
    """Edges (E, 5) of an outline (N, 2) that are not level: x, y of the lower end, x, y of the upper end,
    and 1.0 where the inside lies to the left (the edge runs up in a counter-clockwise ring), else -1."""
    ring = outline if signed_area(outline) > 0 else outline[::-1]
    return _edges_of(ring)


def chords(edges: FloatArray, t: FloatArray, *, from_below: bool) -> FloatArray:
    """Length of the outline's cut at levels ``t`` (any shape; the result has it): the limit from just
    below, or from just above."""
    flat = t.ravel()[:, None]
    low, high = edges[None, :, 1], edges[None, :, 3]
    cut = (low < flat) & (flat <= high) if from_below else (low <= flat) & (flat < high)
    x = edges[None, :, 0] + (flat - low) / (high - low) * (edges[None, :, 2] - edges[None, :, 0])
    length = np.where(cut, x * edges[None, :, 4], 0.0).sum(axis=1)
    found: FloatArray = np.maximum(length, 0.0).reshape(t.shape)
    return found


def spans(rings: Iterable[FloatArray], *, across: bool) -> FloatArray:
    """The sections of a region: rows (extent, length at its start, length at its end) in order, the
    length linear between. Rings (N, 2) with the inside on their left, so that holes are taken off.

    ``across``: sections by lines across the strip (x constant), in the order of x; else by lines along
    it, in the order of y.
    """
    turned = [as_points(r[::-1, ::-1]) if across else r for r in rings]
    edges = np.concatenate([np.zeros((0, 5)), *(_edges_of(r) for r in turned)])
    if not len(edges):
        return np.zeros((0, 3))
    levels = np.unique(np.concatenate([edges[:, 1], edges[:, 3]]))
    starts = chords(edges, levels[:-1], from_below=False)
    ends = chords(edges, levels[1:], from_below=True)
    return np.column_stack([np.diff(levels), starts, ends])


def above(rows: FloatArray, thresholds: FloatArray) -> tuple[FloatArray, FloatArray]:
    """For each threshold (T,) the extent over which sections are longer, and the area they have there.

    ``rows`` as from ``spans``.
    """
    extent = rows[:, 0][:, None]
    low = rows[:, 1:].min(axis=1, initial=np.inf)[:, None]
    high = rows[:, 1:].max(axis=1, initial=-np.inf)[:, None]
    t = thresholds[None, :]
    slope = np.where(high > low, high - low, 1.0)
    share = np.where(high > low, np.clip((high - t) / slope, 0.0, 1.0), (high > t).astype(float))
    middle = (high + np.maximum(np.minimum(t, high), low)) / 2
    return (extent * share).sum(axis=0), (extent * share * middle).sum(axis=0)


def longest_run(rows: FloatArray, threshold: float) -> float:
    """The longest stretch throughout which sections are longer than the threshold."""
    best = run = 0.0
    for extent, a, b in rows.tolist():
        if a > threshold and b > threshold:
            run += extent
        elif a > threshold:
            best = max(best, run + extent * (a - threshold) / (a - b))
            run = 0.0
        elif b > threshold:
            best = max(best, run)
            run = extent * (b - threshold) / (b - a)
        else:
            best, run = max(best, run), 0.0
    return max(best, run)


def _edges_of(ring: FloatArray) -> FloatArray:
    a, b = ring, np.roll(ring, -1, axis=0)
    up = b[:, 1] > a[:, 1]
    keep = b[:, 1] != a[:, 1]
    low = np.where(up[:, None], a, b)
    high = np.where(up[:, None], b, a)
    return np.ascontiguousarray(np.column_stack([low, high, np.where(up, 1.0, -1.0)])[keep])
