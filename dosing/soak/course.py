"""From the pour to the end of the soak: how acid it gets where, what is seen, and for how long.

The pour is played in several ways at once: as is thought likely, and with every doubtful number at
the end that makes the pour sourer, milder or slower.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from dosing.bath.assembled import Setting, assemble
from dosing.bath.chalk import chalk_of
from dosing.bath.inputs import RecipeInputs
from dosing.bath.jugs import fill_jugs, most_dissolved_g
from dosing.bath.mixed import colour_at
from dosing.bath.mixing import Taken, taken
from dosing.bath.open_tub import co2_per_second, foam_slows, temperature_after
from dosing.equilibrium import Equilibrium
from dosing.ingredients.powders import Blend, per_gram, powder
from dosing.ingredients.trade_values import typical
from dosing.plan.case import JUSTIFY, MIND
from dosing.plan.cautions import GIVEN, Caution
from dosing.plan.levels import LEVELS, gate_level, judged_bathers, rounded_outwards
from dosing.plan.pouring import gentlest_ph
from dosing.plan.records import Plan
from dosing.soak.dissolving import dissolving, has_grains, seconds_to_dissolve, usual_grain
from dosing.soak.levels import judged
from dosing.soak.moments import look_interval_s, span, told_and_worked
from dosing.soak.records import Course, Jug, LocalExtreme, Manner, OtherWay, PourAt, Timeline
from dosing.soak.zones import POUR_ZONE, REST, Courses, Portioned, leave_to_air, spread_powder
from indicator.accepted import reason
from indicator.appearance import SeenColour, delta_e
from indicator.notes import Note, Value
from indicator.tables import Number, citation
from indicator.words import change_level

Array = NDArray[np.float64]

BEST, SOUR, MILD, LATE = range(4)
"""The ways in which the pour is played."""
_ENDS = {
    "zone": ("value", "low", "high", "value"),
    "mixed": ("value", "high", "low", "high"),
    "film": ("value", "low", "high", "high"),
    "grain": ("value", "low", "high", "high"),
    "jug": ("value", "low", "high", "low"),
    "pour": ("value", "low", "high", "high"),
    "transfer": ("value", "low", "high", "low"),
    "foam": ("value", "low", "high", "low"),
    "air": ("value", "high", "low", "high"),
    "loss": ("value", "low", "high", "value"),
}
"""Which end of each doubtful number a way takes, in the order of the ways."""
_WAYS = len((BEST, SOUR, MILD, LATE))
_AIR_GRID_C = np.linspace(0.0, 60.0, 25)


def follow(
    inputs: RecipeInputs,
    setting: Setting,
    totals_g: Sequence[float],
    manner: Manner,
    *,
    accepted_reason: str | None = None,
    accepted_ph: str | None = None,
) -> Timeline:
    """Follow a dose from the pour to the end of the soak.

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
    accepted_reason : str, optional
        The maker's written reason for a pour that needs one.
    accepted_ph : str, optional
        The maker's written reason for a pH that needs one.

    Returns
    -------
    Timeline
        Arrays of shape (times,).

    Raises
    ------
    ValueError
        If there is nothing to pour, or the reason has hardly a letter.
    """
    why = reason("accepted_reason", accepted_reason)
    grams = np.diff(np.asarray(totals_g, dtype=np.float64), prepend=0.0)
    if not len(grams) or not np.all(grams > 0.0):
        raise ValueError(f"dose is {float(np.sum(grams)):g} g; accepted is a mass above 0 g")
    return _Followed(inputs, setting, grams, manner).answer(why, reason("accepted_ph", accepted_ph))


def follow_plan(
    inputs: RecipeInputs,
    plan: Plan,
    manner: Manner,
    *,
    accept_ph: str | None = None,
    accept_pouring: str | None = None,
) -> Course:
    """Follow the pours of a plan up to its dose, and see how far it would go the other way.

    Parameters
    ----------
    inputs : RecipeInputs
        The recipe in core units.
    plan : Plan
        Its plan, with something to pour.
    manner : Manner
        How it is poured, and how long to look.
    accept_ph, accept_pouring : str, optional
        As in `dosing.plan.answer.make_plan`.

    Returns
    -------
    Course
        Arrays of shape (times,).
    """
    dose_g = plan.dose_g.best
    totals_g = [pour.total_g for pour in plan.pours if not pour.spare] or [dose_g]
    setting = assemble(inputs)
    line = follow(
        inputs, setting, totals_g, manner, accepted_reason=accept_pouring, accepted_ph=accept_ph
    )
    turned = replace(manner, poured="jug" if manner.poured == "dry" else "dry")
    other = OtherWay(turned.poured, follow(inputs, setting, totals_g, turned).lowest_local)
    return judged(line, plan, other)


class _Followed:
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
        self.courses = _courses(float(bath.volume_l), manner)
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
            _ends("loss", "surface_loss_w_m2_k")[:, None],
            setting.depth_cm,
        )
        """Shape (ways, moments) [°C]."""
        self.air_ppm = _row_ends("air", typical("room_air_co2"))
        self.gas_in_air = self._gas_in_air()
        self.totals = self._totals()
        shape = (_WAYS, 2, len(self.moments_s))
        carbon = np.broadcast_to(self.totals.get("C", np.zeros(())), shape)
        self.left = leave_to_air(
            self.courses,
            np.array(carbon),
            lambda carbon: np.asarray(self._solved(carbon).molality["CO2"]),
            self.gas_in_air,
            self._leaving_per_second(),
            self.moments_s,
        )
        self.solved = self._solved(np.maximum(carbon - self.left.lost, 0.0))
        self.ph = np.asarray(self.solved.ph)
        self.all_in = bath.with_activator(float(np.sum(grams)), setting.per_gram)
        self.before, self.closed, self.open = (
            bath.solve(),
            self.all_in.solve(),
            self.all_in.at_rest(),
        )
        self.acid = float(self.closed.ph) <= float(self.before.ph)

    def _portioned(self, name: str) -> Portioned:
        mass = self.parts[name] * np.broadcast_to(self.grams, (_WAYS, len(self.grams)))
        if not has_grains(name):
            return Portioned(name, np.ones(_WAYS), mass, np.zeros_like(mass))
        radius = 0.5 * _ends("grain", "grain_um", self.grain[name])
        dissolved = np.zeros_like(mass)
        if self.manner.poured == "jug":
            jug = typical("jug_l")
            jug_l = self.jugs.litres * _row_ends("jug", jug) / jug.value
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

    def _leaving_per_second(self) -> Array:
        """Shape (ways, moments) [1/s]: moved while it is stirred and with someone in it."""
        still, moved = (_ends("transfer", "transfer_cm_h", way) for way in ("still", "moved"))
        # A bather may lie as still as the water.
        lies_still = [end == "low" or self.bathers == "nobody" for end in _ENDS["transfer"]]
        bathed = np.where(lies_still, still, moved)
        stirred = still if self.manner.stir == "still" else moved
        until = self.poured_s[-1] + self.courses.mixed_s
        velocity = np.where(self.moments_s < until[:, None], stirred[:, None], bathed[:, None])
        slowed = velocity * _row_ends("foam", foam_slows(self.setting.bath))[:, None]
        return co2_per_second(slowed, self.temperature_c, self.setting.depth_cm)

    def answer(self, accepted_reason: str | None, accepted_ph: str | None) -> Timeline:
        """Timeline of the pour, arrays of shape (times,).

        Parameters
        ----------
        accepted_reason : str or None
            The written reason for a pour that needs one.
        accepted_ph : str or None
            The same for a pH.

        Returns
        -------
        Timeline
            Of the likely way, with the ends of all.
        """
        setting, wish = self.setting, self.inputs.wish
        extreme = self._extreme()
        times_s = np.union1d(self.times_s, [extreme.at_s])
        shown = np.searchsorted(self.moments_s, times_s)
        seen_before = self.before.seen(setting.view)
        colours, colours_local = (
            self._colours(self.ph[BEST, zone, shown]) for zone in (REST, POUR_ZONE)
        )
        ph, warm = self.ph[:, REST, shown], self.temperature_c[:, shown]
        share = self._gas_left()[:, shown]
        undissolved = np.sum(self.spread.grains_g, axis=1)
        unsteady = self._unsteady(undissolved)
        level = JUSTIFY if accepted_ph and wish.purpose not in GIVEN else MIND
        beyond = gate_level(self.ph, self.bathers) > level
        waits = [self._after(way) for way in unsteady | np.any(beyond, axis=1)]
        return Timeline(
            title=self.inputs.title,
            manner=self.manner,
            grain=self.grain,
            activator=tuple(self.parts.items()),
            pours=tuple(map(PourAt, self.poured_s.tolist(), self.grams.tolist())),
            jug=self._jug() if self.manner.poured == "jug" else None,
            bathers=self.bathers,
            acid=self.acid,
            times_s=times_s,
            ph=ph[BEST],
            ph_low=np.min(ph, axis=0),
            ph_high=np.max(ph, axis=0),
            ph_local=self.ph[BEST, POUR_ZONE, shown],
            temperature_c=warm[BEST],
            temperature_low_c=np.min(warm, axis=0),
            temperature_high_c=np.max(warm, axis=0),
            co2_share_left=share[BEST],
            co2_share_low=np.min(share, axis=0),
            co2_share_high=np.max(share, axis=0),
            undissolved_g=undissolved[BEST, shown],
            colours=colours,
            colours_local=colours_local,
            change_delta_e=np.asarray(delta_e(seen_before.lab, colours.lab)),
            before_ph=float(self.before.ph),
            before=seen_before,
            closed_ph=float(self.closed.ph),
            open_ph=float(self.open.ph),
            chalk=chalk_of(self.closed, self.open, setting.view, setting.bath.air_co2_ppm),
            lowest_local=extreme,
            turned_after_s=self._turned_after(seen_before),
            steady_after_s=self._after(unsteady[BEST]),
            wait_s=None if None in waits else max(wait for wait in waits if wait is not None),
            vessel=wish.view,
            light=wish.light,
            depth_cm=setting.depth_cm,
            assumptions=self._assumptions(),
            warnings=self._warnings(float(undissolved[BEST, -1])),
            cautions=self._cautions(extreme, bool(np.any(beyond[:, REST, -1])), accepted_reason),
        )

    def _colours(self, ph: Array) -> SeenColour:
        bath = self.setting.bath
        return colour_at(bath.strengths, ph, self.setting.view, bath.surfactants_g_l).steady()

    def _gas_left(self) -> Array:
        """Share of the gas that can leave which is still there, shape (ways, moments)."""
        whole = float(self.all_in.totals.get("C", np.zeros(())))
        at_rest = float(self.open.inorganic_carbon_mol_kg)
        # The rest of the tub starts without what the powder brings.
        with np.errstate(divide="ignore", invalid="ignore"):
            share = (whole - self.left.lost[:, REST] - at_rest) / (whole - at_rest)
        return np.where(np.isfinite(share), share, np.nan)

    def _extreme(self) -> LocalExtreme:
        local, side = self.ph[:, POUR_ZONE], 1.0 if self.acid else -1.0
        worst = side * np.min(side * local, axis=1)
        ends = (float(np.min(worst)), float(np.max(worst)))
        gate = below = below_long = None
        if self.bathers != "nobody":
            gate = gentlest_ph(self.bathers, MIND, acid=self.acid)
            spans = [_seconds_beyond(self.moments_s, side * (gate - ph)) for ph in local]
            below, below_long = spans[BEST], max(spans)
        return LocalExtreme(
            ph=float(worst[BEST]),
            low=ends[0],
            high=ends[1],
            at_s=float(self.moments_s[np.argmin(side * local[BEST])]),
            level=LEVELS[int(np.max(gate_level(np.array(ends), self.bathers)))],
            gate_ph=gate,
            seconds_below_gate=below,
            seconds_below_gate_long=below_long,
        )

    def _unsteady(self, grains_g: Array) -> NDArray[np.bool_]:
        """Where the zones differ, or grains are left, shape (ways, moments)."""
        apart = np.abs(self.ph[:, POUR_ZONE] - self.ph[:, REST]) > typical("same_ph").value
        solid = grains_g > taken("gone_share").value * float(np.sum(self.grams))
        return np.asarray(apart | solid | (self.moments_s <= self.poured_s[-1]))

    def _after(self, waiting: NDArray[np.bool_]) -> float | None:
        """When something is over for good [s]; None if not within the time looked at."""
        last = int(np.flatnonzero(waiting)[-1]) + 1
        return float(self.moments_s[last]) if last < len(self.moments_s) else None

    def _turned_after(self, before: SeenColour) -> float | None:
        whole = float(delta_e(before.lab, self.closed.seen(self.setting.view).lab))
        if str(change_level(whole)) == "not seen":
            return None
        change = delta_e(before.lab, self._colours(self.ph[BEST, REST]).lab)
        enough = np.flatnonzero(change >= typical("worthwhile_share_of_change").value * whole)
        return float(self.moments_s[enough[0]]) if len(enough) else None

    def _jug(self) -> Jug:
        """Jugs of the largest portion, and how long they are stirred."""
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
        return Jug(self.jugs, max(lasting, default=0.0))

    def _assumptions(self) -> tuple[Note, ...]:
        room, stir = taken("room_c").value, self.manner.stir
        zone, mixed = self.courses.zone_l, taken("mixed_s", stir)
        last = self.temperature_c[:, -1]
        cooling: dict[str, Value] = {
            "room": room,
            "end": float(last[BEST]),
            "low": float(last.min()),
            "high": float(last.max()),
        }
        change = "cooling" if self.temperature_c[BEST, 0] > room else "no-cooling"
        mixing = _range(*(span(seconds) for seconds in (mixed.value, mixed.low, mixed.high)))
        return (
            Note("assume.time.zones", _range(*map(float, (zone[BEST], zone.min(), zone.max())))),
            Note(f"assume.time.mixed-{stir}", mixing),
            *(_grain_note(name, grain) for name, grain in self.grain.items()),
            self._gas_note(),
            Note(f"assume.time.{change}", cooling),
            Note("assume.time.colour", {}),
        )

    def _gas_note(self) -> Note:
        """At which velocity the gas leaves, at the tub's temperature."""
        nobody, depth = self.bathers == "nobody", self.setting.depth_cm
        still = taken("transfer_cm_h", "still")
        moved = still if nobody else taken("transfer_cm_h", "moved")
        low = still.low if nobody else still.value
        foam = foam_slows(self.setting.bath)
        velocities = (moved.value * foam.value, low * foam.low, moved.high * foam.high)
        per_second = co2_per_second(np.array(velocities), self.setting.bath.temperature_c, depth)
        code = "assume.time.gas-nobody" if nobody else "assume.time.gas-bather"
        return Note(code, _range(*(3600.0 * depth * per_second).tolist()))

    def _warnings(self, undissolved_g: float) -> tuple[Note, ...]:
        left: dict[str, Value] = {"grams": undissolved_g, "minutes": self.manner.minutes}
        dissolved = undissolved_g <= taken("gone_share").value * float(np.sum(self.grams))
        # Highest pressure that the dissolved gas has anywhere.
        gas = np.asarray(self.solved.molality["CO2"]) / self.gas_in_air[:, None, :]
        pressure_atm = float(np.max(gas * self.air_ppm[:, None, None])) * 1e-6
        solved = self.left.settled and bool(np.all(self.solved.converged))
        checks = (
            (dissolved, Note("warn.time.undissolved", left)),
            (pressure_atm <= taken("fizz_atm").value, Note("warn.time.fizz")),
            (bool(np.all(self.solved.in_range)), Note("warn.time.strong")),
            (solved, Note("warn.bath.not-converged")),
        )
        return tuple(note for well, note in checks if not well)

    def _cautions(
        self, extreme: LocalExtreme, stays_beyond: bool, reason: str | None
    ) -> tuple[Caution, ...]:
        """What a tub that stays beyond its gate, and the water near the pour, mean for bathers."""
        cautions, house = [], citation("house")
        if stays_beyond:
            whole = span(float(self.moments_s[-1] - self.poured_s[-1]))
            code = "time-stays-beyond"
            cautions.append(Caution("stop", code, house, "DESIGN", {"time": whole}))
        if extreme.level == "ok" or extreme.gate_ph is None:
            return tuple(cautions)
        values: dict[str, Value] = {
            "ph": rounded_outwards(extreme.low if self.acid else extreme.high, down=self.acid),
            "gate": extreme.gate_ph,
            "time": span(extreme.seconds_below_gate_long or 0.0),
            "reason": reason or "",
        }
        when, level = self.inputs.activator.poured, "mind"
        if when == "beside":
            # How adults pour beside themselves is for them to justify, as in a plan.
            own = self.bathers == "adult" and extreme.level == "stop"
            level = "justify" if own else extreme.level
        code = f"time-{when}-{'acid' if self.acid else 'alkaline'}"
        return (*cautions, Caution(level, code, house, "DESIGN", values))


def _grain_note(name: str, grain: str) -> Note:
    size = taken("grain_um", grain)
    sizes_mm = _range(*(um / 1000.0 for um in (size.value, size.low, size.high)))
    return Note("assume.time.grain", {"powder": powder(name).label, **sizes_mm}, "activator.parts")


def _range(best: Value, low: Value, high: Value) -> dict[str, Value]:
    return {"best": best, "low": low, "high": high}


def _ends(name: str, row: str, way: str = "any") -> Array:
    """A doubtful number in each of the ways, shape (ways,)."""
    return _row_ends(name, taken(row, way))


def _row_ends(name: str, row: Taken | Number) -> Array:
    return np.array([getattr(row, end) for end in _ENDS[name]], dtype=np.float64)


def _courses(tub_l: float, manner: Manner) -> Courses:
    most = taken("pour_zone_most").value * tub_l
    return Courses(
        tub_l=tub_l,
        zone_l=np.minimum(_ends("zone", "pour_zone_l", manner.poured), most),
        mixed_s=_ends("mixed", "mixed_s", manner.stir),
        film_um=_ends("film", "film_um", manner.stir),
        pour_s=_ends("pour", "pour_s", manner.poured),
    )


def _seconds_beyond(moments_s: Array, beyond: Array) -> float:
    """How long a quantity is above zero, straight lines between the moments [s]."""
    first, last = beyond[:-1], beyond[1:]
    both, neither = (first > 0) & (last > 0), (first <= 0) & (last <= 0)
    with np.errstate(divide="ignore", invalid="ignore"):
        crossing = np.maximum(first, last) / np.abs(last - first)
    share = np.where(both, 1.0, np.where(neither, 0.0, crossing))
    return float(np.sum(share * np.diff(moments_s)))
