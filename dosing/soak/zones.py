"""A pour on its way through a tub: a zone where it was poured, and the rest, that mix.

Two zones, each well mixed, exchange water. Powder enters the first, as a solution that runs in or
as grains that dissolve there, and carbon dioxide leaves both through the surface. Substance moves
without regard to chemistry; the pH of every moment is then that of an equilibrium.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Callable, Sequence
from dataclasses import astuple, dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from dosing.soak.dissolving import Dissolving, dissolving, has_grains, surface_rate

Array = NDArray[np.float64]

POUR_ZONE, REST = 0, 1
"""The two zones."""
MIXED_WITHIN = 0.05
"""Difference of the zones, over the tub's mean, that counts as mixed."""
_RELATIVE, _ABSOLUTE = 1e-8, 1e-10
_LONGEST_STEP_S, _FEWEST_STEPS = 120.0, 200
_ROUNDS = 40
_SETTLED_SHARE = 1e-6
_NEARBY = 1e-4
"""Share of the carbon over which the slope of the gas is taken."""

_NO_GRAINS = Dissolving(saturated_g_ml=0.0, diffusion_m2_s=0.0, density_g_ml=1.0)


@dataclass(frozen=True)
class Courses:
    """Ways in which a pour may go; every array has the shape (ways,)."""

    tub_l: float
    """Water in the tub [L]."""
    zone_l: Array
    """Water that the pour first spreads through [L]."""
    mixed_s: Array
    """Time until that zone is within `MIXED_WITHIN` of the tub [s]."""
    film_um: Array
    """Water that clings to a grain [µm]."""
    pour_s: Array
    """How long a pour runs [s]."""

    @property
    def rest_l(self) -> Array:
        """The other zone [L]."""
        return self.tub_l - self.zone_l

    @property
    def constant_s(self) -> Array:
        """Time in which the difference of the zones falls to 1/e [s].

        A pour stands in its zone at tub over zone times the mean; the difference dies away with
        one time constant, which the time until mixed gives.
        """
        first = self.tub_l / self.zone_l - 1.0
        return np.asarray(self.mixed_s / np.log(np.maximum(first / MIXED_WITHIN, np.e)))

    @property
    def exchange_l_s(self) -> Array:
        """Water that the zones exchange [L/s]."""
        return self.zone_l * self.rest_l / self.tub_l / self.constant_s


@dataclass(frozen=True)
class Portioned:
    """A powder that is poured in portions."""

    name: str
    radius_um: Array
    """Of its grains at first, shape (ways,) [µm]."""
    dissolved_g: Array
    """What is poured in as a solution, shape (ways, pours) [g]."""
    grains_g: Array
    """What is poured in as grains, shape (ways, pours) [g]."""


@dataclass(frozen=True)
class PowderInZones:
    """Where the powder is at each moment."""

    in_zone_g: Array
    """Dissolved powder, shape (ways, zones, powders, moments) [g]."""
    grains_g: Array
    """Powder that is not dissolved, shape (ways, powders, moments) [g]."""


def spread_powder(
    courses: Courses,
    powders: Sequence[Portioned],
    poured_s: Sequence[float],
    moments_s: Array,
    temperature_c: float,
) -> PowderInZones:
    """Dissolve and mix what is poured.

    Parameters
    ----------
    courses : Courses
        Ways in which it may go.
    powders : sequence of Portioned
        What is poured.
    poured_s : sequence of float
        When each portion is poured, rising, from 0 [s].
    moments_s : numpy.ndarray
        When to look, rising, the first at 0 [s].
    temperature_c : float
        Of the water [°C].

    Returns
    -------
    PowderInZones
        The amounts of every moment add up to what was poured until then.
    """
    from scipy.integrate import solve_ivp

    radius_um, dissolved_g, grains_g = (
        np.stack([getattr(poured, name) for poured in powders], axis=-1)
        for name in ("radius_um", "dissolved_g", "grains_g")
    )
    rates = _rates(courses, powders, radius_um, grains_g, temperature_c)
    begins = np.asarray(poured_s, dtype=np.float64)
    ends = begins + courses.pour_s[:, None]
    # The rates jump where a pour begins or ends.
    last = float(moments_s[-1])
    edges = np.unique(np.clip([0.0, last, *begins, *ends.ravel()], 0.0, last))
    zones = (2, *radius_um.shape)
    state = np.concatenate([np.ones(grains_g.size), np.zeros(int(np.prod(zones)))])
    states = np.repeat(state[:, None], len(moments_s), axis=1)
    for begin, end in pairwise(edges):
        middle = 0.5 * (begin + end)
        running = np.where((begins <= middle) & (middle < ends), 1.0 / courses.pour_s[:, None], 0.0)
        inflow = np.einsum("wp,wpj->wj", running, dissolved_g)
        inside = (moments_s > begin) & (moments_s <= end)
        done = solve_ivp(
            rates,
            (begin, end),
            state,
            method="RK45",
            t_eval=np.union1d(moments_s[inside], [end]),
            args=(inflow, (begins <= middle)[None, :, None]),
            rtol=_RELATIVE,
            atol=_ABSOLUTE,
        )
        states[:, inside] = done.y[:, : np.count_nonzero(inside)]
        state = done.y[:, -1]
    surface, in_zone = np.split(np.maximum(states, 0.0), [grains_g.size])
    left = grains_g[..., None] * surface.reshape(*grains_g.shape, -1) ** 1.5
    present = (begins[:, None] <= moments_s)[None, :, None]
    return PowderInZones(
        np.swapaxes(in_zone.reshape(*zones, -1), 0, 1), np.sum(left * present, axis=1)
    )


def _rates(
    courses: Courses,
    powders: Sequence[Portioned],
    radius_um: Array,
    grains_g: Array,
    temperature_c: float,
) -> Callable[..., Array]:
    """Rates of the surfaces of the grains, and of the powder dissolved in both zones."""
    known = [
        dissolving(poured.name, temperature_c) if has_grains(poured.name) else _NO_GRAINS
        for poured in powders
    ]
    constants = Dissolving(*np.array([astuple(row) for row in known]).T)
    litres = np.stack([courses.zone_l, courses.rest_l])[..., None]

    def rates(_time: float, state: Array, inflow: Array, present: Array) -> Array:
        surface, in_zone = np.split(state, [grains_g.size])
        surface = surface.reshape(grains_g.shape)
        here, there = in_zone.reshape(2, *radius_um.shape) / litres
        film_um = courses.film_um[:, None, None]
        around = here[:, None] / 1000.0
        shrinking = present * surface_rate(surface, around, constants, radius_um[:, None], film_um)
        left = np.sqrt(np.maximum(surface, 0.0))
        freed = np.sum(-1.5 * grains_g * left * shrinking, axis=1)
        out = courses.exchange_l_s[:, None] * (here - there)
        return np.concatenate([shrinking.ravel(), (inflow + freed - out).ravel(), out.ravel()])

    return rates


@dataclass(frozen=True)
class Carbon:
    """Inorganic carbon of the zones; arrays have the shape (ways, zones, moments)."""

    lost: Array
    """What has left to the air, negative if taken up [mol/kg water]."""
    settled: bool
    """Whether gas and chemistry agree with each other."""


def leave_to_air(
    courses: Courses,
    carbon: Array,
    dissolved_gas: Callable[[Array], Array],
    in_air: Array,
    per_second: Array,
    moments_s: Array,
) -> Carbon:
    """Let carbon dioxide leave both zones through the surface, in first order.

    How much of the carbon is gas hangs on the pH, and the pH on the gas that has left: the gas is
    taken as a straight line in the carbon around the course before, and the course worked out anew
    until two agree (Newton's method on whole courses).

    Parameters
    ----------
    courses : Courses
        As in `spread_powder`.
    carbon : numpy.ndarray
        All inorganic carbon if none left, shape (ways, zones, moments) [mol/kg].
    dissolved_gas : callable
        From carbon, in that shape, to dissolved carbon dioxide.
    in_air : numpy.ndarray
        Carbon dioxide at rest with the air, shape (ways, moments) [mol/kg].
    per_second : numpy.ndarray
        Share of what is beyond it that leaves, shape (ways, moments) [1/s].
    moments_s : numpy.ndarray
        [s].

    Returns
    -------
    Carbon
        What has left, shape (ways, zones, moments) [mol/kg].
    """
    lost = np.zeros_like(carbon)
    settled = False
    for _ in range(_ROUNDS):
        left = np.maximum(carbon - lost, 0.0)
        gas = dissolved_gas(left)
        nearby = left * (1.0 - _NEARBY)
        slope = np.clip((gas - dissolved_gas(nearby)) / np.maximum(left - nearby, 1e-30), 0.0, 1.0)
        # Gas that there would be without any loss, on the straight line.
        unspent = gas + slope * (carbon - left)
        before, lost = lost, _lost(courses, unspent, slope, in_air, per_second, moments_s)
        lost = np.minimum(lost, carbon)
        settled = bool(np.max(np.abs(lost - before)) <= _SETTLED_SHARE * np.max(carbon))
        if settled:
            break
    return Carbon(lost, settled)


def _lost(
    courses: Courses,
    unspent: Array,
    slope: Array,
    in_air: Array,
    per_second: Array,
    moments_s: Array,
) -> Array:
    """Carbon that has left, with gas = unspent - slope * lost."""
    from scipy.integrate import solve_ivp

    shape = unspent.shape
    volumes = np.stack([courses.zone_l, courses.rest_l], axis=1)
    flow = courses.exchange_l_s[:, None]
    rate = np.broadcast_to(per_second[:, None, :], shape)
    marks = moments_s.tolist()
    table = np.stack([(unspent - in_air[:, None, :]) * rate, slope * rate])

    def rates(time: float, state: Array) -> Array:
        place = min(max(bisect_left(marks, time) - 1, 0), len(marks) - 2)
        begin, end = marks[place], marks[place + 1]
        weight = (time - begin) / (end - begin)
        gain, decay = (1.0 - weight) * table[..., place] + weight * table[..., place + 1]
        lost = state.reshape(shape[:2])
        mixed = flow * (lost[:, ::-1] - lost) / volumes
        return np.asarray(gain - decay * lost + mixed).ravel()

    done = solve_ivp(
        rates,
        (float(moments_s[0]), float(moments_s[-1])),
        np.zeros(shape[0] * shape[1]),
        method="LSODA",
        t_eval=moments_s,
        rtol=_RELATIVE,
        atol=_ABSOLUTE * max(float(np.max(unspent)), 1e-6),
        max_step=max(_LONGEST_STEP_S, marks[-1] / _FEWEST_STEPS),
    )
    return np.asarray(done.y.reshape(shape))
