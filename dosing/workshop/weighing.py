"""Weighing a formula on a balance: rounded grams, and what the rounding does."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from dosing.equilibrium import solve
from dosing.ingredients.powders import kitchen_round_g, scale_floor_g
from dosing.ingredients.product import TITRATED_TO_PH
from dosing.ingredients.trade_values import typical
from dosing.recipe.quantities import InputError
from dosing.workshop.adjusters import adjuster_of
from dosing.workshop.composition import NUMBERS, Formula, Ingredient, opened
from dosing.workshop.materials import PERCENT, materials_by_name
from dosing.workshop.permissions import SubstanceLimit, substance_limits
from dosing.workshop.product import FOAM_BATH
from dosing.workshop.product_file import ProductFile
from indicator.tables import value_of

LEAST_SWING_PH = 0.3
"""A titration over less says nothing of how the pH moves."""
MEQ_PER_EQ, ENOUGH_MOL_KG = 1000.0, 0.01


@dataclass(frozen=True)
class Weighing:
    """One ingredient on the balance."""

    stage: int
    use: str
    label: str
    lot: str | None
    formula_percent: float
    """Share that the formula asks for [%]."""
    exact_g: float
    weigh_g: float
    """On the balance's step [g]."""
    percent: float
    """Share that comes of it [%]."""

    @property
    def moved(self) -> float:
        """Relative change of its share."""
        return self.percent / self.formula_percent - 1.0 if self.formula_percent else 0.0


@dataclass(frozen=True)
class Rounding:
    """Effect of a balance's step on a batch."""

    step_g: float
    most_moved: str
    """Ingredient whose share moves most."""
    most_moved_share: float
    """Relative change of that share."""
    finer: tuple[tuple[str, float], ...]
    """Each ingredient that this balance is too coarse for, with the step that would do [g]."""
    too_coarse: bool
    """Whether it moves an ingredient so far that the batch is another one."""
    ph_shift: float
    """Most that the pH moves by it, up positive; NaN where no pH adjuster is weighed."""
    held_down: tuple[str, ...]
    """Ingredients rounded down, since up would pass a limit."""
    broken: tuple[SubstanceLimit, ...]
    """Limits that the rounding breaks all the same."""

    @property
    def finer_g(self) -> float:
        """Finest step that an ingredient would need [g]; NaN where this balance will do."""
        return min((step for _, step in self.finer), default=math.nan)


def weigh(product: ProductFile, makes_g: float, step_g: float) -> tuple[Weighing, ...]:
    """Grams of each ingredient on a balance; what is the rest makes the sum exact.

    Parameters
    ----------
    product : ProductFile
        With its formula.
    makes_g : float
        The whole batch [g].
    step_g : float
        Of the balance [g].

    Returns
    -------
    tuple of Weighing
        In the maker's order.
    """
    lines = product.formula.ingredients
    exact = [
        makes_g * line.share_percent / sum(each.share_percent for each in lines) for line in lines
    ]
    down: frozenset[str] = frozenset()
    grams = _rounded(lines, exact, step_g, down)
    for limit in broken_limits(product, grams):
        down |= {line.use for line in lines if _counts_for(product, line, limit.substance)}
    grams = _rounded(lines, exact, step_g, down)
    whole = sum(grams)
    return tuple(
        Weighing(
            stage=line.stage,
            use=line.use,
            label=label_of(line.use),
            lot=line.lot or _lot_of_colour(product.formula, line.use),
            formula_percent=line.share_percent,
            exact_g=on,
            weigh_g=weighed,
            percent=PERCENT * weighed / whole,
        )
        for line, on, weighed in zip(lines, exact, grams, strict=True)
    )


def label_of(use: str) -> str:
    """Name of an ingredient for people."""
    row = materials_by_name().get(use)
    return use.replace("-", " ") if row is None else row.label


def _lot_of_colour(formula: Formula, use: str) -> str | None:
    colour = formula.colour_named(use)
    return None if colour is None else colour.lot


def _rounded(
    lines: Sequence[Ingredient], exact: Sequence[float], step_g: float, down: frozenset[str]
) -> list[float]:
    grams = [
        scale_floor_g(on, step_g) if line.use in down else float(kitchen_round_g(on, step_g))
        for line, on in zip(lines, exact, strict=True)
    ]
    rest = next((place for place, line in enumerate(lines) if line.is_rest), None)
    if rest is not None:
        grams[rest] = 0.0
        grams[rest] = max(float(kitchen_round_g(sum(exact), step_g)) - sum(grams), 0.0)
    return [round(weighed, 6) for weighed in grams]


def broken_limits(product: ProductFile, grams: Sequence[float]) -> tuple[SubstanceLimit, ...]:
    """Limits that hold for a formula as written, and not as weighed.

    Parameters
    ----------
    product : ProductFile
        With formula and markets.
    grams : sequence of float
        Of each ingredient, in the formula's order [g].

    Returns
    -------
    tuple of SubstanceLimit
        As weighed.
    """
    weighed = _as_weighed(product.formula, grams)
    return tuple(
        there
        for market in product.markets
        for here, there in zip(
            _limits(product.formula.substances_percent(), market),
            _limits(weighed.substances_percent(), market),
            strict=True,
        )
        if here.kept and not there.kept
    )


def _limits(shares: Mapping[str, float], market: str) -> tuple[SubstanceLimit, ...]:
    return substance_limits(FOAM_BATH, shares, market)


def _as_weighed(formula: Formula, grams: Sequence[float]) -> Formula:
    whole = sum(grams)
    lines = zip(formula.ingredients, grams, strict=True)
    shares = tuple(
        replace(line, share_percent=PERCENT * weighed / whole) for line, weighed in lines
    )
    return replace(formula, ingredients=shares)


def _counts_for(product: ProductFile, line: Ingredient, substance: str) -> bool:
    """Whether an ingredient holds a substance, or a salt that is counted as it."""
    held = dict.fromkeys(opened(product.formula, line.use), PERCENT)
    limits = (
        limit for market in product.markets for limit in substance_limits(FOAM_BATH, held, market)
    )
    return any(limit.substance == substance for limit in limits)


def rounding(
    product: ProductFile,
    weighings: Sequence[Weighing],
    beside_g: Mapping[str, float],
    step_g: float,
) -> Rounding:
    """Effect of a balance's step on shares, pH and limits.

    Parameters
    ----------
    product : ProductFile
        With its formula.
    weighings : sequence of Weighing
        As `weigh` gives them.
    beside_g : mapping of str to float
        Label to what else is weighed: petals and dyes [g].
    step_g : float
        Of the balance [g].

    Returns
    -------
    Rounding
    """
    moved = {each.label: each.moved for each in weighings} | {
        label: float(kitchen_round_g(grams, step_g)) / grams - 1.0
        for label, grams in beside_g.items()
        if grams > 0
    }
    worst = max(moved, key=lambda label: abs(moved[label]))
    most = value_of(NUMBERS, "most_rounding")
    exact = {each.label: each.exact_g for each in weighings} | dict(beside_g)
    return Rounding(
        step_g=step_g,
        most_moved=worst,
        most_moved_share=moved[worst],
        finer=tuple(
            # Half a step is the largest error of a rounding.
            (label, 10.0 ** math.floor(math.log10(2.0 * most * exact[label])))
            for label, share in moved.items()
            if abs(share) > most
        ),
        too_coarse=abs(moved[worst]) > value_of(NUMBERS, "coarse_rounding"),
        ph_shift=_ph_shift(product, weighings),
        held_down=tuple(
            each.label
            for each, line in zip(weighings, product.formula.ingredients, strict=True)
            if not line.is_rest and each.weigh_g < each.exact_g - step_g / 2 - 1e-9
        ),
        broken=broken_limits(product, [each.weigh_g for each in weighings]),
    )


def _ph_shift(product: ProductFile, weighings: Sequence[Weighing]) -> float:
    """Most that the pH of a batch moves by what rounding does to its acids and bases."""
    if product.ph is None:
        return math.nan
    extra = [
        10.0 * (each.percent - each.formula_percent) * _meq_per_g(product, each.use, product.ph)
        for each in weighings
        if _adjusts(product.formula, each.use)
    ]
    return sum(extra) / _meq_kg_per_ph(product) if extra else math.nan


def _adjusts(formula: Formula, use: str) -> bool:
    rows = (formula.substances.get(name) for name in opened(formula, use))
    return any(row is not None and row.function == "pH adjuster" for row in rows)


def _meq_per_g(product: ProductFile, use: str, ph: float) -> float:
    """Base (acid negative) that a gram of an ingredient brings at a pH [meq/g]."""
    total = 0.0
    for name, percent in opened(product.formula, use).items():
        try:
            brought = adjuster_of(name).mol_per_g
        except InputError:
            continue
        # Enough of it that the water's own charge is nothing beside it.
        grams = ENOUGH_MOL_KG / max(brought.values())
        totals = {component: np.asarray(grams * moles) for component, moles in brought.items()}
        charge = float(solve(totals, ph=ph).charge_error)
        total += percent / PERCENT * charge / grams * MEQ_PER_EQ
    return total


def _meq_kg_per_ph(product: ProductFile) -> float:
    """Buffering of the batch about its pH, low end [meq/kg]."""
    foam, ph = product.recipe.foam_bath, product.ph
    taken = None if foam is None else foam.titratable_meq_kg
    if taken and ph is not None and abs(ph - TITRATED_TO_PH) > LEAST_SWING_PH:
        return taken / (ph - TITRATED_TO_PH)
    start, end = (typical(f"foam_bath_titratable_{way}_ph").value for way in ("from", "to"))
    return typical("base_titratable").ends[0] / (start - end)
