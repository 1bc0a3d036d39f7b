"""From the pour to the end of the soak: how acid it gets where, what is seen, and for how long.

The pour is played in several ways at once: as is thought likely, and with every doubtful number at
the end that makes the pour sourer, milder or slower.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from dosing.bath.assembled import Setting
from dosing.bath.inputs import RecipeInputs
from dosing.bath.jugs import fill_jugs, most_dissolved_g
from dosing.bath.mixed import colour_at
from dosing.bath.mixing import taken
from dosing.bath.open_tub import co2_per_second, foam_slows, temperature_after
from dosing.equilibrium import Equilibrium
from dosing.ingredients.powders import Blend, per_gram, powder
from dosing.ingredients.trade_values import typical
from dosing.plan.case import JUSTIFY, MIND
from dosing.plan.cautions import GIVEN, Caution
from dosing.plan.levels import LEVELS, gate_level, judged_bathers, rounded_outwards
from dosing.plan.pouring import gentlest_ph
from dosing.soak.dissolving import dissolving, has_grains, seconds_to_dissolve, usual_grain
from dosing.soak.moments import look_interval_s, span, told_and_worked
from dosing.soak.records import Course, LocalExtreme, Manner, PourAt, Ways
from dosing.soak.ways import BEST, ENDS, WAYS, courses_in, ends
from dosing.soak.zones import POUR_ZONE, REST, Portioned, leave_to_air, spread_powder
from indicator.accepted import reason
from indicator.appearance import SeenColour, delta_e
from indicator.colourants import Range
from indicator.notes import Note, Value
from indicator.tables import citation
from indicator.words import change_level

Array = NDArray[np.float64]

_AIR_GRID_C = np.linspace(0.0, 60.0, 25)


def follow(
    inputs: RecipeInputs,
    setting: Setting,
    totals_g: Sequence[float],
    manner: Manner,
    *,
    accept_ph: str | None = None,
    accept_pouring: str | None = None,
) -> Course:
    """Course of a pour of the activator, in portions or at once, to the end of the soak.

    Parameters
    ----------
    inputs : RecipeInputs
        The recipe in core units.
    setting : Setting
        Its tub as read, one and not a batch.
    totals_g : sequence of float
        Activator in the tub after each pour, rising [g].
    manner : Manner
        How it is poured, and how long to look.
    accept_ph, accept_pouring : str, optional
        The maker's written reasons for a pH and for a pour that need one.

    Returns
    -------
    Course
        Arrays of shape (times,).

    Raises
    ------
    ValueError
        If there is nothing to pour, or a reason has hardly a letter.
    """
    reasons = reason("accept_ph", accept_ph), reason("accept_pouring", accept_pouring)
    grams = np.diff(np.asarray(totals_g, dtype=np.float64), prepend=0.0)
    if not len(grams) or not np.all(grams > 0.0):
        raise ValueError(f"dose is {float(np.sum(grams)):g} g; accepted is a mass above 0 g")
    return _Played(inputs, setting, grams, manner).course(*reasons)


class _Played:
    """All ways of a pour, worked out."""

    def __init__(
        self, inputs: RecipeInputs, setting: Setting, grams: Array, manner: Manner
    ) -> None:
        self.inputs, self.setting, self.manner, self.grams = inputs, setting, manner, grams
        bath = setting.bath
        self.bathers = judged_bathers(inputs.wish.bathers)
        self.parts = Blend(inputs.activator.parts).parts
        self.grain = {
            name: manner.grain or usual_grain(name) for name in self.parts if has_grains(name)
        }
        self.poured_s: Array = look_interval_s(self.parts) * np.arange(float(len(grams)))
        self.times_s, self.moments_s = told_and_worked(manner.minutes, self.poured_s)
        self.courses = courses_in(float(bath.volume_l), manner)
        # The jugs of the largest portion serve for each.
        self.jugs = fill_jugs(self.parts, float(np.max(grams)), bath)
        self.spread = spread_powder(
            self.courses,
            [self._portioned(name) for name in self.parts],
            self.poured_s.tolist(),
            self.moments_s,
            float(bath.temperature_c),
        )
        self.temperature_c = temperature_after(
            self.moments_s,
            bath.temperature_c,
            taken("room_c").value,
            ends("loss", taken("surface_loss_w_m2_k"))[:, None],
            setting.depth_cm,
        )
        """Shape (ways, moments) [°C]."""
        self.air_ppm = ends("air", typical("room_air_co2"))
        self.gas_in_air = self._gas_in_air()
        self.totals = self._totals()
        carbon = np.array(
            np.broadcast_to(self.totals.get("C", np.zeros(())), (WAYS, 2, len(self.moments_s)))
        )
        self.left = leave_to_air(
            self.courses,
            carbon,
            lambda carbon: np.asarray(self._solved(carbon).molality["CO2"]),
            self.gas_in_air,
            self._leaving_per_second(),
            self.moments_s,
        )
        self.solved = self._solved(np.maximum(carbon - self.left.lost, 0.0))
        self.ph = np.asarray(self.solved.ph)
        self.all_in = bath.with_activator(float(np.sum(grams)), setting.per_gram)
        self.before, self.closed = bath.solve(), self.all_in.solve()
        self.acid = float(self.closed.ph) <= float(self.before.ph)

    def _portioned(self, name: str) -> Portioned:
        mass = self.parts[name] * np.broadcast_to(self.grams, (WAYS, len(self.grams)))
        if not has_grains(name):
            return Portioned(name, np.ones(WAYS), mass, np.zeros_like(mass))
        radius = 0.5 * ends("grain", taken("grain_um", self.grain[name]))
        dissolved = np.zeros_like(mass)
        if self.manner.poured == "jug":
            jug = typical("jug_l")
            jug_l = self.jugs.litres * ends("jug", jug) / jug.value
            most = [most_dissolved_g(name, litres, self.setting.bath) for litres in jug_l]
            dissolved = np.minimum(mass, np.array(most)[:, None])
        return Portioned(name, radius, dissolved, mass - dissolved)

    def _totals(self) -> dict[str, Array]:
        """Component totals of both zones with all carbon, shape (ways, zones, moments) [mol/kg]."""
        bath, courses = self.setting.bath, self.courses
        litres = np.stack([courses.zone_l, courses.rest_l], axis=1)
        water_kg = litres * float(bath.water_kg) / float(bath.volume_l)
        per_kg = self.spread.in_zone_g / water_kg[:, :, None, None]
        shape = (*litres.shape, len(self.moments_s))
        totals = {name: np.broadcast_to(value, shape) for name, value in bath.totals.items()}
        for place, name in enumerate(self.parts):
            for component, moles in per_gram(name).items():
                before = totals.get(component, np.zeros(shape))
                totals[component] = before + per_kg[:, :, place] * float(moles)
        return totals

    def _solved(self, carbon: Array) -> Equilibrium:
        warm = np.broadcast_to(self.temperature_c[:, None, :], carbon.shape)
        totals = {**self.totals, "C": carbon}
        return replace(self.setting.bath, totals=totals, temperature_c=warm).solve().equilibrium

    def _gas_in_air(self) -> Array:
        """Carbon dioxide at rest with the air, shape (ways, moments) [mol/kg]."""
        bath = self.setting.bath
        totals = {n: np.broadcast_to(v, _AIR_GRID_C.shape) for n, v in bath.totals.items()}
        warm = replace(bath, totals=totals, temperature_c=_AIR_GRID_C)
        at_rest = warm.at_rest().equilibrium.molality["CO2"]
        logarithm = np.interp(self.temperature_c, _AIR_GRID_C, np.log(at_rest))
        # Dissolved gas and air are in proportion.
        rooms = self.air_ppm / np.asarray(bath.air_co2_ppm)
        return np.asarray(np.exp(logarithm) * rooms[:, None])

    def _bathed_cm_h(self) -> Array:
        """Transfer velocity once it is stirred, with someone in it, shape (ways,) [cm/h]."""
        still, moved = (ends("transfer", taken("transfer_cm_h", way)) for way in ("still", "moved"))
        # A bather may lie as still as the water.
        lies_still = [end == "low" or self.bathers == "nobody" for end in ENDS["transfer"]]
        return np.where(lies_still, still, moved)

    def _leaving_per_second(self) -> Array:
        """Shape (ways, moments) [1/s]: moved while it is stirred and with someone in it."""
        way = "still" if self.manner.stir == "still" else "moved"
        stirred = ends("transfer", taken("transfer_cm_h", way))
        until = self.poured_s[-1] + self.courses.mixed_s
        stirring = self.moments_s < until[:, None]
        velocity = np.where(stirring, stirred[:, None], self._bathed_cm_h()[:, None])
        slowed = velocity * ends("foam", foam_slows(self.setting.bath))[:, None]
        return co2_per_second(slowed, self.temperature_c, self.setting.depth_cm)

    def course(self, accept_ph: str | None, accept_pouring: str | None) -> Course:
        """Course of the likely way, with the ends of all.

        Parameters
        ----------
        accept_ph, accept_pouring : str or None
            As in `follow`.

        Returns
        -------
        Course
            Arrays of shape (times,).
        """
        wish, extreme = self.inputs.wish, self._extreme()
        times_s = np.union1d(self.times_s, [extreme.at_s])
        shown = np.searchsorted(self.moments_s, times_s)
        seen_before = self.before.seen(self.setting.view)
        colours, colours_local = (
            self._colours(self.ph[BEST, zone, shown]) for zone in (REST, POUR_ZONE)
        )
        undissolved = np.sum(self.spread.grains_g, axis=1)
        unsteady = self._unsteady(undissolved)
        level = JUSTIFY if accept_ph and wish.purpose not in GIVEN else MIND
        beyond = gate_level(self.ph, self.bathers) > level
        waits = [self._after(way) for way in unsteady | np.any(beyond, axis=1)]
        return Course(
            manner=self.manner,
            grain=self.grain,
            acid=self.acid,
            pours=tuple(map(PourAt, self.poured_s.tolist(), self.grams.tolist())),
            jug_stirred_s=self._jug_stirred_s() if self.manner.poured == "jug" else None,
            times_s=times_s,
            ph=_ways(self.ph[:, REST, shown]),
            ph_local=self.ph[BEST, POUR_ZONE, shown],
            temperature_c=_ways(self.temperature_c[:, shown]),
            co2_share_left=_ways(self._gas_left()[:, shown]),
            undissolved_g=undissolved[BEST, shown],
            colours=colours,
            colours_local=colours_local,
            lowest_local=extreme,
            turned_local_s=self._turned_after(seen_before, POUR_ZONE),
            turned_after_s=self._turned_after(seen_before, REST),
            steady_after_s=self._after(unsteady[BEST]),
            wait_s=None if None in waits else max(wait for wait in waits if wait is not None),
            assumptions=self._assumptions(),
            warnings=self._warnings(float(undissolved[BEST, -1])),
            cautions=self._cautions(extreme, bool(np.any(beyond[:, REST, -1])), accept_pouring),
        )

    def _colours(self, ph: Array) -> SeenColour:
        bath = self.setting.bath
        return colour_at(bath.strengths, ph, self.setting.view, bath.surfactants_g_l).steady()

    def _gas_left(self) -> Array:
        """Share of the gas that can leave which is still there, shape (ways, moments)."""
        whole = float(self.all_in.totals.get("C", np.zeros(())))
        at_rest = float(self.all_in.at_rest().inorganic_carbon_mol_kg)
        # The rest of the tub starts without what the powder brings.
        with np.errstate(divide="ignore", invalid="ignore"):
            share = (whole - self.left.lost[:, REST] - at_rest) / (whole - at_rest)
        return np.where(np.isfinite(share), share, np.nan)

    def _extreme(self) -> LocalExtreme:
        local, side = self.ph[:, POUR_ZONE], 1.0 if self.acid else -1.0
        worst = side * np.min(side * local, axis=1)
        ph = Range(float(worst[BEST]), float(np.min(worst)), float(np.max(worst)))
        gate = beyond = beyond_long = None
        if self.bathers != "nobody":
            gate = gentlest_ph(self.bathers, MIND, acid=self.acid)
            spans = [_seconds_beyond(self.moments_s, side * (gate - ph)) for ph in local]
            beyond, beyond_long = spans[BEST], max(spans)
        level = np.max(gate_level(np.array([ph.low, ph.high]), self.bathers))
        at_s = float(self.moments_s[np.argmin(side * local[BEST])])
        return LocalExtreme(ph, at_s, LEVELS[int(level)], gate, beyond, beyond_long)

    def _unsteady(self, grains_g: Array) -> NDArray[np.bool_]:
        """Where the zones differ, or grains are left, shape (ways, moments)."""
        apart = np.abs(self.ph[:, POUR_ZONE] - self.ph[:, REST]) > typical("same_ph").value
        solid = grains_g > self._gone_g()
        return np.asarray(apart | solid | (self.moments_s <= self.poured_s[-1]))

    def _gone_g(self) -> float:
        """So few grains count as none [g]."""
        return taken("gone_share").value * float(np.sum(self.grams))

    def _after(self, waiting: NDArray[np.bool_]) -> float | None:
        """When something is over for good [s]; None if not within the time looked at."""
        last = int(np.flatnonzero(waiting)[-1]) + 1
        return float(self.moments_s[last]) if last < len(self.moments_s) else None

    def _turned_after(self, before: SeenColour, zone: int) -> float | None:
        whole = float(delta_e(before.lab, self.closed.seen(self.setting.view).lab))
        if str(change_level(whole)) == "not seen":
            return None
        change = delta_e(before.lab, self._colours(self.ph[BEST, zone]).lab)
        enough = np.flatnonzero(change >= typical("worthwhile_share_of_change").value * whole)
        return float(self.moments_s[enough[0]]) if len(enough) else None

    def _jug_stirred_s(self) -> float:
        """How long the jugs of the largest portion are stirred [s]."""
        warm, film = float(self.setting.bath.temperature_c), taken("film_um", "hand").value
        lasting = (
            seconds_to_dissolve(
                dissolving(name, warm),
                self.parts[name] * self.jugs.grams,
                self.jugs.litres,
                0.5 * taken("grain_um", grain).value,
                film,
            )
            for name, grain in self.grain.items()
        )
        return max(lasting, default=0.0)

    def _assumptions(self) -> tuple[Note, ...]:
        """On mixing, grains, gas, cooling and colour."""
        bath, mixed = self.setting.bath, taken("mixed_s", self.manner.stir)
        best, low, high = map(span, (mixed.value, *mixed.ends))
        times = {"best": best, "low": low, "high": high}
        room, end_c = taken("room_c").value, self.temperature_c[:, -1]
        cooling = "cooling" if self.temperature_c[BEST, 0] > room else "no-cooling"
        # At the first warmth of the tub.
        slowed = self._bathed_cm_h() * ends("foam", foam_slows(bath))
        gas_cm_h = 3600.0 * co2_per_second(slowed, bath.temperature_c, 1.0)
        who = "nobody" if self.bathers == "nobody" else "bather"
        return (
            Note("assume.time.zones", _range(self.courses.zone_l)),
            Note(f"assume.time.mixed-{self.manner.stir}", dict(times)),
            *(_grain_note(name, size) for name, size in self.grain.items()),
            Note(f"assume.time.gas-{who}", _range(gas_cm_h)),
            Note(
                f"assume.time.{cooling}",
                {**_range(end_c), "room": room, "end": float(end_c[BEST])},
            ),
            Note("assume.time.colour", {}),
        )

    def _cautions(
        self, extreme: LocalExtreme, stays_beyond: bool, reason: str | None
    ) -> tuple[Caution, ...]:
        """What a tub that stays beyond its gate, and the water near the pour, mean for bathers."""
        cautions, house = [], citation("house")
        if stays_beyond:
            lasting = {"time": span(float(self.moments_s[-1] - self.poured_s[-1]))}
            cautions.append(Caution("stop", "time-stays-beyond", house, "DESIGN", dict(lasting)))
        if extreme.level == "ok" or extreme.gate_ph is None:
            return tuple(cautions)
        worst = extreme.ph.low if self.acid else extreme.ph.high
        values: dict[str, Value] = {
            "ph": rounded_outwards(worst, down=self.acid),
            "gate": extreme.gate_ph,
            "time": span(extreme.seconds_below_gate_long or 0.0),
            "reason": reason or "",
        }
        poured, level = self.inputs.activator.poured, "mind"
        if poured == "beside":
            # How adults pour beside themselves is for them to justify, as in a plan.
            own = self.bathers == "adult" and extreme.level == "stop"
            level = "justify" if own else extreme.level
        code = f"time-{poured}-{'acid' if self.acid else 'alkaline'}"
        return (*cautions, Caution(level, code, house, "DESIGN", values))

    def _warnings(self, undissolved_g: float) -> tuple[Note, ...]:
        # Highest pressure that the dissolved gas has anywhere.
        gas = np.asarray(self.solved.molality["CO2"]) / self.gas_in_air[:, None, :]
        pressure_atm = float(np.max(gas * self.air_ppm[:, None, None])) * 1e-6
        troubles = {
            "warn.time.undissolved": undissolved_g > self._gone_g(),
            "warn.time.fizz": pressure_atm > taken("fizz_atm").value,
            "warn.time.strong": not np.all(self.solved.in_range),
            "warn.bath.not-converged": not (self.left.settled and np.all(self.solved.converged)),
        }
        left: dict[str, Value] = {"grams": undissolved_g, "minutes": self.manner.minutes}
        return tuple(Note(code, left) for code, holds in troubles.items() if holds)


def _grain_note(name: str, grain: str) -> Note:
    size = taken("grain_um", grain)
    sizes_mm = _range(np.array([size.value, *size.ends]) / 1000.0)
    return Note("assume.time.grain", {"powder": powder(name).label, **sizes_mm}, "activator.parts")


def _range(ways: Array) -> dict[str, Value]:
    """The likely way and the ends of all."""
    return {"best": float(ways[BEST]), "low": float(ways.min()), "high": float(ways.max())}


def _ways(played: Array) -> Ways:
    """The likely way and the ends of all, from shape (ways, times)."""
    return Ways(np.min(played, axis=0), played[BEST], np.max(played, axis=0))


def _seconds_beyond(moments_s: Array, beyond: Array) -> float:
    """How long a quantity is above zero, straight lines between the moments [s]."""
    first, last = beyond[:-1], beyond[1:]
    both, neither = (first > 0) & (last > 0), (first <= 0) & (last <= 0)
    with np.errstate(divide="ignore", invalid="ignore"):
        crossing = np.maximum(first, last) / np.abs(last - first)
    share = np.where(both, 1.0, np.where(neither, 0.0, crossing))
    return float(np.sum(share * np.diff(moments_s)))
