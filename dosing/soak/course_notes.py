"""Notes of a course: what it takes for granted, where it is rough, and what to be careful of."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from dosing.bath.mixing import taken
from dosing.ingredients.powders import powder
from dosing.plan.cautions import Caution
from dosing.plan.levels import rounded_outwards
from dosing.soak.moments import span
from dosing.soak.records import LocalExtreme, Manner
from dosing.soak.ways import BEST
from dosing.soak.zones import Courses
from indicator.notes import Note, Value
from indicator.tables import citation

Array = NDArray[np.float64]


def assumed(
    manner: Manner,
    grain: Mapping[str, str],
    courses: Courses,
    gas_cm_h: Array,
    temperature_c: Array,
    *,
    alone: bool,
) -> tuple[Note, ...]:
    """Assumptions of a course on mixing, grains, gas, cooling and colour.

    Parameters
    ----------
    manner : Manner
        How it is poured.
    grain : mapping of str to str
        Powder to its grain.
    courses : Courses
        Zones of all ways.
    gas_cm_h : numpy.ndarray
        Velocity at which gas leaves, shape (ways,) [cm/h].
    temperature_c : numpy.ndarray
        Of the tub, shape (ways, moments) [°C].
    alone : bool
        Whether nobody bathes.

    Returns
    -------
    tuple of Note
        In the order in which they matter.
    """
    mixed, room, end = taken("mixed_s", manner.stir), taken("room_c").value, temperature_c[:, -1]
    cooling = "cooling" if temperature_c[BEST, 0] > room else "no-cooling"
    cooled: dict[str, Value] = {**_range(end), "room": room, "end": float(end[BEST])}
    times = {"best": span(mixed.value), "low": span(mixed.low), "high": span(mixed.high)}
    return (
        Note("assume.time.zones", _range(courses.zone_l)),
        Note(f"assume.time.mixed-{manner.stir}", dict(times)),
        *(_grain_note(name, size) for name, size in grain.items()),
        Note(f"assume.time.gas-{'nobody' if alone else 'bather'}", _range(gas_cm_h)),
        Note(f"assume.time.{cooling}", cooled),
        Note("assume.time.colour", {}),
    )


def cautioned(
    extreme: LocalExtreme, poured: str, reason: str | None, *, acid: bool, adult: bool
) -> tuple[Caution, ...]:
    """Caution on the water near the pour; none where it stays within what the bathers may have.

    Parameters
    ----------
    extreme : LocalExtreme
        The most acid or alkaline water near the pour.
    poured : str
        ``"before"`` bathers get in, or ``"beside"`` them.
    reason : str or None
        Why pouring beside oneself is accepted.
    acid : bool
        Whether the powder lowers the pH.
    adult : bool
        Whether only adults bathe.

    Returns
    -------
    tuple of Caution
        One or none.
    """
    if extreme.level == "ok" or extreme.gate_ph is None:
        return ()
    values: dict[str, Value] = {
        "ph": rounded_outwards(extreme.ph.low if acid else extreme.ph.high, down=acid),
        "gate": extreme.gate_ph,
        "time": span(extreme.seconds_below_gate_long or 0.0),
        "reason": reason or "",
    }
    level = "mind"
    if poured == "beside":
        # How adults pour beside themselves is for them to justify, as in a plan.
        level = "justify" if adult and extreme.level == "stop" else extreme.level
    code = f"time-{poured}-{'acid' if acid else 'alkaline'}"
    return (Caution(level, code, citation("house"), "DESIGN", values),)


def stays_beyond(seconds: float) -> Caution:
    """Caution on a tub that is still beyond what its bathers may have after so long [s]."""
    values: dict[str, Value] = {"time": span(seconds)}
    return Caution("stop", "time-stays-beyond", citation("house"), "DESIGN", values)


def _grain_note(name: str, grain: str) -> Note:
    size = taken("grain_um", grain)
    sizes_mm = _range(np.array([size.value, size.low, size.high]) / 1000.0)
    return Note("assume.time.grain", {"powder": powder(name).label, **sizes_mm}, "activator.parts")


def _range(ways: Array) -> dict[str, Value]:
    """The likely way and the ends of all."""
    return {"best": float(ways[BEST]), "low": float(ways.min()), "high": float(ways.max())}
