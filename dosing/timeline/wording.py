"""A timeline in sentences: what terminal and pictures say in the same words."""

from __future__ import annotations

import numpy as np

from dosing import wording
from dosing.cautions import exit_code
from dosing.powders import powder
from dosing.records import Plan
from dosing.timeline.course import span
from dosing.timeline.records import LocalExtreme, Timeline
from indicator.appearance import SeenColour
from indicator.notes import Value, say

LOOKS_S = (5.0, 30.0, 120.0, 600.0, 3600.0)
"""When a maker is told what is seen."""
SAME_PH = 0.1
"""Zones that are nearer to each other are told as one water."""
_START_S = 30.0
"""Within so long after the pour any way has gone beyond a gate that it goes beyond."""
LEAST_SHARE = 0.02
"""A pH change worth telling apart from no gas at all."""


def how(line: Timeline) -> str:
    """What is poured and how."""
    grams = float(sum(one.grams for one in line.pours))
    values: dict[str, Value] = {
        "grams": wording.grams(grams),
        "powder": say("plan.and").join(powder(name).label for name, _ in line.activator),
    }
    poured = say(f"time.from-{line.manner.poured}", values)
    stir = say(f"time.stir-{line.manner.stir}")
    return say("time.how", {"poured": poured, "stir": stir})


def tub(plan: Plan) -> str:
    """How much water, how warm and how deep."""
    values: dict[str, Value] = {
        "volume": wording.litres(plan.volume_l),
        "temperature": plan.temperature_c,
        "depth": plan.depth_cm,
    }
    return say("time.tub", values)


def portions(line: Timeline) -> str | None:
    """How many pours; None for a single one."""
    if len(line.pours) == 1:
        return None
    values: dict[str, Value] = {"count": len(line.pours), "wait": span(line.pours[1].at_s)}
    return say("time.portions", values)


def looks(line: Timeline) -> list[int]:
    """Places of the times at which a maker is told what is seen, the last always among them."""
    wanted = [time for time in LOOKS_S if time < line.times_s[-1]]
    wanted.append(float(line.times_s[-1]))
    return [int(np.argmin(np.abs(line.times_s - time))) for time in wanted]


def apart(line: Timeline, place: int) -> bool:
    """Whether the water near the pour is still another one."""
    return abs(float(line.ph[place] - line.ph_local[place])) > SAME_PH


def row(line: Timeline, place: int) -> str:
    """What is seen at one of the times."""
    values: dict[str, Value] = {
        "time": span(float(line.times_s[place])),
        "ph": float(line.ph[place]),
        "name": colour_name(line.colours, place),
        "local": float(line.ph_local[place]),
        "local_name": colour_name(line.colours_local, place),
    }
    return say("time.row-apart" if apart(line, place) else "time.row-same", values)


def start_row(line: Timeline) -> str:
    """What is seen before the pour."""
    values: dict[str, Value] = {
        "time": say("time.at-start"),
        "ph": line.before_ph,
        "name": str(line.before.name),
    }
    return say("time.row-same", values)


def colour_name(colours: SeenColour, place: int) -> str:
    """The published name of a colour of the batch."""
    return str(colours.name[place])


def turning(line: Timeline) -> list[str]:
    """When the colour has turned, and what it looks like until then."""
    if line.turned_after_s is not None:
        found = [say("time.turned", {"time": span(line.turned_after_s)})]
    elif float(line.change_delta_e[-1]) > 0.0 and _changes(line):
        found = [say("time.not-turned")]
    else:
        return [say("time.no-change")]
    return found if line.manner.stir == "hand" else [*found, say("time.patchy")]


def _changes(line: Timeline) -> bool:
    from indicator.words import change_level

    return str(change_level(float(np.max(line.change_delta_e)))) != "not seen"


def near_the_pour(line: Timeline, other: tuple[str, LocalExtreme] | None) -> list[str]:
    """How sour (or alkaline) it gets near the pour, for how long, and poured the other way.

    Parameters
    ----------
    line : Timeline
        As poured.
    other : tuple of str and LocalExtreme, optional
        The other way of pouring, ``"jug"`` or ``"dry"``, and how far it goes there.
    """
    worst = line.lowest_local
    at_end = worst.at_s >= float(line.times_s[-1])
    when = say("time.when-end") if at_end else say("time.when", {"time": span(worst.at_s)})
    found = [say(f"time.{_side(line)}", {**_ends(worst), "when": when})]
    found += _beyond(line, worst)
    if line.jug is not None:
        values: dict[str, Value] = {"litres": line.jug.litres, "ph": line.jug.ph}
        if np.isfinite(line.jug.dissolves_s):
            values["time"] = span(line.jug.dissolves_s)
            found.append(say("time.jug", values))
        else:
            found.append(say("time.jug-never", values))
    if other is not None:
        found.append(_other(line, *other))
    return found


def _side(line: Timeline) -> str:
    return "acid" if line.acid else "alkaline"


def _ends(one: LocalExtreme) -> dict[str, Value]:
    return {"ph": one.ph, "low": one.low, "high": one.high}


def _beyond(line: Timeline, one: LocalExtreme) -> list[str]:
    if one.gate_ph is None:
        return []
    usual, long = one.seconds_below_gate or 0.0, one.seconds_below_gate_long or 0.0
    values: dict[str, Value] = {
        "gate": one.gate_ph,
        "time": _within(line, usual),
        "long": _within(line, long),
    }
    if long <= 0.0:
        return [say("time.never-beyond", values)]
    if usual <= 0.0:
        return [say("time.may-be-beyond", values)]
    return [say("time.below" if line.acid else "time.above", values)]


def _within(line: Timeline, seconds: float) -> str:
    """A time, or that it does not end within what is looked at."""
    if seconds > float(line.times_s[-1]) - _START_S:
        return say("time.to-the-end")
    return span(seconds)


def _other(line: Timeline, poured: str, one: LocalExtreme) -> str:
    first = say(f"time.other-{poured}", _ends(one))
    long = one.seconds_below_gate_long or 0.0
    if one.gate_ph is None or long <= 0.0:
        return first
    values: dict[str, Value] = {
        "first": first,
        "gate": one.gate_ph,
        "time": _within(line, one.seconds_below_gate or 0.0),
        "long": _within(line, long),
    }
    usual = one.seconds_below_gate or 0.0
    return say("time.other-beyond" if usual > 0.0 else "time.other-may-be-beyond", values)


def waiting(line: Timeline, *, forbidden: bool) -> list[str]:
    """How long nobody gets in.

    Parameters
    ----------
    line : Timeline
        As poured.
    forbidden : bool
        Whether a caution of the dose forbids the bath.
    """
    show = line.bathers == "nobody"
    if forbidden or exit_code(line.cautions) != 0:
        return [say("time.not-to-get-in")]
    found = []
    if line.steady_after_s is not None:
        found.append(say("time.steady", {"time": span(line.steady_after_s)}))
    if line.wait_s is None:
        whole = {"time": span(float(line.times_s[-1]))}
        return [*found, say("time.never-steady-show" if show else "time.never-steady", whole)]
    values: dict[str, Value] = {"time": span(60.0 * np.ceil(line.wait_s / 60.0))}
    return [*found, say("time.wait-show" if show else "time.wait", values)]


def soaking(line: Timeline) -> list[str]:
    """What the tub has become at the end of the time."""
    end = len(line.times_s) - 1
    values: dict[str, Value] = {
        "time": span(float(line.times_s[end])),
        "ph": float(line.ph[end]),
        "ph_low": float(line.ph_low[end]),
        "ph_high": float(line.ph_high[end]),
        "temperature": float(line.temperature_c[end]),
        "share": float(line.co2_share_left[end]),
        "low": float(line.co2_share_low[end]),
        "high": float(line.co2_share_high[end]),
    }
    drifts = abs(line.open_ph - line.closed_ph) > LEAST_SHARE
    found = [say("time.soak" if drifts else "time.soak-no-gas", values)]
    if abs(line.open_ph - line.closed_ph) > wording.LEAST_DRIFT_PH:
        found.append(say("time.ends", {"ph": line.open_ph}))
    return found
