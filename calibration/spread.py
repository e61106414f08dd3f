"""From the uncertainty of fitted numbers to an honest error in mm over the lit table."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from calibration.homography import Array

DRAWS = 400
"""Draws from the posterior: a high quantile of 400 is good to about a fifteenth of itself."""

SEED = 20261125
"""Fixed, so that the same readings always give the same figures."""


@dataclass(frozen=True, slots=True, eq=False)
class Spread:
    """Stated error on the table after the best rigid fit, mm: see :func:`spread_of`.

    ``place_mm`` (N,) is the same quantile at each place.
    """

    rms_mm: float
    p95_mm: float
    max_mm: float
    place_mm: Array


def spread_of(
    effects: Array, covariance: Array, places: Array, *, cover: float, free_scale: bool = False
) -> Spread:
    """What errors of the parameters do to ``places`` (N, 2) on the table.

    ``effects`` (N, 2, P): derivative of each place by each parameter; ``covariance`` (P, P) of the
    parameters. The shift and turn common to all places is taken off first: a picture that lies
    elsewhere on the table cuts the same piece; with ``free_scale`` their common scale too, which is
    what stays when a long distance ties it. Each figure (rms, 95th percentile, greatest over the
    places) is the quantile ``cover`` (0 to 1) of its distribution over draws.
    """
    n = len(places)
    by_parameter = remove_rigid(effects, places, scale=free_scale).reshape(2 * n, -1)
    values, vectors = np.linalg.eigh(covariance)
    root = vectors * np.sqrt(np.maximum(values, 0))
    normal = np.random.default_rng(SEED).standard_normal((covariance.shape[0], DRAWS))
    drawn = (by_parameter @ (root @ normal)).reshape(n, 2, DRAWS)
    size = np.sqrt(np.sum(drawn**2, axis=1))
    return Spread(
        rms_mm=float(np.quantile(np.sqrt(np.mean(size**2, axis=0)), cover)),
        p95_mm=float(np.quantile(np.quantile(size, 0.95, axis=0), cover)),
        max_mm=float(np.quantile(np.max(size, axis=0), cover)),
        place_mm=np.asarray(np.quantile(size, cover, axis=1), dtype=np.float64),
    )


def remove_rigid(effects: Array, places: Array, *, scale: bool = False) -> Array:
    """``effects`` (N, 2, P) without what a common shift and small turn of ``places`` explains, nor,
    with ``scale``, a common growth."""
    n = len(places)
    centred = places - places.mean(axis=0)
    modes = np.zeros((n, 2, 4))
    modes[:, 0, 0] = 1
    modes[:, 1, 1] = 1
    modes[:, 0, 2] = -centred[:, 1]
    modes[:, 1, 2] = centred[:, 0]
    modes[:, :, 3] = centred
    basis, _ = np.linalg.qr(modes[:, :, : 4 if scale else 3].reshape(2 * n, -1))
    flat = effects.reshape(2 * n, -1)
    kept: Array = (flat - basis @ (basis.T @ flat)).reshape(effects.shape)
    return kept
