"""How to do a jar test, in sentences: what to mix, what to fill, what to add and what to note.

The additions are laid out for this recipe; terminal and paper say the same words.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from dosing.bath.assembled import assemble
from dosing.bath.mixed import colour_at
from dosing.equilibrium import water_density_kg_l
from dosing.ingredients.powders import Blend, powder, undissolved
from dosing.ingredients.trade_values import typical
from dosing.jar.answer import per_litre_before, target_ph
from dosing.jar.design import Design, first_design, units_to_ph
from dosing.jar.doubts import LITTLE_TOLD
from dosing.jar.kit import KITCHEN_C, finest_step
from dosing.jar.model import JarModel, Titrant, jar_value, kind_read, ph_noise
from dosing.plan.cautions import LEVELS, gate_level, judged_bathers
from dosing.plan.records import DoseRange
from dosing.words import wording
from indicator.appearance import SeenColour
from indicator.notes import Note, Value, say, sentence
from indicator.optics import View

PER = 100.0
"""Litres that a dose is told for."""
FAR = 2.0
"""Over what the target takes: additions beyond tell the pigment's own colours."""
BUCKET = 5.0
"""From here on a jar is a bucket already [L]."""
COARSE = 3.0
"""Steps of the tool that adds: a target nearer than that is hardly found with it."""


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
class Surer:
    """A surer way to do the test."""

    way: str
    """What is read with instead, or ``"syringe"`` for a solution by the mL."""
    share: float
    """Expected width of the dose's interval over that without any test."""


@dataclass(frozen=True)
class Guide:
    """A jar test laid out for one recipe."""

    title: str
    by: str
    model: JarModel
    target_ph: float
    aim: float
    """What takes the jar to the target [unit]."""
    powder: str
    """Its name, of what goes into the jar."""
    weighed_g: tuple[float, ...]
    """Empty where the powder is added dry."""
    percent: float
    colour_times: float
    rows: tuple[Row, ...]
    per_litre_before_g: DoseRange
    narrows_to: float
    """Expected width of the dose's interval over that without the test."""
    others: tuple[Surer, ...]
    command: str
    """What is typed when the table is filled in."""
    notes: tuple[Note, ...]

    @property
    def dry(self) -> bool:
        """Whether powder is added dry."""
        return not self.weighed_g

    @property
    def either_way_g(self) -> float:
        """Half the width of the dose's interval without the test [g in 100 L]."""
        return 0.5 * PER * (self.per_litre_before_g.high - self.per_litre_before_g.low)


def guide(
    model: JarModel,
    by: str,
    *,
    target: str | None,
    parts: Mapping[str, float],
    weighed_g: Sequence[float],
    percent: float,
    colour_times: float,
    view: View,
    command: str,
    syringe: Titrant | None = None,
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
    parts : mapping of str to float
        The powder or blend that goes into the jar.
    weighed_g : sequence of float
        Weighings of the solution [g]; none where powder is added dry.
    percent : float
        Its strength [% by weight].
    colour_times : float
        Colour over that of the tub.
    view : View
        How the jar is looked at.
    command : str
        What is typed afterwards.
    syringe : Titrant, optional
        A solution by the mL, where something else is added and this may be surer.
    """
    ph = target_ph(model, target)
    aim = units_to_ph(model, np.zeros(len(model.names)), ph)
    design = _laid_out(model, by, ph)
    left = _left(design)
    others = _other_tool(model, by, ph, left, syringe) + _other_readings(model, by, ph, left)
    return Guide(
        title=model.tub.title,
        by=by,
        model=model,
        target_ph=ph,
        aim=aim,
        powder=powders(parts),
        weighed_g=tuple(weighed_g),
        percent=percent,
        colour_times=colour_times,
        rows=_rows(model, design, view),
        per_litre_before_g=per_litre_before(model, ph),
        narrows_to=left,
        others=others,
        command=command,
        notes=_undissolved(parts, weighed_g, percent),
    )


def _undissolved(
    parts: Mapping[str, float], weighed_g: Sequence[float], percent: float
) -> tuple[Note, ...]:
    """What would stay on the bottom of the strongest solution that is made."""
    if not weighed_g:
        return ()
    strongest = jar_value("stock_percent") if len(weighed_g) > 1 else percent
    grams = weighed_g[0]
    return undissolved(
        Blend(parts).parts, grams, grams * (100.0 / strongest - 1.0) / 1000.0, KITCHEN_C
    )


def _laid_out(model: JarModel, by: str, ph: float) -> Design:
    """The additions of a whole test, in steps that its tool can tell."""
    aim = units_to_ph(model, np.zeros(len(model.names)), ph)
    return first_design(model, by, ph, finest_step(model.titrant, aim))


def _left(design: Design) -> float:
    """Expected width of the dose's interval over that without the test."""
    return min(design.width_after / max(design.width_before, 1e-12), 1.0)


def _other_tool(
    model: JarModel, by: str, ph: float, left: float, syringe: Titrant | None
) -> tuple[Surer, ...]:
    """A syringe in place of drops or dry powder, where that is worth changing."""
    if syringe is None:
        return ()
    other = JarModel(model.tub, model.jar, syringe, model.kind, model.shared_sd, model.view)
    share = _left(_laid_out(other, by, ph))
    return (Surer("syringe", share),) if share < jar_value("worth_changing") * left else ()


def _other_readings(model: JarModel, by: str, ph: float, left: float) -> tuple[Surer, ...]:
    """Other ways to read the jar, where this one leaves much open."""
    if left <= jar_value("much_left"):
        return ()
    jar, found = model.jar, []
    plain = replace(jar, inputs=replace(jar.inputs, foam_bath=None, colours=()))
    for other, sample in (("meter", jar), ("drop-kit", plain), ("strip", plain)):
        if other == by:
            continue
        read = JarModel(model.tub, sample, model.titrant, "ph", ph_noise(other, ph)[1])
        share = _left(_laid_out(read, other, ph))
        if share < jar_value("worth_changing") * left:
            found.append(Surer(other, share))
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
    one = "-one" if number == "1" and unit in ("drops", "pinches") else ""
    return say(f"jar.unit.{unit.lower()}{one}", {"number": number})


def addition(row: Row, unit: str) -> str:
    """What a line adds; a dash where nothing is added yet."""
    return amount(row.add, unit) if row.add > 0 else say("jar.unit.none")


def either_way(grams: float) -> str:
    """How far a dose in 100 L may be off, in grams."""
    return say("jar.do.either-way", {"grams": wording.two_figures(grams)})


def headline(one: Guide) -> list[str]:
    """What the test is for, and what it is expected to buy."""
    before = one.per_litre_before_g
    values: dict[str, Value] = {
        "target": one.target_ph,
        "low": wording.two_figures(PER * before.low),
        "high": wording.two_figures(PER * before.high),
        "before": either_way(one.either_way_g),
        "after": either_way(one.narrows_to * one.either_way_g),
        "powder": powders(one.model.tub.activator.parts),
    }
    lines = [say("jar.do.why", values)]
    if one.narrows_to > LITTLE_TOLD:
        lines.append(say("jar.do.little"))
    if one.others:
        ways = say("jar.do.between").join(_surer_way(one, other) for other in one.others)
        lines.append(say("jar.do.others", {"ways": ways}))
    return lines


def _surer_way(one: Guide, other: Surer) -> str:
    values: dict[str, Value] = {
        "way": say(f"jar.do.way-{other.way}", {"percent": jar_value("solution_percent")}),
        "after": either_way(other.share * one.either_way_g),
    }
    return say("jar.do.way", values)


def kit(one: Guide) -> list[str]:
    """What has to be at hand."""
    unit = one.model.titrant.unit.lower()
    values: dict[str, Value] = {
        "jar": say("jar.do.size", {"litres": one.model.jar.litres}),
        "tool": say(f"jar.do.tool-{unit}"),
        "reading": say(f"jar.do.kit-{one.by}"),
        "powder": one.powder,
    }
    return [say("jar.do.kit", values)]


def acid(one: Guide) -> list[str]:
    """How the acid is made."""
    if one.dry:
        return [say("jar.do.dry", {"powder": one.powder})]
    lines = [*_mixed(one), *map(sentence, one.notes)]
    if one.model.titrant.unit == "drops":
        lines.append(say("jar.do.count-drops"))
    return lines


def _mixed(one: Guide) -> list[str]:
    """What is weighed and mixed: all at once, or a stock that is thinned."""
    first, *more = one.weighed_g
    percent = jar_value("stock_percent") if more else one.percent
    values: dict[str, Value] = {
        "powder": one.powder,
        "grams": f"{first:g}",
        "water": f"{first * (100.0 / percent - 1.0):.0f}",
        "stock": f"{percent:g}",
        "percent": f"{one.percent:g}",
    }
    if not more:
        return [say("jar.do.solution", values)]
    thinned: dict[str, Value] = {
        "taken": f"{more[0]:g}",
        "more": f"{more[0] * (percent / one.percent - 1.0):.0f}",
        "percent": f"{one.percent:g}",
    }
    return [say("jar.do.stock", values), say("jar.do.thin", thinned)]


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
        values = {"amount": part, "colour": colour.colourant.label}
        lines.append(say("jar.do.colour", values))
    if jar.inputs.colours and one.colour_times != 1.0:
        lines.append(say("jar.do.times", {"times": f"{one.colour_times:g}"}))
    if kind_read(one.by) != "ph" and one.model.view is not None:
        lines.append(say("jar.do.wide", {"path": one.model.view.path_cm}))
    if not jar.inputs.colours and tub.colours:
        lines.append(say("jar.do.plain"))
    return lines


def reading(one: Guide) -> list[str]:
    """How each reading is taken."""
    lines = [say("jar.do.read-first"), say(f"jar.do.read-{one.by}"), say("jar.do.stir")]
    return lines + steps(one)


def steps(one: Guide) -> list[str]:
    """What the additions are for, where that is not plain from the table."""
    titrant = one.model.titrant
    if one.aim < COARSE * finest_step(titrant, one.aim):
        aim = say(f"jar.unit.{titrant.unit.lower()}", {"number": wording.two_figures(one.aim)})
        where = "coarse" if one.model.jar.litres < BUCKET else "coarse-still"
        return [say(f"jar.do.{where}", {"aim": aim})]
    if kind_read(one.by) == "ph":
        return []
    far = one.rows[-1].total > FAR * one.aim
    return [say(f"jar.do.alike-{one.by}"), *([say("jar.do.far")] if far else [])]


def entering(one: Guide) -> list[str]:
    """What is typed when the table is filled in."""
    values: dict[str, Value] = {"amount": one.model.titrant.unit.lower()}
    if one.by == "photograph":
        return [say("jar.do.file-photograph", values), one.command, say("jar.do.patches")]
    reading = "hex,white" if one.by == "colour" else kind_read(one.by)
    return [say("jar.do.file", values | {"reading": reading}), one.command]


def minding(one: Guide) -> list[str]:
    """What to take care of, and where the acid that is left goes."""
    return [*_beyond(one), say("jar.do.mind"), *_rest(one)]


def _beyond(one: Guide) -> list[str]:
    """That a jar may go where a bath may not."""
    bathers = judged_bathers(one.model.tub.wish.bathers)
    if int(gate_level(one.target_ph, bathers)) < LEVELS.index("justify"):
        return []
    values: dict[str, Value] = {"ph": one.target_ph, "bathers": say(f"jar.for.{bathers}")}
    return [say("jar.do.beyond", values)]


def _rest(one: Guide) -> list[str]:
    """How much acid is left, which is far more than a bath may get."""
    if one.dry:
        return []
    first, *more = one.weighed_g
    if not more:
        return [say("jar.do.rest", {"acid": f"{first:g}", "powder": one.powder})]
    stock = jar_value("stock_percent") / 100.0
    left = first / stock - more[0]
    values: dict[str, Value] = {
        "left": f"{left:.0f}",
        "acid": wording.two_figures(stock * left),
        "powder": one.powder,
    }
    return [say("jar.do.rest-stock", values)]


def _small(value: float, unit: str) -> str:
    shown = f"{wording.two_figures(value)} {unit}"
    if unit == "mL" and value < 1.0:
        return say(
            "jar.do.few-drops",
            {"amount": shown, "drops": f"{max(value / typical('drop_volume').value, 1.0):.0f}"},
        )
    return shown


def powders(parts: Mapping[str, float]) -> str:
    """The names of a powder or blend."""
    return say("plan.and").join(powder(name).label for name in Blend(parts).parts)
