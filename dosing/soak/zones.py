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
    def exchange_l_s(self) -> Array:
        """Water that the zones exchange [L/s].

        A pour stands in its zone at tub over zone times the mean; the difference dies away with
        one time constant, which the time until mixed gives.
        """
        first = self.tub_l / self.zone_l - 1.0
        constant_s = self.mixed_s / np.log(np.maximum(first / MIXED_WITHIN, np.e))
        return self.zone_l * self.rest_l / self.tub_l / constant_s


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

    pouring = _Pouring(courses, powders, np.asarray(poured_s), temperature_c)
    edges = pouring.edges(float(moments_s[-1]))
    state = pouring.start()
    states = np.empty((len(state), len(moments_s)))
    states[:, 0] = state
    for begin, end in pairwise(edges):
        inside = (moments_s > begin) & (moments_s <= end)
        done = solve_ivp(
            pouring.rates_during(0.5 * (begin + end)),
            (begin, end),
            state,
            method="RK45",
            t_eval=np.union1d(moments_s[inside], [end]),
            rtol=_RELATIVE,
            atol=_ABSOLUTE,
        )
        states[:, inside] = done.y[:, : np.count_nonzero(inside)]
        state = done.y[:, -1]
    return pouring.spread(states, moments_s)


class _Pouring:
    """The state of `spread_powder`: surfaces of the grains, and powder in the zone of the pour."""

    def __init__(
        self,
        courses: Courses,
        powders: Sequence[Portioned],
        poured_s: Array,
        temperature_c: float,
    ) -> None:
        self.courses = courses
        self.poured_s = poured_s
        known = [
            dissolving(poured.name, temperature_c) if has_grains(poured.name) else _NO_GRAINS
            for poured in powders
        ]
        self.dissolving = Dissolving(*np.array([list(astuple(row)) for row in known]).T)
        self.radius_um = np.stack([poured.radius_um for poured in powders], axis=-1)
        self.dissolved_g = np.stack([poured.dissolved_g for poured in powders], axis=-1)
        self.grains_g = np.stack([poured.grains_g for poured in powders], axis=-1)
        self.shape = self.grains_g.shape
        self.surfaces = int(np.prod(self.shape))

    def start(self) -> Array:
        ways, _, powders = self.shape
        return np.concatenate([np.ones(self.surfaces), np.zeros(ways * powders)])

    def edges(self, end: float) -> list[float]:
        """Moments at which a pour begins or ends: the rates jump there."""
        ends = (self.poured_s[None, :] + self.courses.pour_s[:, None]).ravel()
        within = {float(t) for t in (*self.poured_s, *ends) if 0.0 < t < end}
        return [0.0, *sorted(within), end]

    def running(self, moment: float) -> Array:
        """Share of each pour that runs in per second, shape (ways, pours) [1/s]."""
        begin, length = self.poured_s[None, :], self.courses.pour_s[:, None]
        return np.where((moment >= begin) & (moment < begin + length), 1.0 / length, 0.0)

    def rates_during(self, moment: float) -> Callable[[float, Array], Array]:
        """The rates of change between two edges."""
        courses, (ways, _, powders) = self.courses, self.shape
        inflow = np.einsum("wp,wpj->wj", self.running(moment), self.dissolved_g)
        present = (self.poured_s <= moment)[None, :, None] & (self.grains_g > 0.0)
        flow = courses.exchange_l_s[:, None]
        zone, rest = courses.zone_l[:, None], courses.rest_l[:, None]

        def rates(time: float, state: Array) -> Array:
            surface = state[: self.surfaces].reshape(self.shape)
            in_zone = state[self.surfaces :].reshape(ways, powders)
            total = self.in_water(surface, time)
            shrinking = np.where(present, self._shrinking(surface, in_zone), 0.0)
            left = np.sqrt(np.maximum(surface, 0.0))
            dissolving = np.sum(-1.5 * self.grains_g * left * shrinking, axis=1)
            out = flow * (in_zone / zone - (total - in_zone) / rest)
            return np.concatenate([shrinking.ravel(), (inflow + dissolving - out).ravel()])

        return rates

    def _shrinking(self, surface: Array, in_zone: Array) -> Array:
        """Rate of every surface [1/s]."""
        around = in_zone / self.courses.zone_l[:, None] / 1000.0
        film_um = self.courses.film_um[:, None, None]
        radius_um = self.radius_um[:, None, :]
        return surface_rate(surface, around[:, None, :], self.dissolving, radius_um, film_um)

    def in_water(self, surface: Array, time: float) -> Array:
        """All that is dissolved by then, shape (ways, powders) [g].

        Parameters
        ----------
        surface : numpy.ndarray
            Left of each grain, 1 to 0, shape (ways, pours, powders).
        time : float
            Since the first pour [s].

        Returns
        -------
        numpy.ndarray
            Shape (ways, powders) [g].
        """
        gone = self.grains_g * (1.0 - np.maximum(surface, 0.0) ** 1.5)
        since = (time - self.poured_s[None, :]) / self.courses.pour_s[:, None]
        run_in = np.clip(since, 0.0, 1.0)[..., None] * self.dissolved_g
        return np.asarray(np.sum(gone + run_in, axis=1))

    def spread(self, states: Array, moments_s: Array) -> PowderInZones:
        """The amounts at the moments.

        Parameters
        ----------
        states : numpy.ndarray
            Surfaces and powder in the zone, shape (state, moments).
        moments_s : numpy.ndarray
            Shape (moments,) [s].

        Returns
        -------
        PowderInZones
            Dissolved and undissolved powder [g].
        """
        ways, _, powders = self.shape
        surface = states[: self.surfaces].reshape(*self.shape, -1)
        in_zone = states[self.surfaces :].reshape(ways, powders, -1)
        total = np.stack(
            [self.in_water(surface[..., k], float(t)) for k, t in enumerate(moments_s)], axis=-1
        )
        poured = (self.poured_s[:, None] <= moments_s)[None, :, None, :]
        grains = self.grains_g[..., None] * np.maximum(surface, 0.0) ** 1.5 * poured
        in_zone = np.clip(in_zone, 0.0, total)
        return PowderInZones(np.stack([in_zone, total - in_zone], axis=1), np.sum(grains, axis=1))


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
