"""Lines and reflections in the plane: where two lines meet, how far a path strays from its chord."""

from __future__ import annotations

import math

import numpy as np

from nesting.polygon import FloatArray, as_points


def cross(u: FloatArray, v: FloatArray) -> FloatArray:
    """z of u x v for (..., 2) arrays; positive when v turns left from u."""
    product: FloatArray = np.asarray(u[..., 0] * v[..., 1] - u[..., 1] * v[..., 0], dtype=float)
    return product


def turn_of(u: FloatArray, v: FloatArray) -> float:
    """z of u x v for two (2,) vectors: ``cross`` without the cost of arrays."""
    return float(u[0]) * float(v[1]) - float(u[1]) * float(v[0])


def along_of(u: FloatArray, v: FloatArray) -> float:
    """u . v for two (2,) vectors."""
    return float(u[0]) * float(v[0]) + float(u[1]) * float(v[1])


def unit(v: FloatArray) -> FloatArray:
    """``v`` (2,) scaled to length 1. Raises ValueError for a vector without length."""
    length = math.hypot(v[0], v[1])
    if length == 0.0:
        raise ValueError("a direction needs two different points")
    scaled: FloatArray = v / length
    return scaled


def meet(p: FloatArray, u: FloatArray, q: FloatArray, v: FloatArray) -> tuple[float, float] | None:
    """(s, t) with p + s u = q + t v for the lines through p and q (all (2,)); None if parallel."""
    determinant = turn_of(u, v)
    if abs(determinant) <= 1e-12 * math.hypot(u[0], u[1]) * math.hypot(v[0], v[1]):
        return None
    gap = q - p
    return turn_of(gap, v) / determinant, turn_of(gap, u) / determinant


def mirrored_across(points: FloatArray, a: FloatArray, b: FloatArray) -> FloatArray:
    """``points`` (N, 2) reflected in the line through ``a`` and ``b`` ((2,) each)."""
    along = unit(b - a)
    offsets = points - a
    return as_points(a + 2.0 * np.outer(offsets @ along, along) - offsets)


def distance_left(points: FloatArray, a: FloatArray, b: FloatArray) -> FloatArray:
    """Signed distance (N,) of ``points`` (N, 2) from the line a -> b, mm; positive on its left."""
    return cross(np.broadcast_to(unit(b - a), points.shape), points - a)


def segment_distance(points: FloatArray, starts: FloatArray, ends: FloatArray) -> FloatArray:
    """(N, M) distances of ``points`` (N, 2) from the segments ``starts`` -> ``ends`` (M, 2), mm."""
    along = ends - starts
    squared = np.maximum(np.einsum("ij,ij->i", along, along), 1e-30)
    offsets = points[:, None, :] - starts[None, :, :]
    t = np.clip(np.einsum("nmk,mk->nm", offsets, along) / squared, 0.0, 1.0)
    gap = offsets - t[..., None] * along
    distances: FloatArray = np.hypot(gap[..., 0], gap[..., 1])
    return distances
