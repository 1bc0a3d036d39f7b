"""Photons counted one by one in cloudy water over a matt floor, under a smooth surface of water.

Diffuse light falls on the surface from above (Fresnel, n = 1.333), scatters alike in all
directions, is taken up along its way, and is turned back by the floor as by a matt one. Nothing
of Kubelka and Munk is in it; only what their S stands for (3/4 of isotropic scattering).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]

INDEX = 1.333
MIRRORED = 0.020
"""Of the surface at right angles, which the eye looks into."""
FAINT = 0.02
"""Weight below which four photons of five are given up and the fifth counts five times."""


def fresnel(cosine: Array, index_from: float, index_to: float) -> Array:
    """Share of unpolarised light that a smooth surface turns back; 1 beyond the critical angle."""
    sine2 = (index_from / index_to) ** 2 * (1.0 - cosine**2)
    beyond = np.sqrt(np.clip(1.0 - sine2, 0.0, 1.0))
    across = (index_from * cosine - index_to * beyond) / (index_from * cosine + index_to * beyond)
    along = (index_from * beyond - index_to * cosine) / (index_from * beyond + index_to * cosine)
    return np.where(sine2 >= 1.0, 1.0, 0.5 * (across**2 + along**2))


def reflectance(
    scattering_per_cm: float,
    depth_cm: float,
    absorbance_per_cm: ArrayLike,
    floor: ArrayLike,
    photons: int,
    seed: int = 0,
) -> Array:
    """Share of light that comes back, for several absorbances and floors at once.

    Parameters
    ----------
    scattering_per_cm : float
        Kubelka-Munk S [1/cm].
    depth_cm : float
        Depth [cm].
    absorbance_per_cm, floor : array_like
        Decadic absorbance [1/cm] and share turned back by the floor, shape (cases,).
    photons : int
        How many; the same ways serve all cases.
    seed : int
        Of the draw.

    Returns
    -------
    numpy.ndarray
        Shape (cases,).
    """
    random = np.random.default_rng(seed)
    absorption = np.log(10.0) * np.asarray(absorbance_per_cm, dtype=np.float64)
    turned_back = np.asarray(floor, dtype=np.float64)
    mean_way = np.inf if scattering_per_cm == 0 else 0.75 / scattering_per_cm
    outside = np.sqrt(random.random(photons))
    down = np.sqrt(1.0 - (1.0 - outside**2) / INDEX**2)
    weight = np.repeat((1.0 - fresnel(outside, 1.0, INDEX))[:, None], len(absorption), axis=1)
    depth, seen = np.zeros(photons), np.zeros(len(absorption))
    while len(depth):
        to_event = mean_way * random.exponential(size=len(depth))
        to_border = np.where(down > 0, depth_cm - depth, -depth) / down
        weight *= np.exp(-absorption * np.minimum(to_event, to_border)[:, None])
        depth = depth + down * np.minimum(to_event, to_border)
        at_border = to_event >= to_border
        at_floor, at_surface = at_border & (down > 0), at_border & (down < 0)
        back = fresnel(np.abs(down[at_surface]), INDEX, 1.0)[:, None]
        seen += ((1.0 - back) * weight[at_surface]).sum(axis=0)
        weight[at_surface] *= back
        weight[at_floor] *= turned_back
        depth[at_floor], depth[at_surface] = depth_cm, 0.0
        anywhere = 2.0 * random.random(len(depth)) - 1.0
        matt = -np.sqrt(random.random(len(depth)))
        down = np.where(at_floor, matt, np.where(at_surface, -down, anywhere))
        faint = weight.max(axis=1) < FAINT
        kept = ~faint | (random.random(len(depth)) < 0.2)
        weight[faint] *= 5.0
        kept &= weight.max(axis=1) > 0.0
        depth, down, weight = depth[kept], down[kept], weight[kept]
    return MIRRORED + seen / photons
