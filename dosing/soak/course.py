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
from dosing.bath.mixed import Bath, colour_at
from dosing.bath.mixing import Taken, taken
from dosing.bath.open_tub import co2_per_second, foam_slows, temperature_after
from dosing.equilibrium import Equilibrium
from dosing.ingredients.powders import Blend, per_gram, powder
from dosing.ingredients.trade_values import typical
from dosing.plan.case import JUSTIFY, MIND
from dosing.plan.cautions import (
    GIVEN,
    LEVELS,
    Caution,
    gate_level,
    judged_bathers,
    rounded_outwards,
)
from dosing.plan.pouring import gentlest_ph
from dosing.plan.records import Plan
from dosing.soak.dissolving import (
    dissolving,
    has_grains,
    seconds_to_dissolve,
    usual_grain,
)
from dosing.soak.levels import judged
from dosing.soak.moments import look_interval_s, span, told_and_worked
from dosing.soak.records import (
    Course,
    Jug,
    LocalExtreme,
    Manner,
    OtherWay,
    PourAt,
    Timeline,
)
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
    "pour": ("value", "low", "high", "high"),
    "transfer": ("value", "low", "high", "low"),
    "foam": ("value", "low", "high", "low"),
    "air": ("value", "high", "low", "high"),
    "loss": ("value", "low", "high", "value"),
}
"""Which end of each doubtful number a way takes, in the order of the ways."""
_JUG_ENDS = ("value", "low", "high", "low")
"""The same of the water in a jug."""
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
    totals_g = [pour.total_g for pour in plan.pours if pour.leads_to(dose_g)] or [dose_g]
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
        self.inputs, self.setting, self.manner = inputs, setting, manner
        self.bathers = judged_bathers(inputs.wish.bathers)
        self.parts = Blend(inputs.activator.parts).parts
        self.grams = grams
        self.poured_s: Array = look_interval_s(self.parts) * np.arange(len(grams), dtype=np.float64)
        self.times_s, self.moments_s = told_and_worked(manner.minutes, self.poured_s)
        self.courses = _courses(float(setting.bath.volume_l), manner)
        # The jugs of the largest portion serve for each.
        self.jugs = fill_jugs(self.parts, float(np.max(grams)), setting.bath)
        jug = typical("jug_l")
        full = np.array([getattr(jug, end) or jug.value for end in _JUG_ENDS]) / jug.value
        self.jug_l = self.jugs.litres * full
        self.grain = {
            name: manner.grain or usual_grain(name) for name in self.parts if has_grains(name)
        }
        self.spread = spread_powder(
            self.courses,
            [self._portioned(name) for name in self.parts],
            [float(moment) for moment in self.poured_s],
            self.moments_s,
            float(setting.bath.temperature_c),
        )
        self.air_ppm = _row_ends("air", typical("room_air_co2"))
        self.temperature_c = self._temperature()
        self.carbon_lost, self.settled = self._carbon()
        self.solved = self._solved(self._carbon_left())
        self.ph = np.asarray(self.solved.ph)
        self.closed = self._all_in().solve()
        self.open = self._all_in().at_rest()

    def _portioned(self, name: str) -> Portioned:
        mass = self.parts[name] * np.broadcast_to(self.grams, (len(self.jug_l), len(self.grams)))
        if not has_grains(name):
            return Portioned(name, np.ones(len(self.jug_l)), mass, np.zeros_like(mass))
        radius = 0.5 * _ends("grain", "grain_um", self.grain[name])
        if self.manner.poured == "dry":
            return Portioned(name, radius, np.zeros_like(mass), mass)
        most = np.array(
            [most_dissolved_g(name, litres, self.setting.bath) for litres in self.jug_l]
        )
        dissolved = np.minimum(mass, most[:, None])
        return Portioned(name, radius, dissolved, mass - dissolved)

    def _temperature(self) -> Array:
        """Shape (ways, moments) [°C]."""
        return temperature_after(
            self.moments_s,
            self.setting.bath.temperature_c,
            taken("room_c").value,
            _ends("loss", "surface_loss_w_m2_k")[:, None],
            self.setting.depth_cm,
        )

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
        bath = replace(
            self.setting.bath, totals={**self._totals(), "C": carbon}, temperature_c=warm
        )
        return bath.solve().equilibrium

    def _carbon(self) -> tuple[Array, bool]:
        """Carbon that has left, and whether that settled."""
        carbon = self._totals().get("C", np.zeros(()))
        shape = (len(self.jug_l), 2, len(self.moments_s))
        left = leave_to_air(
            self.courses,
            np.array(np.broadcast_to(carbon, shape)),
            lambda carbon: np.asarray(self._solved(carbon).molality["CO2"]),
            self._gas_of_the_air(),
            self._leaving_per_second(),
            self.moments_s,
        )
        return left.lost, left.settled

    def _carbon_left(self) -> Array:
        carbon = self._totals().get("C", np.zeros(()))
        return np.maximum(np.broadcast_to(carbon, self.carbon_lost.shape) - self.carbon_lost, 0.0)

    def _gas_of_the_air(self) -> Array:
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
        low = _ENDS["transfer"].index("low")
        bathed = still if self.bathers == "nobody" else moved.copy()
        # A bather may lie as still as the water.
        bathed = np.where(np.array(_ENDS["transfer"]) == "low", still[low], bathed)
        stirred = still if self.manner.stir == "still" else moved
        until = self.poured_s[-1] + self.courses.mixed_s
        velocity = np.where(self.moments_s < until[:, None], stirred[:, None], bathed[:, None])
        slowed = velocity * _row_ends("foam", foam_slows(self.setting.bath))[:, None]
        return co2_per_second(slowed, self.temperature_c, self.setting.depth_cm)

    def _all_in(self) -> Bath:
        return self.setting.bath.with_activator(float(np.sum(self.grams)), self.setting.per_gram)

    def answer(self, accepted_reason: str | None, accepted_ph: str | None) -> Timeline:
        """Timeline of the course, with its cautions.

        Parameters
        ----------
        accepted_reason : str or None
            The written reason for a pour that needs one.
        accepted_ph : str or None
            The same for a pH.

        Returns
        -------
        Timeline
            Arrays of shape (times,).
        """
        before = self.setting.bath.solve()
        acid = float(self.closed.ph) <= float(before.ph)
        extreme = self._extreme(acid)
        times_s = np.union1d(self.times_s, [extreme.at_s])
        shown = np.searchsorted(self.moments_s, times_s)
        ph, local = self.ph[BEST, REST, shown], self.ph[BEST, POUR_ZONE, shown]
        seen_before = before.seen(self.setting.view)
        colours, colours_local = self._colours(ph), self._colours(local)
        closed_colour = self.closed.seen(self.setting.view)
        change = np.asarray(delta_e(seen_before.lab, colours.lab))
        whole = float(delta_e(seen_before.lab, closed_colour.lab))
        share = self._gas_left()[:, shown]
        undissolved = np.sum(self.spread.grains_g, axis=1)
        unsteady = self._unsteady(undissolved)
        level = JUSTIFY if accepted_ph and self.inputs.wish.purpose not in GIVEN else MIND
        beyond = gate_level(self.ph, self.bathers) > level
        waits = [self._after(one) for one in unsteady | np.any(beyond, axis=1)]
        return Timeline(
            title=self.inputs.title,
            manner=self.manner,
            grain=self.grain,
            activator=tuple(self.parts.items()),
            pours=tuple(
                PourAt(float(at), float(g)) for at, g in zip(self.poured_s, self.grams, strict=True)
            ),
            jug=self._jug() if self.manner.poured == "jug" else None,
            bathers=self.bathers,
            acid=acid,
            times_s=times_s,
            ph=ph,
            ph_low=np.min(self.ph[:, REST, shown], axis=0),
            ph_high=np.max(self.ph[:, REST, shown], axis=0),
            ph_local=local,
            temperature_c=self.temperature_c[BEST, shown],
            temperature_low_c=np.min(self.temperature_c[:, shown], axis=0),
            temperature_high_c=np.max(self.temperature_c[:, shown], axis=0),
            co2_share_left=share[BEST],
            co2_share_low=np.min(share, axis=0),
            co2_share_high=np.max(share, axis=0),
            undissolved_g=undissolved[BEST, shown],
            colours=colours,
            colours_local=colours_local,
            change_delta_e=change,
            before_ph=float(before.ph),
            before=seen_before,
            closed_ph=float(self.closed.ph),
            open_ph=float(self.open.ph),
            chalk=chalk_of(
                self.closed, self.open, self.setting.view, self.setting.bath.air_co2_ppm
            ),
            lowest_local=extreme,
            turned_after_s=self._turned_after(whole, seen_before),
            steady_after_s=self._after(unsteady[BEST]),
            wait_s=None if None in waits else max(wait for wait in waits if wait is not None),
            vessel=self.inputs.wish.view,
            light=self.inputs.wish.light,
            depth_cm=self.setting.depth_cm,
            assumptions=self._assumptions(),
            warnings=self._warnings(undissolved[BEST]),
            cautions=(
                *self._stays_beyond(beyond[:, REST, -1]),
                *self._cautions(extreme, accepted_reason),
            ),
        )

    def _colours(self, ph: Array) -> SeenColour:
        bath = self.setting.bath
        return colour_at(bath.strengths, ph, self.setting.view, bath.surfactants_g_l).steady()

    def _gas_left(self) -> Array:
        """Share of the gas that can leave which is still there, shape (ways, moments)."""
        whole = float(self._all_in().totals.get("C", np.zeros(())))
        at_rest = float(self.open.inorganic_carbon_mol_kg)
        lost = self.carbon_lost[:, REST]
        # The rest of the tub starts without what the powder brings.
        with np.errstate(divide="ignore", invalid="ignore"):
            share = (whole - lost - at_rest) / (whole - at_rest)
        return np.where(np.isfinite(share), share, np.nan)

    def _extreme(self, acid: bool) -> LocalExtreme:
        local = self.ph[:, POUR_ZONE]
        worst = np.min(local, axis=1) if acid else np.max(local, axis=1)
        place = int(np.argmin(local[BEST]) if acid else np.argmax(local[BEST]))
        ends = (float(np.min(worst)), float(np.max(worst)))
        level = int(np.max(gate_level(np.array(ends), self.bathers)))
        gate = below = below_long = None
        if self.bathers != "nobody":
            gate = gentlest_ph(self.bathers, MIND, acid=acid)
            spans = [_seconds_beyond(self.moments_s, way_ph, gate, acid=acid) for way_ph in local]
            below, below_long = spans[BEST], max(spans)
        return LocalExtreme(
            ph=float(worst[BEST]),
            low=ends[0],
            high=ends[1],
            at_s=float(self.moments_s[place]),
            level=LEVELS[level],
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

    def _turned_after(self, whole: float, before: SeenColour) -> float | None:
        if str(change_level(whole)) == "not seen":
            return None
        change = delta_e(before.lab, self._colours(self.ph[BEST, REST]).lab)
        enough = np.flatnonzero(change >= typical("worthwhile_share_of_change").value * whole)
        return float(self.moments_s[enough[0]]) if len(enough) else None

    def _jug(self) -> Jug:
        """The jugs of the largest portion, and how long they are stirred."""
        warm, film = float(self.setting.bath.temperature_c), taken("film_um", "hand").value
        longest = 0.0
        for name, grain in self.grain.items():
            mass = self.parts[name] * self.jugs.grams
            radius = 0.5 * taken("grain_um", grain).value
            known = dissolving(name, warm)
            taking = seconds_to_dissolve(known, mass, self.jugs.litres, radius, film)
            longest = max(longest, taking)
        return Jug(self.jugs, longest)

    def _assumptions(self) -> tuple[Note, ...]:
        room = taken("room_c").value
        zone, mixed = self.courses.zone_l, taken("mixed_s", self.manner.stir)
        last = self.temperature_c[:, -1]
        change = "cooling" if self.temperature_c[BEST, 0] > room else "no-cooling"
        cooling: dict[str, Value] = {
            "room": room,
            "end": float(last[BEST]),
            "low": float(last.min()),
            "high": float(last.max()),
        }
        return (
            Note("assume.time.zones", _range(zone[BEST], zone.min(), zone.max())),
            Note(
                f"assume.time.mixed-{self.manner.stir}",
                {"best": span(mixed.value), "low": span(mixed.low), "high": span(mixed.high)},
            ),
            *(self._grain_note(name, grain) for name, grain in self.grain.items()),
            self._gas_note(),
            Note(f"assume.time.{change}", cooling),
            Note("assume.time.colour", {}),
        )

    def _grain_note(self, name: str, grain: str) -> Note:
        size = taken("grain_um", grain)
        values = _range(*(one / 1000.0 for one in (size.value, size.low, size.high)))
        named: dict[str, Value] = {"powder": powder(name).label, **values}
        return Note("assume.time.grain", named, "activator.parts")

    def _gas_note(self) -> Note:
        """At which velocity the gas leaves, at the tub's temperature."""
        still = taken("transfer_cm_h", "still")
        nobody = self.bathers == "nobody"
        moved = still if nobody else taken("transfer_cm_h", "moved")
        depth = self.setting.depth_cm
        foam = foam_slows(self.setting.bath)
        best, low, high = (
            3600.0 * depth * float(co2_per_second(one, self.setting.bath.temperature_c, depth))
            for one in (
                moved.value * foam.value,
                (still.low if nobody else still.value) * foam.low,
                moved.high * foam.high,
            )
        )
        code = "assume.time.gas-nobody" if nobody else "assume.time.gas-bather"
        return Note(code, _range(best, low, high))

    def _warnings(self, undissolved_g: Array) -> tuple[Note, ...]:
        notes = []
        total = float(np.sum(self.grams))
        if undissolved_g[-1] > taken("gone_share").value * total:
            values: dict[str, Value] = {
                "grams": float(undissolved_g[-1]),
                "minutes": self.manner.minutes,
            }
            notes.append(Note("warn.time.undissolved", values))
        if self._pressure_atm() > taken("fizz_atm").value:
            notes.append(Note("warn.time.fizz", {}))
        if not np.all(self.solved.in_range):
            notes.append(Note("warn.time.strong", {}))
        if not (self.settled and np.all(self.solved.converged)):
            notes.append(Note("warn.bath.not-converged", {}))
        return tuple(notes)

    def _pressure_atm(self) -> float:
        """Highest pressure that the dissolved gas has anywhere."""
        gas = np.asarray(self.solved.molality["CO2"]) / self._gas_of_the_air()[:, None, :]
        return float(np.max(gas * self.air_ppm[:, None, None])) * 1e-6

    def _stays_beyond(self, beyond: NDArray[np.bool_]) -> tuple[Caution, ...]:
        """The stop for a tub that ends the time looked at beyond what its bathers may have."""
        if not np.any(beyond):
            return ()
        whole: dict[str, Value] = {"time": span(float(self.moments_s[-1] - self.poured_s[-1]))}
        source = citation("house")
        return (Caution("stop", "time-stays-beyond", source, "DESIGN", whole),)

    def _cautions(self, extreme: LocalExtreme, reason: str | None) -> tuple[Caution, ...]:
        """What the water near the pour means for bathers."""
        if extreme.level == "ok" or extreme.gate_ph is None:
            return ()
        beside = self.inputs.activator.poured == "beside"
        worst = extreme.low if self._acid_side(extreme) else extreme.high
        acid = self._acid_side(extreme)
        values: dict[str, Value] = {
            "ph": rounded_outwards(worst, down=acid),
            "gate": extreme.gate_ph,
            "time": span(extreme.seconds_below_gate_long or 0.0),
            "reason": reason or "",
        }
        side = "acid" if acid else "alkaline"
        code = f"time-{'beside' if beside else 'before'}-{side}"
        level = extreme.level if beside else "mind"
        if beside and self.bathers == "adult" and level == "stop":
            # How adults pour beside themselves is for them to justify, as in a plan.
            level = "justify"
        return (Caution(level, code, citation("house"), "DESIGN", values),)

    def _acid_side(self, extreme: LocalExtreme) -> bool:
        return extreme.ph <= float(self.closed.ph)


def _range(best: float, low: float, high: float) -> dict[str, Value]:
    return {"best": float(best), "low": float(low), "high": float(high)}


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


def _seconds_beyond(moments_s: Array, ph: Array, gate: float, *, acid: bool) -> float:
    """How long a pH is beyond a gate, straight lines between the moments [s]."""
    beyond = gate - ph if acid else ph - gate
    first, last = beyond[:-1], beyond[1:]
    both, neither = (first > 0) & (last > 0), (first <= 0) & (last <= 0)
    with np.errstate(divide="ignore", invalid="ignore"):
        crossing = np.maximum(first, last) / np.abs(last - first)
    share = np.where(both, 1.0, np.where(neither, 0.0, crossing))
    return float(np.sum(share * np.diff(moments_s)))
