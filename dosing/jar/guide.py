"""How to do a jar test, in sentences: what to mix, what to fill, what to add and what to note.

The additions are laid out for this recipe; terminal and paper say the same words.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from dosing import wording
from dosing.assembly import assemble
from dosing.bath import colour_at
from dosing.equilibrium import water_density_kg_l
from dosing.inputs import RecipeInputs
from dosing.jar.answer import per_litre_before, target_ph
from dosing.jar.design import Design, first_design, units_to_ph
from dosing.jar.kit import finest_step
from dosing.jar.model import JarModel, jar_value, ph_noise
from dosing.powders import Blend, powder, undissolved
from dosing.records import DoseRange
from dosing.trade_values import typical
from indicator.appearance import SeenColour
from indicator.notes import Note, Value, say, sentence
from indicator.optics import View
from indicator.pigments import colourant


@dataclass(frozen=True)
class Row:
    """One line of the table that is filled in."""

    number: int
    add: float
    """Beyond the line before [unit]."""
    total: float
    ph: float
    """As the recipe's readings let expect."""
    colour: SeenColour | None
    """Of the jar at that pH; None without colour in it."""


@dataclass(frozen=True)
class Guide:
    """A jar test laid out for one recipe."""

    title: str
    by: str
    model: JarModel
    target_ph: float
    weighed_g: tuple[float, ...]
    percent: float
    colour_times: float
    rows: tuple[Row, ...]
    per_litre_before_g: DoseRange
    narrows_to: float
    """Expected width of the dose's interval over that without the test."""
    others: tuple[tuple[str, float], ...]
    """Surer ways to read the jar, with what they would leave of the width."""
    command: str
    """What is typed when the table is filled in."""
    notes: tuple[Note, ...]


def guide(
    model: JarModel,
    by: str,
    *,
    target: str | None,
    weighed_g: Sequence[float],
    percent: float,
    colour_times: float,
    view: View,
    command: str,
) -> Guide:
    """Lay a jar test out.

    Parameters
    ----------
    model : JarModel
        The jar and the tub.
    by : str
        What will be read.
    target : str, optional
        A pH, a colour word or a hex colour; the recipe's if not given.
    weighed_g : sequence of float
        Weighings of the solution [g].
    percent : float
        Its strength [% by weight].
    colour_times : float
        Colour over that of the tub.
    view : View
        How the jar is looked at.
    command : str
        What is typed afterwards.
    """
    ph = target_ph(model, target)
    start = np.zeros(len(model.names))
    step = finest_step(model.titrant, units_to_ph(model, start, ph))
    design = first_design(model, by, ph, step)
    left = _left(design)
    return Guide(
        title=model.tub.title,
        by=by,
        model=model,
        target_ph=ph,
        weighed_g=tuple(weighed_g),
        percent=percent,
        colour_times=colour_times,
        rows=_rows(model, design, view),
        per_litre_before_g=per_litre_before(model, ph),
        narrows_to=left,
        others=_surer(model, by, ph, step, left),
        command=command,
        notes=undissolved(
            Blend(model.tub.activator.parts).parts, 10.0 * percent, 1.0 - percent / 100.0, 20.0
        ),
    )


def _left(design: Design) -> float:
    """Expected width of the dose's interval over that without the test."""
    return min(design.width_after / max(design.width_before, 1e-12), 1.0)


def _surer(
    model: JarModel, by: str, ph: float, step: float, left: float
) -> tuple[tuple[str, float], ...]:
    """Other ways to read the jar, where this one leaves much open."""
    if left <= jar_value("much_left"):
        return ()
    jar, found = model.jar, []
    plain = replace(jar, inputs=replace(jar.inputs, foam_bath=None, colours=()))
    for other, sample in (("meter", jar), ("drop-kit", plain), ("strip", plain)):
        if other == by:
            continue
        shared = ph_noise(other, ph)[1]
        share = _left(
            first_design(JarModel(model.tub, sample, model.titrant, "ph", shared), other, ph, step)
        )
        if share < jar_value("worth_changing") * left:
            found.append((other, share))
    return tuple(found)


def _rows(model: JarModel, design: Design, view: View) -> tuple[Row, ...]:
    numbers = np.zeros(len(model.names))
    ph = model.jar_ph(numbers, design.totals)
    bath = assemble(model.jar.inputs).bath
    colours = colour_at(bath.strengths, ph, view, bath.surfactants_g_l) if bath.strengths else None
    return tuple(
        Row(
            number=k + 1,
            add=float(design.additions[k]),
            total=float(design.totals[k]),
            ph=float(ph[k]),
            colour=None if colours is None else colours.at(k),
        )
        for k in range(len(ph))
    )


def amount(value: float, unit: str) -> str:
    """An addition as its tool shows it."""
    whole = abs(value - round(value)) < 1e-6
    number = f"{value:.0f}" if whole else f"{value:.2f}".rstrip("0")
    return say(f"jar.unit.{unit.lower()}", {"number": number})


def addition(row: Row, unit: str) -> str:
    """What a line adds; a dash where nothing is added yet."""
    return amount(row.add, unit) if row.add > 0 else say("jar.unit.none")


def headline(one: Guide) -> list[str]:
    """What the test is for, and what it is expected to buy."""
    before = one.per_litre_before_g
    values: dict[str, Value] = {
        "target": one.target_ph,
        "low": 100.0 * before.low,
        "high": 100.0 * before.high,
        "share": one.narrows_to,
        "powder": _powders(one.model.tub),
    }
    lines = [say("jar.do.why", values)]
    if one.others:
        ways = say("plan.comma").join(
            say("jar.do.way", {"way": say(f"jar.do.way-{other}"), "share": share})
            for other, share in one.others
        )
        lines.append(say("jar.do.others", {"ways": ways}))
    return lines


def kit(one: Guide) -> list[str]:
    """What has to be at hand."""
    unit = one.model.titrant.unit
    tool = say(f"jar.do.tool-{unit.lower()}")
    reading = say(f"jar.do.kit-{one.by}")
    values: dict[str, Value] = {
        "jar": say("jar.do.size", {"litres": one.model.jar.litres}),
        "tool": tool,
        "reading": reading,
        "powder": _powders(one.model.tub),
    }
    return [say("jar.do.kit", values)]


def acid(one: Guide) -> list[str]:
    """How the acid is made."""
    name = _powders(one.model.tub)
    if one.model.titrant.unit in ("g", "pinches"):
        return [say("jar.do.dry", {"powder": name})]
    percent = f"{one.percent:g}"
    if len(one.weighed_g) == 1:
        (grams,) = one.weighed_g
        values: dict[str, Value] = {
            "grams": f"{grams:g}",
            "water": f"{grams * (100.0 / one.percent - 1.0):.0f}",
            "powder": name,
            "percent": percent,
        }
        return [say("jar.do.solution", values), *map(sentence, one.notes)]
    first, second = one.weighed_g[:2]
    stock = jar_value("stock_percent")
    values = {
        "powder": name,
        "grams": f"{first:g}",
        "water": f"{first * (100.0 / stock - 1.0):.0f}",
        "stock": f"{stock:g}",
        "taken": f"{second:g}",
        "more": f"{second * (stock / one.percent - 1.0):.0f}",
        "percent": percent,
    }
    return [
        say("jar.do.stock", values),
        say("jar.do.thin", values),
        *map(sentence, one.notes),
    ]


def filling(one: Guide) -> list[str]:
    """What goes into the jar."""
    jar, tub = one.model.jar, one.model.tub
    grams = f"{1000.0 * jar.litres * float(water_density_kg_l(jar.temperature_c)):.0f}"
    values: dict[str, Value] = {"grams": grams, "temperature": jar.temperature_c}
    lines = [say("jar.do.water", values)]
    share = jar.litres / float(assemble(tub).bath.volume_l)
    if jar.inputs.foam_bath is not None:
        foam = _small(jar.inputs.foam_bath.amount_ml * share, "mL")
        lines.append(say("jar.do.foam", {"amount": foam}))
    for colour in jar.inputs.colours:
        part = _small(colour.amount * share * one.colour_times, colour.amount_unit)
        values = {"amount": part, "colour": colourant(colour.name).label}
        lines.append(say("jar.do.colour", values))
    if jar.inputs.colours and one.colour_times != 1.0:
        lines.append(say("jar.do.times", {"times": f"{one.colour_times:g}"}))
    if not jar.inputs.colours and tub.colours:
        lines.append(say("jar.do.plain"))
    return lines


def reading(one: Guide) -> list[str]:
    """How each reading is taken."""
    return [say("jar.do.read-first"), say(f"jar.do.read-{one.by}"), say("jar.do.stir")]


def entering(one: Guide) -> list[str]:
    """What is typed when the table is filled in."""
    column = "hex" if one.by == "colour" else "ph"
    values: dict[str, Value] = {"amount": one.model.titrant.unit.lower(), "reading": column}
    return [say("jar.do.file", values), one.command]


def minding(one: Guide) -> list[str]:
    """What to take care of."""
    return [say("jar.do.mind")]


def _small(value: float, unit: str) -> str:
    shown = f"{wording.two_figures(value)} {unit}"
    if unit == "mL" and value < 1.0:
        return say(
            "jar.do.few-drops",
            {"amount": shown, "drops": f"{max(value / typical('drop_volume').value, 1.0):.0f}"},
        )
    return shown


def _powders(inputs: RecipeInputs) -> str:
    names = Blend(inputs.activator.parts).parts
    return say("plan.and").join(powder(name).label for name in names)
