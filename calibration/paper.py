"""Paper does not lie flat: the part of the corners' error that neighbours on one sheet share.

Corners of a sheet miss their place by noise of their own and by waves seen from the side, which move
neighbours alike and do not average out over them. Both sizes are read off the residuals of all sheets
together: the likelihood of what is left once each sheet has been moved and bent evenly (restricted
likelihood; Patterson and Thompson, Recovery of inter-block information when block sizes are unequal,
1971), averaged over the ratio of the two. Boards that are flat are found to be flat.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from calibration.homography import Array

REACH_SHARE = 0.1
"""How far along a sheet its height stays alike, as a share of the longer side between its corners. A wave
of length w curves at its crest as this correlation does for w / 2 pi: paper with one or two waves."""

RATIOS = (0.0, *(0.02 * 2.0**k for k in range(14)))
"""Variance of the waves over that of the noise, as tried."""

FLAT = 0.5
"""Belief before anything is seen that a sheet is flat as far as the corners can tell."""

LEAST_NOISE_PX = 0.01
"""A smaller scatter is luck."""

WRONG = 4.0
"""Standard errors to which a single corner's miss is cut: a few wrong ones must not look like waves."""


@dataclass(frozen=True, slots=True)
class Paper:
    """Standard errors of a corner coordinate on a sheet, px: its own, and what neighbours share."""

    noise_px: float
    wave_px: float


def read_paper(sheets: Sequence[tuple[Array, Array]]) -> Paper:
    """What residuals tell: each sheet is its corners' ``places`` (N, 2) and ``misses`` (N, 2) px."""
    squares, shares = [], []
    for places, misses in sheets:
        x, y = ((places - places.mean(axis=0)) / np.ptp(places, axis=0)).T
        even = np.stack([np.ones_like(x), x, y, x * x, x * y, y * y], axis=1)
        rest = np.linalg.qr(even, mode="complete").Q[:, 6:]
        left = rest @ (rest.T @ misses)
        size = np.linalg.norm(left, axis=1)
        middling = float(np.median(size)) / math.sqrt(2 * math.log(2))
        cut = np.minimum(1, WRONG * middling / np.maximum(size, 1e-12))
        values, vectors = np.linalg.eigh(rest.T @ alike(places) @ rest)
        parts = (rest @ vectors).T @ (left * cut[:, None])
        squares.append(np.sum(parts**2, axis=1))
        shares.append(np.maximum(values, 0))
    square, share = np.concatenate(squares), np.concatenate(shares)
    scales = [1 + ratio * share for ratio in RATIOS]
    noises = np.array([np.mean(square / s) / 2 for s in scales])
    noises = np.maximum(noises, LEAST_NOISE_PX**2)
    likely = np.array(
        [
            -np.sum(np.log(noise * s)) - np.sum(square / s) / (2 * noise)
            for noise, s in zip(noises, scales, strict=True)
        ]
    )
    belief = np.where(np.array(RATIOS) == 0, FLAT, (1 - FLAT) / (len(RATIOS) - 1))
    weight = belief * np.exp(likely - likely.max())
    weight /= weight.sum()
    return Paper(
        math.sqrt(float(weight @ noises)), math.sqrt(float(weight @ (noises * np.array(RATIOS))))
    )


def alike(places: Array) -> Array:
    """Correlation (N, N) of the waves at corners of one sheet, ``places`` (N, 2) mm on it."""
    reach = REACH_SHARE * float(np.max(np.ptp(places, axis=0)))
    apart = np.sum((places[:, None] - places[None]) ** 2, axis=2)
    return np.asarray(np.exp(-apart / (2 * reach * reach)))


def whitener(places: Array, paper: Paper) -> Array:
    """Matrix (N, N) that turns misses (N, 2) px into independent ones of standard error 1.

    The symmetric root, so that each number stays with its corner.
    """
    values, vectors = np.linalg.eigh(alike(places))
    scale = paper.noise_px**2 + paper.wave_px**2 * np.maximum(values, 0)
    return np.asarray((vectors / np.sqrt(scale)) @ vectors.T)
