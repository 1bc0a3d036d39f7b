"""A jar test laid out for one recipe: what to mix, what to add, and what is to be expected."""

from __future__ import annotations

from dataclasses import dataclass, replace

from dosing.bath.assembled import assemble
from dosing.bath.mixed import colour_at
from dosing.ingredients.powders import undissolved
from dosing.jar.answer import per_litre_before, target_ph
from dosing.jar.bench import Bench
from dosing.jar.design import Additions, first_additions, units_to_ph
from dosing.jar.kit import KITCHEN_C
from dosing.jar.model import JarModel, jar_value, ph_noise
from dosing.plan.records import DoseRange
from indicator.appearance import SeenColour
from indicator.notes import Note


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
class SurerWay:
    """A surer way to do the test."""

    by: str
    """What is read with instead, or ``"syringe"`` for a solution by the mL."""
    expected_share_of_width: float
    """Expected width of the dose's interval over that without any test."""


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
    """What takes the jar to the target [unit of the additions]."""
    powders: tuple[str, ...]
    """Of what goes into the jar."""
    weighed_g: tuple[float, ...]
    """Weighings of the solution; empty where powder is added dry."""
    solution_percent: float | None
    """By weight; null where powder is added dry."""
    jar_l: float
    """Water in the jar before any acid."""
    plain: bool
    """Whether the jar holds tap water alone."""
    colour_times: float
    """Colour over what the tub has in as much water."""
    readings: tuple[TableRow, ...]
    per_litre_before_g: DoseRange
    """Without the test."""
    expected_share_of_width: float
    """Expected width of the dose's interval over that without the test."""
    surer_ways: tuple[SurerWay, ...]
    notes: tuple[Note, ...]

    @property
    def fits(self) -> bool:
        """Whether the jar has room for what is added."""
        return self.unit != "mL" or self.readings[-1].total <= 1000.0 * self.jar_l


def guide(bench: Bench, target: str | None) -> Guide:
    """Lay a jar test out.

    Parameters
    ----------
    bench : Bench
        As `Bench.laid_out` fills it in.
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
    model = bench.model()
    ph = target_ph(model, target)
    aim = units_to_ph(model, ph)
    additions = first_additions(model, bench.by, ph)
    share, content = additions.share_of_width, model.jar.inputs
    return Guide(
        title=model.tub.title,
        by=bench.by,
        unit=bench.unit,
        bench=bench,
        model=model,
        target_ph=ph,
        aim=aim,
        powders=tuple(bench.parts),
        weighed_g=bench.weighed_g,
        solution_percent=None if bench.dry else bench.strength_percent,
        jar_l=model.jar.litres,
        plain=not content.colours and content.foam_bath is None,
        colour_times=bench.times,
        readings=_rows(model, additions),
        per_litre_before_g=per_litre_before(model, ph),
        expected_share_of_width=share,
        surer_ways=_surer_ways(bench, model, ph, share),
        notes=_undissolved(bench),
    )


def _undissolved(bench: Bench) -> tuple[Note, ...]:
    """What would stay on the bottom of the strongest solution that is made."""
    if bench.dry:
        return ()
    first, *more = bench.weighed_g
    strongest = jar_value("stock_percent") if more else bench.strength_percent
    litres = first * (100.0 / strongest - 1.0) / 1000.0
    return undissolved(bench.parts, first, litres, KITCHEN_C)


def _surer_ways(bench: Bench, model: JarModel, ph: float, share: float) -> tuple[SurerWay, ...]:
    """A syringe in place of drops or dry powder, and other readings where this one leaves much."""
    tests: dict[str, tuple[JarModel, str]] = {}
    if bench.unit != "mL":
        by_ml = replace(bench, unit="mL", percent=None, weighed_g=())
        by_ml = replace(by_ml, weighed_g=by_ml.good_weighings())
        tests["syringe"] = (by_ml.model(), bench.by)
    if share > jar_value("much_left"):
        jar = model.jar
        plain = replace(jar, inputs=replace(jar.inputs, foam_bath=None, colours=()))
        for by, sample in (("meter", jar), ("drop-kit", plain), ("strip", plain)):
            if by != bench.by:
                shared = ph_noise(by, ph)[1]
                tests[by] = (JarModel(model.tub, sample, model.titrant, "ph", shared), by)
    left = {way: first_additions(*test, ph).share_of_width for way, test in tests.items()}
    worth = jar_value("worth_changing") * share
    return tuple(SurerWay(way, of) for way, of in left.items() if of < worth)


def _rows(model: JarModel, additions: Additions) -> tuple[TableRow, ...]:
    ph = model.jar_ph(model.as_read, additions.totals)
    bath, colours = assemble(model.jar.inputs).bath, None
    if bath.strengths and model.view is not None:
        colours = colour_at(bath.strengths, ph, model.view, bath.surfactants_g_l)
    return tuple(
        TableRow(
            number=k + 1,
            add=float(additions.additions[k]),
            total=float(additions.totals[k]),
            expected_ph=float(ph[k]),
            expected=None if colours is None else colours.at(k),
        )
        for k in range(len(ph))
    )
