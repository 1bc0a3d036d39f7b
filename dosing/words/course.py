"""A timeline in sentences: what terminal and pictures say in the same words."""

from __future__ import annotations

from collections.abc import Callable, Iterator

import numpy as np

from dosing.ingredients.powders import kitchen_round_g, powder, scale_step
from dosing.plan.cautions import pour_forbidden
from dosing.plan.records import LEAST_DRIFT_PH
from dosing.soak.amounts import rounded_g
from dosing.soak.moments import clock, span
from dosing.soak.records import Course, JudgedSoak, LocalExtreme, Timeline
from dosing.words import wording
from dosing.words.lines import Line, bullets, headed, swatch, titled, under
from dosing.words.plan import cautions, judged, refused
from indicator.appearance import SeenColour
from indicator.notes import Value, say
from indicator.words import change_level

LOOKS_S = (5.0, 30.0, 120.0, 600.0, 3600.0)
"""When after a pour a maker is told what is seen."""
SAME_PH = 0.1
"""Zones that are nearer to each other are told as one water."""
_START_S = 30.0
"""Within so long after the pour any way has gone beyond a gate that it goes beyond."""
LEAST_SHARE = 0.02
"""A pH change worth telling apart from no gas at all."""


# What may not be done


def verdict(soak: JudgedSoak) -> tuple[list[str], list[str], str | None]:
    """For a soak that is not as wished: what is not, why, and what follows or None."""
    kind = "time" if isinstance(soak, Course) else "programme"
    unmet = [] if soak.wish_met else [say(f"{kind}.unreached")]
    if not soak.forbidden:
        return unmet, [], None
    reasons = [caution.message for caution in soak.cautions if pour_forbidden((caution,))]
    values: dict[str, Value] = {"how": how(soak)} if isinstance(soak, Course) else {}
    return [say(f"{kind}.forbidden"), *unmet], reasons, say(f"{kind}.follows", values)


def opening(soak: JudgedSoak, title: str, first: str | None) -> Iterator[Line]:
    """Title, tub and verdicts, then the first thing to do where it is allowed.

    Parameters
    ----------
    soak : JudgedSoak
        One pour or several.
    title : str
        Of the answer.
    first : str or None
        The first thing to do or to know.

    Yields
    ------
    Line
        In the order in which they are read.
    """
    yield from titled(title)
    yield Line(tub(soak))
    yield from judged(soak.verdicts, soak.market, not_for_bathing=soak.not_for_bathing)
    heads, reasons, follows = verdict(soak)
    yield from refused(heads, reasons, follows)
    if first is not None:
        yield from [Line()] * bool(heads)
        yield Line(first)


def closing(soak: JudgedSoak) -> Iterator[Line]:
    """Cautions, what is assumed, and warnings."""
    yield from cautions(soak.cautions)
    yield from bullets(soak.assumptions, "plan.heading.assumed")
    yield from bullets(soak.warnings, "plan.heading.notes")


# What is poured


def how(course: Course) -> str:
    """Sentence on what is poured and how."""
    values: dict[str, Value] = {
        "grams": wording.grams(_aimed_g(course)),
        "powder": say("plan.and").join(powder(name).label for name, _ in course.activator),
    }
    several = len(course.pours) > 1
    told: dict[str, Value] = {
        "poured": say(f"time.from-{course.manner.poured}", values),
        "stir": say(f"time.stir-{course.manner.stir}"),
        "count": len(course.pours),
        "wait": span(course.pours[1].at_s) if several else "",
    }
    return say("time.how-several" if several else "time.how", told)


def tub(filled: JudgedSoak) -> str:
    """Sentence on how much water there is, how warm and how deep."""
    values: dict[str, Value] = {
        "volume": wording.litres(filled.volume_l),
        "temperature": filled.before_temperature_c,
        "depth": wording.centimetres(filled.depth_cm),
    }
    return say("time.tub", values)


def pours_shown(course: Course) -> list[str]:
    """Grams of every pour; they add up to what is told of all."""
    totals = np.cumsum([pour.grams for pour in course.pours])
    totals[-1] = _aimed_g(course)
    step = scale_step(course.dose_g)
    rounded = kitchen_round_g(totals, step)
    return [wording.grams(float(grams), step) for grams in np.diff(rounded, prepend=0.0)]


def pour_heading(course: Course, number: int) -> str | None:
    """Heading of one of several pours, and how much; None for a single one.

    Parameters
    ----------
    course : Course
        As poured.
    number : int
        Which, from 1.

    Returns
    -------
    str or None
        A few words.
    """
    if len(course.pours) == 1:
        return None
    grams = pours_shown(course)[number - 1]
    return say("time.pour", {"number": number, "count": len(course.pours), "grams": grams})


def _aimed_g(course: Course) -> float:
    """The dose to the step of a scale, down where rounding up would pass the most [g]."""
    step = scale_step(course.dose_g)
    return min(rounded_g(course.dose_g, step, up=True), rounded_g(course.maximum_g, step, up=False))


# When


def moment(line: Timeline, seconds: float) -> str:
    """A moment exactly, counted from the pour before it.

    Parameters
    ----------
    line : Timeline
        As poured.
    seconds : float
        Since the first pour [s].

    Returns
    -------
    str
        A few words.
    """
    return _since(line, seconds, "moment", clock)


def _since(line: Timeline, seconds: float, code: str, worded: Callable[[float], str]) -> str:
    """A moment, counted from the pour before it; `span` never tells it too early."""
    values: dict[str, Value] = {
        "time": worded(line.since_pour(seconds)),
        "number": line.pour_at(seconds) + 1,
        "count": len(line.pours),
    }
    return say(f"time.{code}" if len(line.pours) == 1 else f"time.{code}-of", values)


# What is seen


def looks_heading(line: Timeline) -> str:
    """Over what is seen; it tells where chalk is left aside."""
    return say("time.heading.see-chalk" if line.chalk else "time.heading.see")


def looks(line: Timeline) -> list[list[int]]:
    """For every pour the places of the times at which a maker is told what is seen.

    The sourest moment and the last one are always among them.
    """
    ends = [*(pour.at_s for pour in line.pours[1:]), float(line.times_s[-1]) + 1.0]
    sentences = []
    for pour, end in zip(line.pours, ends, strict=True):
        firm = {line.lowest_local.at_s, float(line.times_s[-1])}
        usual = {pour.at_s + after for after in LOOKS_S}
        wanted = firm | {time for time in usual if not _beside(time, firm, pour.at_s)}
        inside = sorted(time for time in wanted if pour.at_s < time < end)
        sentences.append([int(np.searchsorted(line.times_s, time)) for time in inside])
    return sentences


def _beside(time: float, others: set[float], start: float) -> bool:
    """Whether a time since the pour is hardly another one than one of the others."""
    return any(0 < other - start < 2.0 * (time - start) < 4.0 * (other - start) for other in others)


def apart(line: Timeline, place: int) -> bool:
    """Whether the water near the pour is still another one.

    Parameters
    ----------
    line : Timeline
        As poured.
    place : int
        Of the time.

    Returns
    -------
    bool
        True where both are told.
    """
    return abs(float(line.ph[place] - line.ph_local[place])) > SAME_PH


def row(course: Course, place: int) -> str:
    """Row of the colour that is seen at one of the times, with the caution levels of tub and pour.

    Parameters
    ----------
    course : Course
        What is followed.
    place : int
        Of the time.

    Returns
    -------
    str
        One row.
    """
    both = apart(course, place)
    level, near = course.level[place], course.level_local[place]
    values: dict[str, Value] = {
        "time": clock(course.since_pour(float(course.times_s[place]))),
        "ph": float(course.ph[place]),
        "name": str(course.colours.name[place]) + _marked(level if both else near),
        "local": float(course.ph_local[place]),
        "local_name": str(course.colours_local.name[place]) + _marked(near),
    }
    return say("time.row-apart" if both else "time.row-same", values)


def level_mark(level: str) -> str:
    """A caution level with its mark; empty for one that says nothing."""
    return "" if level == "ok" else f"{wording.MARKS[level]} {wording.level(level)}"


def _marked(level: str) -> str:
    return "" if level == "ok" else say("time.marked", {"level": wording.level(level)})


def sight(ph: float, colour: SeenColour) -> dict[str, Value]:
    """Values of a sentence on a pH and the colour that goes with it.

    Parameters
    ----------
    ph : float
        [pH].
    colour : SeenColour
        A single colour.

    Returns
    -------
    dict
        ``ph`` and ``name``.
    """
    return {"ph": ph, "name": str(colour.name)}


def turning(line: Timeline) -> list[str]:
    """When the colour has turned, and what it looks like until then."""
    if line.turned_after_s is not None:
        sentences = [say("time.turned", {"when": _since(line, line.turned_after_s, "about", span)})]
    elif str(change_level(float(np.max(line.change_delta_e)))) != "not seen":
        sentences = [say("time.not-turned")]
    else:
        return [say("time.no-change")]
    return sentences if line.manner.stir == "hand" else [*sentences, say("time.patchy")]


# How acid it gets


def near_the_pour(line: Course) -> list[str]:
    """Sentences on how sour (or alkaline) it gets near the pour, how long, and in the jug."""
    worst = line.lowest_local
    at_end = worst.at_s >= float(line.times_s[-1])
    when = say("time.when-end") if at_end else say("time.when", {"when": moment(line, worst.at_s)})
    sentences = [say("time.acid" if line.acid else "time.alkaline", {**_ends(worst), "when": when})]
    beyond, values = _beyond(line, worst)
    side = "below" if line.acid else "above"
    if beyond is not None:
        code = f"{side}-{beyond}" if beyond in ("throughout", "beyond") else beyond
        sentences.append(say(f"time.{code}", values))
    if line.jug is not None and not line.forbidden:
        what = say("jug.each" if len(line.pours) > 1 else "jug.it")
        sentences.append(wording.mixing(what, line.jug.filled))
        if np.isfinite(line.jug.dissolves_s):
            sentences.append(say("time.jug", {"time": span(line.jug.dissolves_s)}))
    return sentences


def _ends(extreme: LocalExtreme) -> dict[str, Value]:
    return {"ph": extreme.ph, "low": extreme.low, "high": extreme.high}


def _beyond(line: Timeline, worst: LocalExtreme) -> tuple[str | None, dict[str, Value]]:
    """How the water goes beyond the gate, and for how long; None where nobody bathes."""
    if worst.gate_ph is None:
        return None, {}
    usual, long = worst.seconds_below_gate or 0.0, worst.seconds_below_gate_long or 0.0
    values: dict[str, Value] = {
        "gate": worst.gate_ph,
        "time": _within(line, usual),
        "long": _within(line, long),
    }
    if long <= 0.0:
        return "never-beyond", values
    if usual <= 0.0:
        return "may-be-beyond", values
    return "throughout" if _throughout(line, usual) else "beyond", values


def _throughout(line: Timeline, seconds: float) -> bool:
    """Whether a time does not end within what is looked at."""
    return seconds > float(line.times_s[-1]) - _START_S


def _within(line: Timeline, seconds: float) -> str:
    """A time, of all pours together, or that it does not end within what is looked at."""
    if _throughout(line, seconds):
        return say("time.to-the-end")
    return span(seconds) if len(line.pours) == 1 else say("time.in-all", {"time": span(seconds)})


def other_way(course: Course) -> str:
    """Sentence or two on how far it goes poured the other way."""
    other = course.other_way
    first = say(f"time.other-{other.poured}", _ends(other.lowest_local))
    beyond, values = _beyond(course, other.lowest_local)
    if beyond in (None, "never-beyond"):
        return first
    return say(f"time.other-{beyond}", {**values, "first": first})


# How long


def waiting(line: Timeline) -> list[str]:
    """Sentences on how long nobody gets in, where the pour is allowed."""
    show = "-show" if line.bathers == "nobody" else ""
    several = "" if len(line.pours) == 1 else "-several"
    sentences = []
    if line.steady_after_s is not None:
        since = line.steady_after_s - line.last_pour_s
        sentences.append(say(f"time.steady{several}", {"time": span(since)}))
    if line.wait_s is None:
        whole = {"time": span(float(line.times_s[-1]) - line.last_pour_s)}
        return [*sentences, say(f"time.never-steady{show}", whole)]
    minutes = np.ceil((line.wait_s - line.last_pour_s) / 60.0)
    return [*sentences, say(f"time.wait{show}{several}", {"time": span(60.0 * minutes)})]


def soaking(line: Timeline) -> list[str]:
    """Sentences on what the tub has become at the end of the time."""
    end = len(line.times_s) - 1
    values: dict[str, Value] = {
        "when": moment(line, float(line.times_s[end])),
        "ph": float(line.ph[end]),
        "ph_low": min([float(line.ph_low[end]), *(settled.ph for settled in line.chalk)]),
        "ph_high": float(line.ph_high[end]),
        "temperature": float(line.temperature_c[end]),
        "share": float(line.co2_share_left[end]),
        "low": float(line.co2_share_low[end]),
        "high": float(line.co2_share_high[end]),
    }
    drifts = abs(line.open_ph - line.closed_ph) > LEAST_SHARE
    sentences = [say("time.soak" if drifts else "time.soak-no-gas", values)]
    if line.chalk or abs(line.open_ph - line.closed_ph) > LEAST_DRIFT_PH:
        # At rest with the air: a range where much chalk may fall out.
        lows = [settled.ph for settled in line.chalk if settled.moment == "after-airing"]
        ends: dict[str, Value] = {"ph": line.open_ph, "low": lows[0] if lows else line.open_ph}
        sentences.append(say("time.ends-chalk" if lows else "time.ends", ends))
    return sentences


# All of it


def time_lines(course: Course) -> Iterator[Line]:
    """Lines of ``time``: from the pour to the end of the soak."""
    stopped = course.forbidden
    yield from opening(course, course.title, None if stopped else how(course))
    yield from _looks(course)
    side = "time.heading.acid" if course.acid else "time.heading.alkaline"
    beside = [] if stopped else [other_way(course)]
    yield from under([*near_the_pour(course), *beside], side)
    if not stopped:
        yield from under(waiting(course), "time.heading.wait")
    yield from under(soaking(course), "time.heading.soak")
    yield from closing(course)


def _looks(course: Course) -> Iterator[Line]:
    """What is seen when, under a line for each of several pours."""
    yield from headed(looks_heading(course))
    start = {"time": say("time.at-start"), **sight(course.before_ph, course.before)}
    yield swatch(course.before.hex, say("time.row-same", start))
    for number, places in enumerate(looks(course), 1):
        if (heading := pour_heading(course, number)) is not None:
            yield Line(heading, 2)
        for place in places:
            local = course.colours_local if apart(course, place) else course.colours
            hexes = (str(course.colours.hex[place]), str(local.hex[place]))
            yield Line(row(course, place), 2, hexes=hexes)
    yield from under(turning(course))
