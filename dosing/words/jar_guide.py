"""Instructions of a jar test: what to mix, what to fill, what to add and what to note.

Terminal and paper say the same words.
"""

from __future__ import annotations

from collections.abc import Iterable

from dosing.bath.assembled import assemble
from dosing.equilibrium import water_density_kg_l
from dosing.ingredients.powders import powder
from dosing.ingredients.trade_values import typical
from dosing.jar.doubts import LITTLE_TOLD
from dosing.jar.guide import Guide, SurerWay
from dosing.jar.kit import finest_step
from dosing.jar.model import jar_value, kind_read
from dosing.plan.levels import LEVELS, gate_level, judged_bathers
from dosing.words import wording
from indicator.notes import Value, say, sentence

PER = 100.0
"""Litres that a dose is told for."""
FAR = 2.0
"""Over what the target takes: additions beyond tell the pigment's own colours."""
BUCKET = 5.0
"""From here on a jar is a bucket already [L]."""
COARSE = 3.0
"""Steps of the tool that adds: a target nearer than that is hardly found with it."""


def sections(guide: Guide) -> dict[str, list[str]]:
    """The sentences of a test by the name of their heading."""
    return {
        "why": _why(guide),
        "kit": _kit(guide),
        "acid": _acid(guide),
        "fill": _filling(guide),
        "read": _reading(guide),
        "mind": [*_beyond(guide), say("jar.do.mind"), *_acid_left(guide)],
    }


def instructions(guide: Guide) -> tuple[str, ...]:
    """All sentences of a test."""
    return tuple(text for texts in sections(guide).values() for text in texts)


def table(guide: Guide) -> list[list[str]]:
    """Table to write in: what to add, the total, what to expect; a line each below the heads."""
    heads = [say(f"jar.sheet.{name}") for name in ("add", "total", "expect", "yours")]
    lines = [
        [
            amount(row.add, guide.unit) if row.add > 0 else say("jar.unit.none"),
            amount(row.total, guide.unit),
            say("jar.do.expect-ph", {"ph": row.expected_ph}),
            say("jar.do.blank"),
        ]
        for row in guide.readings
    ]
    return [heads, *lines]


def amount(value: float, unit: str) -> str:
    """An addition as its tool shows it.

    Parameters
    ----------
    value : float
        How many units.
    unit : str
        Of `dosing.jar.kit.UNITS`.

    Returns
    -------
    str
    """
    whole = abs(value - round(value)) < 1e-6
    number = f"{value:.0f}" if whole else f"{value:.2f}".rstrip("0")
    singular = "-one" if number == "1" and unit in ("drops", "pinches") else ""
    return say(f"jar.unit.{unit.lower()}{singular}", {"number": number})


def either_way(grams: float) -> str:
    """Error of a dose in 100 L, in grams, as a phrase."""
    return say("jar.do.either-way", {"grams": wording.two_figures(grams)})


def half_width(low: float, high: float) -> float:
    """Error of a dose per litre, either way [g in 100 L].

    Parameters
    ----------
    low, high : float
        Its ends [g/L].

    Returns
    -------
    float
        [g in 100 L].
    """
    return 0.5 * PER * (high - low)


def _why(guide: Guide) -> list[str]:
    """What the test is for, and what it is expected to buy."""
    before = guide.per_litre_before_g
    half = half_width(before.low, before.high)
    values: dict[str, Value] = {
        "target": guide.target_ph,
        "low": wording.two_figures(PER * before.low),
        "high": wording.two_figures(PER * before.high),
        "before": either_way(half),
        "after": either_way(guide.expected_share_of_width * half),
        "powder": powders(guide.model.tub.activator.parts),
    }
    lines = [say("jar.do.why", values)]
    if guide.expected_share_of_width > LITTLE_TOLD:
        lines.append(say("jar.do.little"))
    if guide.surer_ways:
        ways = say("jar.do.between").join(_surer_way(way, half) for way in guide.surer_ways)
        lines.append(say("jar.do.others", {"ways": ways}))
    return lines


def _surer_way(way: SurerWay, half: float) -> str:
    percent = jar_value("solution_percent")
    return say("jar.do.way", {
        "way": say(f"jar.do.way-{way.by}", {"percent": percent}),
        "after": either_way(way.expected_share_of_width * half),
    })  # fmt: skip


def _kit(guide: Guide) -> list[str]:
    """What has to be at hand."""
    return [say("jar.do.kit", {
        "jar": say("jar.do.size", {"litres": guide.jar_l}),
        "tool": say(f"jar.do.tool-{guide.unit.lower()}"),
        "reading": say(f"jar.do.kit-{guide.by}"),
        "powder": powders(guide.powders),
    })]  # fmt: skip


def _acid(guide: Guide) -> list[str]:
    """How the acid is made: all at once, or a stock that is thinned."""
    values: dict[str, Value] = {"powder": powders(guide.powders)}
    if guide.solution_percent is None:
        return [say("jar.do.dry", values)]
    first, *more = guide.weighed_g
    percent = guide.solution_percent
    stock = jar_value("stock_percent") if more else percent
    values |= {
        "grams": f"{first:g}",
        "water": f"{first * (100.0 / stock - 1.0):.0f}",
        "stock": f"{stock:g}",
        "percent": f"{percent:g}",
    }
    lines = [say("jar.do.stock" if more else "jar.do.solution", values)]
    if more:
        water = f"{more[0] * (stock / percent - 1.0):.0f}"
        thinned = {"taken": f"{more[0]:g}", "more": water, "percent": f"{percent:g}"}
        lines.append(say("jar.do.thin", {**thinned}))
    lines += map(sentence, guide.notes)
    return [*lines, *([say("jar.do.count-drops")] if guide.unit == "drops" else [])]


def _filling(guide: Guide) -> list[str]:
    """What goes into the jar."""
    jar, tub = guide.model.jar, guide.model.tub
    grams = f"{1000.0 * jar.litres * float(water_density_kg_l(jar.temperature_c)):.0f}"
    lines = [say("jar.do.water", {"grams": grams, "temperature": jar.temperature_c})]
    share = jar.litres / float(assemble(tub).bath.volume_l)
    if jar.inputs.foam_bath is not None:
        foam = _small(jar.inputs.foam_bath.amount_ml * share, "mL")
        lines.append(say("jar.do.foam", {"amount": foam}))
    for colour in jar.inputs.colours:
        part = _small(colour.amount * share * guide.colour_times, colour.amount_unit)
        label = colour.colourant.label
        lines.append(say("jar.do.colour", {"amount": part, "colour": label}))
    if jar.inputs.colours and guide.colour_times != 1.0:
        lines.append(say("jar.do.times", {"times": f"{guide.colour_times:g}"}))
    if kind_read(guide.by) != "ph" and guide.model.view is not None:
        lines.append(say("jar.do.wide", {"path": guide.model.view.path_cm}))
    if not jar.inputs.colours and tub.colours:
        lines.append(say("jar.do.plain"))
    return lines


def _reading(guide: Guide) -> list[str]:
    """How each reading is taken, and what the additions are for where that is not plain."""
    lines = [say("jar.do.read-first"), say(f"jar.do.read-{guide.by}"), say("jar.do.stir")]
    if guide.aim < COARSE * finest_step(guide.model.titrant, guide.aim):
        number = wording.two_figures(guide.aim)
        aim = say(f"jar.unit.{guide.unit.lower()}", {"number": number})
        where = "coarse" if guide.jar_l < BUCKET else "coarse-still"
        return [*lines, say(f"jar.do.{where}", {"aim": aim})]
    if kind_read(guide.by) == "ph":
        return lines
    far = guide.readings[-1].total > FAR * guide.aim
    return [*lines, say(f"jar.do.alike-{guide.by}"), *([say("jar.do.far")] if far else [])]


def entering(guide: Guide, command: str) -> list[str]:
    """Command that is typed when the table is filled in.

    Parameters
    ----------
    guide : Guide
        The test.
    command : str
        What corrects the dose; a line of its own.

    Returns
    -------
    list of str
    """
    values: dict[str, Value] = {"amount": guide.unit.lower()}
    if guide.by == "photograph":
        return [say("jar.do.file-photograph", values), command, say("jar.do.patches")]
    reading = "hex,white" if guide.by == "colour" else kind_read(guide.by)
    return [say("jar.do.file", values | {"reading": reading}), command]


def _beyond(guide: Guide) -> list[str]:
    """That a jar may go where a bath may not."""
    bathers = judged_bathers(guide.model.tub.wish.bathers)
    if int(gate_level(guide.target_ph, bathers)) < LEVELS.index("justify"):
        return []
    return [say("jar.do.beyond", {"ph": guide.target_ph, "bathers": say(f"jar.for.{bathers}")})]


def _acid_left(guide: Guide) -> list[str]:
    """How much acid is left, which is far more than a bath may get."""
    if not guide.weighed_g:
        return []
    first, *more = guide.weighed_g
    values: dict[str, Value] = {"acid": f"{first:g}", "powder": powders(guide.powders)}
    if not more:
        return [say("jar.do.rest", values)]
    stock = jar_value("stock_percent") / 100.0
    left = first / stock - more[0]
    values |= {"left": f"{left:.0f}", "acid": wording.two_figures(stock * left)}
    return [say("jar.do.rest-stock", values)]


def _small(value: float, unit: str) -> str:
    shown = f"{wording.two_figures(value)} {unit}"
    if unit != "mL" or value >= 1.0:
        return shown
    drops = max(value / typical("drop_volume").value, 1.0)
    return say("jar.do.few-drops", {"amount": shown, "drops": f"{drops:.0f}"})


def powders(names: Iterable[str]) -> str:
    """The labels of the powders of a blend."""
    return say("plan.and").join(powder(name).label for name in names)
