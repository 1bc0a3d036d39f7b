"""A jar test laid out for one recipe: what to mix, what to add, and what is to be expected."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from dosing.bath.assembled import assemble
from dosing.bath.mixed import colour_at
from dosing.equilibrium import water_density_kg_l
from dosing.ingredients.powders import powders_on_scale_g
from dosing.ingredients.trade_values import typical
from dosing.jar.answer import aim_as_read, per_litre_before, per_litre_by_turn
from dosing.jar.bench import Bench, water_was_read
from dosing.jar.design import first_additions, units_to_ph
from dosing.jar.doubts import LITTLE_TOLD
from dosing.jar.kit import finest_step
from dosing.jar.model import Array, JarModel
from dosing.plan.cautions import Caution, Verdicts
from dosing.plan.levels import LEVELS, gate_level, judged_bathers
from dosing.plan.records import DoseRange
from indicator.appearance import SeenColour

PER_L = 100.0
"""Litres that a dose is told for."""
BUCKET_L = 5.0
"""From here on a jar is a bucket already [L]."""
COARSE = 3.0
"""Steps of the tool that adds: a target nearer than that is hardly found with it."""
STOP_TIMES = 4.0
"""Over what is expected: where a jar that has not turned is given up."""


@dataclass(frozen=True)
class TableRow:
    """One line of the table that is filled in."""

    number: int
    """From 1."""
    add: float
    """Beyond the line before [unit of the additions]."""
    total: float
    """In the jar then [unit of the additions]."""
    expected_ph: float
    """As the recipe's readings let expect."""
    expected: SeenColour | None
    """The jar at that pH; null without colour in it."""


@dataclass(frozen=True)
class IntoJar:
    """A measure of colour or foam bath that goes into the jar beside its water."""

    name: str
    """Of the colour; empty for the foam bath."""
    kind: str
    """``"pigment"`` (of which the brew is strained), ``"dye"`` or ``"foam bath"``."""
    ml: float | None
    """Of the liquid, the strained brew of petals [mL]; null for a powder."""
    grams: float | None

    @property
    def teaspoons(self) -> float | None:
        """Teaspoons of it, where halves of it tell; else null."""
        if self.ml is None:
            return None
        halves = 2.0 * self.ml / typical("teaspoon_us").value
        whole = round(halves)
        return whole / 2.0 if whole and abs(halves - whole) < 0.05 * halves else None

    @property
    def drops(self) -> int | None:
        """Drops of it, where it is less than a millilitre; else null."""
        if self.ml is None or self.ml >= 1.0:
            return None
        return max(round(self.ml / typical("drop_volume").value), 1)


@dataclass(frozen=True)
class Guide:
    """A jar test laid out for one recipe."""

    title: str
    by: str
    """What is read."""
    unit: str
    """Of the additions."""
    bench: Bench
    model: JarModel
    target_ph: float
    aim: float
    """What takes the jar to the target or, by eye, to its turn [unit of the additions]."""
    aim_low: float
    """The same where the water takes little acid."""
    aim_high: float
    """The same where it takes much."""
    aim_matched: float | None
    """What takes its twin with the soda there; null where there is none."""
    solution: tuple[tuple[str, float], ...]
    """Grams of each powder in the first solution that is made; of a dry mix their shares."""
    solution_water_g: float | None
    """Water that they go into; null where powder is added dry."""
    thinned: tuple[float, float] | None
    """Grams of that solution and of water that make a weaker one; null where it is not thinned."""
    spoonfuls: float | None
    """Teaspoons of powder in a litre of tap water, where it is made by the spoon."""
    solution_percent: float | None
    """By weight; null where powder is added dry."""
    jar_l: float
    """Water in the jar before any acid."""
    jar_g: float
    """The same by weight."""
    into_jar: tuple[IntoJar, ...]
    colour_times: float
    """Colour over what the tub has in as much water."""
    readings: tuple[TableRow, ...]
    """What is added and read; of a turn, which is counted, none."""
    per_litre_before_g: DoseRange
    """Without the test."""
    expected_share_of_width: float
    """Expected width of the dose's interval over that without the test."""
    colour_first: bool = False
    """Whether the plan pours nothing before the tub has more colour: no jar mends that."""
    by_meter_g: float | None = None
    """`after_g` of the same test with a pH meter; null where that is not worth a word."""

    @property
    def plain(self) -> bool:
        """Whether the jar holds tap water alone."""
        return not self.into_jar

    @property
    def fits(self) -> bool:
        """Whether the jar has room for what is added."""
        return self.unit != "mL" or self.readings[-1].total <= 1000.0 * self.jar_l

    @property
    def useful(self) -> bool:
        """Whether the test can be done, and says what to pour."""
        return self.fits and not self.colour_first

    @property
    def give_up(self) -> float:
        """Units at which a jar that has not turned is given up, with what is wrong in it."""
        return float(np.ceil(max(self.aim_high, STOP_TIMES * self.aim)))

    @property
    def totals(self) -> tuple[float, ...]:
        """Totals in the jar at each reading, but for the first [unit of the additions]."""
        return tuple(row.total for row in self.readings if row.total > 0)

    @property
    def before_g(self) -> float:
        """Error of the dose in 100 L without the test, either way [g]."""
        return 0.5 * PER_L * (self.per_litre_before_g.high - self.per_litre_before_g.low)

    @property
    def after_g(self) -> float:
        """Error of the dose in 100 L after the test, either way [g]."""
        return self.expected_share_of_width * self.before_g

    @property
    def tells_little(self) -> bool:
        """Whether the test is hardly better than what is known already."""
        # By eye it stands in for a reading that nobody took.
        known = self.by != "turn" or water_was_read(self.bench.recipe)
        return known and self.expected_share_of_width > LITTLE_TOLD

    @property
    def meter_tells(self) -> bool:
        """Whether a pH meter is worth getting: with it the dose is clearly surer."""
        return self.by_meter_g is not None and self.by_meter_g < LITTLE_TOLD * min(
            self.before_g, self.after_g
        )

    @property
    def coarse(self) -> bool:
        """Whether the target is too near for the tool that adds."""
        return self.aim < COARSE * finest_step(self.model.titrant, self.aim)

    @property
    def in_bucket(self) -> bool:
        """Whether the jar is a bucket already."""
        return self.jar_l >= BUCKET_L

    @property
    def beyond_bath(self) -> bool:
        """Whether the jar goes where the bath may not."""
        bathers = judged_bathers(self.model.tub.wish.bathers)
        return int(gate_level(self.target_ph, bathers)) >= LEVELS.index("justify")


@dataclass(frozen=True)
class Instructions:
    """Answer of ``jar --instructions``."""

    answer: Guide
    command: str
    """What is typed when the test is done."""
    verdicts: Verdicts
    """Pouring before any acid; giving and selling as it is planned."""
    cautions: tuple[Caution, ...]


def guide(bench: Bench, target: str | None) -> Guide:
    """Lay a jar test out.

    Parameters
    ----------
    bench : Bench
        What is at hand; what is not said is filled in.
    target : str, optional
        A pH, a colour word or a hex colour; the recipe's if None.

    Returns
    -------
    Guide

    Raises
    ------
    ValueError
        If the target is none, or the bench cannot be used.
    """
    planned = aim_as_read(bench.model(), target)
    ph = planned.ph
    bench = bench.laid_out(ph)
    model = bench.model()
    before = per_litre_before(model, ph)
    aim = units_to_ph(model, bench.turn[0] if bench.by == "turn" else ph)
    low = high = aim
    if before.best > 0:
        low, high = (aim * end / before.best for end in (before.low, before.high))
    rows: tuple[TableRow, ...] = ()
    matched = None
    if bench.by == "turn":
        jars = bench.expected_turns(aim)
        matched = float(jars.added[-1]) if jars.soda else None
        after = per_litre_by_turn(bench.model(jars), jars, planned.wish.ph)
        share = min((after.high - after.low) / (before.high - before.low), 1.0)
    else:
        additions = first_additions(model, bench.by, ph)
        rows, share = _rows(model, additions.totals), additions.share_of_width
    dry = bench.dry
    grams, water_g = (1.0, None) if dry else bench.made_from
    litres, warmth = model.jar.litres, model.jar.temperature_c
    return Guide(
        title=model.tub.title,
        by=bench.by,
        unit=bench.unit,
        bench=bench,
        model=model,
        target_ph=ph,
        aim=aim,
        aim_low=low,
        aim_high=high,
        aim_matched=matched,
        solution=tuple(bench.parts.items()) if dry else powders_on_scale_g(bench.parts, grams),
        solution_water_g=water_g,
        thinned=None if dry else bench.thinned_from,
        spoonfuls=bench.spoonfuls,
        solution_percent=None if dry else bench.strength_percent,
        jar_l=litres,
        jar_g=1000.0 * litres * float(water_density_kg_l(warmth)),
        into_jar=_into_jar(model),
        colour_times=bench.times,
        readings=rows,
        per_litre_before_g=before,
        expected_share_of_width=share,
        colour_first=planned.colour_first,
    )


def _into_jar(model: JarModel) -> tuple[IntoJar, ...]:
    """Foam bath and colour as a kitchen measures them: of petals the strained brew."""
    jar = model.jar
    share = jar.litres / float(assemble(model.tub).bath.volume_l)
    foam = jar.inputs.foam_bath
    things = [] if foam is None else [IntoJar("", "foam bath", share * foam.amount_ml, None)]
    for colour in jar.inputs.colours:
        if colour.held_in == "foam bath":
            continue
        liquid = colour.amount_unit != "g" or colour.volume_l > 0
        ml, grams = 1000.0 * share * colour.volume_l, share * colour.amount
        which = colour.colourant
        amount = (ml, None) if liquid else (None, grams)
        things.append(IntoJar(which.label, which.kind, *amount))
    return tuple(things)


def _rows(model: JarModel, totals: Array) -> tuple[TableRow, ...]:
    ph, adds = model.jar_ph(model.as_read, totals), np.diff(totals, prepend=0.0)
    bath, colours = assemble(model.jar.inputs).bath, None
    if bath.strengths and model.view is not None:
        colours = colour_at(bath.strengths, ph, model.view, bath.surfactants_g_l)
    return tuple(
        TableRow(
            number=k + 1,
            add=float(adds[k]),
            total=float(totals[k]),
            expected_ph=float(ph[k]),
            expected=None if colours is None else colours.at(k),
        )
        for k in range(len(ph))
    )
