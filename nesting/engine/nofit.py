"""No-fit polygons by convolution: where the centre of one shape may not lie about another's.

The boundary of the Minkowski sum A + (-B) is contained in the convolution of the two outlines: each
edge of one is paired with each vertex of the other whose turn contains the edge's direction (Guibas,
Ramshaw, Stolfi 1983; Wein 2006 for the reflex case). The paired edges close up into loops, and the
winding number of these loops at a point is the number of parts in which the shapes would overlap
there, so one union with positive winding is the no-fit polygon, with its holes.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from nesting.clipping import Fill, Join, Region, offset, union
from nesting.engine.symmetry import MATRICES, IntArray
from nesting.polygon import FloatArray, as_points, signed_area

ARC_SHARE = 0.001
"""Chord error of the arcs that a gap adds at corners, as a share of the gap."""

ARC_EXCESS = 2.3
"""Arcs are grown by so many chord errors: the clipper rounds the number of chords of an arc, at worst
from 1.5 down to 1, which takes 1.5 squared of the error."""


SLIVER = 0.3
"""Rings with less area than this times their length, in grid units, are slivers: a triangle one unit
wide has a quarter, a slot one unit wide (two pieces that fit exactly) a half."""


def nofit(still: IntArray, moving: IntArray, grid: float, *, gap: float = 0.0) -> Region:
    """The no-fit region of ``moving`` about ``still``: centre offsets (problem units) at which the
    two (N, 2) counter-clockwise integer rings overlap, or come nearer than ``gap``.

    Outer rings run counter-clockwise, holes clockwise. Rings must be simple (not checked).
    """
    region = union(convolution_loops(still, -moving), fill=Fill.POSITIVE, grid=1.0)
    if len(region) > 1:
        region = [ring for ring in region if _is_wide(ring)]
    scaled = [as_points(ring * grid) for ring in region]
    if gap <= 0.0:
        return scaled
    chord = gap * ARC_SHARE
    return offset(scaled, gap + ARC_EXCESS * chord, join=Join.ROUND, chord=chord, grid=grid)


def _is_wide(ring: FloatArray) -> bool:
    """Whether a ring is more than a sliver. The clipper rounds crossings to the grid, which can open
    triangles less than one unit wide deep inside a region: a search would take them for free places.
    """
    along = float(np.hypot(*(np.roll(ring, -1, axis=0) - ring).T).sum())
    return bool(abs(signed_area(ring)) > SLIVER * along)


def convolution_loops(a: IntArray, b: IntArray) -> list[FloatArray]:
    """The convolution of two counter-clockwise integer rings as closed loops of points."""
    nb = len(b)
    tails, heads = _convolution_edges(a, b)
    starts: dict[int, list[int]] = {}
    for tail, head in zip(tails.tolist(), heads.tolist(), strict=True):
        starts.setdefault(tail, []).append(head)
    loops = []
    while starts:
        first = node = next(iter(starts))
        loop = []
        while True:
            loop.append(node)
            following = starts[node]
            head = following.pop()
            if not following:
                del starts[node]
            node = head
            if node == first:
                break
        nodes = np.array(loop)
        loops.append((a[nodes // nb] + b[nodes % nb]).astype(float))
    return loops


def image(region: Region, element: int, *, flipped: bool = False) -> Region:
    """The region under a symmetry element, then point-reflected if ``flipped``; orientation kept."""
    m = MATRICES[element].T * (-1 if flipped else 1)
    if element >= 4:
        return [as_points((ring @ m)[::-1]) for ring in region]
    return [as_points(ring @ m) for ring in region]


def _convolution_edges(a: IntArray, b: IntArray) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Tails and heads of all paired edges; node (i, j) = i * len(b) + j stands for a[i] + b[j].

    Ties by one rule everywhere: directions of ``a`` come just before equal directions of ``b``.
    """
    na, nb = len(a), len(b)
    da, db = np.roll(a, -1, axis=0) - a, np.roll(b, -1, axis=0) - b
    turn = da[:, None, 0] * db[None, :, 1] - da[:, None, 1] * db[None, :, 0]
    before_b = np.roll(turn, 1, axis=1)  # a's edge i against b's edge j - 1
    before_a = np.roll(turn, 1, axis=0)  # a's edge i - 1 against b's edge j
    convex_a, convex_b = _convex(da)[:, None], _convex(db)[None, :]
    a_fore = convex_b & (before_b < 0) & (turn >= 0)
    a_back = ~convex_b & (turn < 0) & (before_b >= 0)
    b_fore = convex_a & (before_a >= 0) & (turn < 0)
    b_back = ~convex_a & (turn >= 0) & (before_a < 0)
    parts = []
    for mask, along_a, back in (
        (a_fore, True, False),
        (a_back, True, True),
        (b_fore, False, False),
        (b_back, False, True),
    ):
        i, j = np.nonzero(mask)
        tail = i * nb + j
        head = ((i + 1) % na) * nb + j if along_a else i * nb + (j + 1) % nb
        parts.append((head, tail) if back else (tail, head))
    return np.concatenate([p[0] for p in parts]), np.concatenate([p[1] for p in parts])


def _convex(edges: IntArray) -> NDArray[np.bool_]:
    incoming = np.roll(edges, 1, axis=0)
    return incoming[:, 0] * edges[:, 1] - incoming[:, 1] * edges[:, 0] > 0
