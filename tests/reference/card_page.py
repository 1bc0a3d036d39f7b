"""The page's rules in Python, and homes that are drawn at random to hold its card against plans.

Run by hand for a long look, with a demo and the numbers of homes for pH and for limits:
``python tests/reference/card_page.py 1 20000 1000 [SEED [KEPT.pkl]]``.
"""

from __future__ import annotations

import sys
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from dosing.bath.inputs import RecipeInputs
from dosing.bath.possible_tubs import possible_tubs
from dosing.page.card import dose_card
from dosing.page.records import Card
from dosing.page.table import Extent, Row, cell_inputs, ph_at, rows, solved_cell
from dosing.plan.case import case
from dosing.plan.records import Wish

Array = NDArray[np.float64]
ROUNDING = 1e-9


@dataclass(frozen=True)
class Home:
    """Reading, fill and bather of one home, and what the card and the engine say of it."""

    row: int
    litres: float
    bathers: str
    allowed_g: float
    """By the page."""
    maximum_g: float
    """Of the plan of the very readings; nothing where it lays out no dose."""

    @property
    def past(self) -> bool:
        """Whether the page allows more than the plan."""
        return self.allowed_g > self.maximum_g + ROUNDING


def rounded_down(grams: float) -> float:
    """Grams as the page shows them: to 0.1 g below 5 g, else to 1 g, never up."""
    step = 1.0 if grams >= 5.0 else 0.1
    return float(np.floor(grams / step + ROUNDING) * step)


def page_limit(card: Card, row: int, litres: float, bathers: str) -> float:
    """Most that the page allows [g]: the smaller of the two nearest fills, rounded down."""
    if not card.litres[0] <= litres <= card.litres[-1]:
        return 0.0
    doses, limits = card.dose[bathers][row], card.limit[bathers][row]
    for place, (low, high) in enumerate(pairwise(card.litres)):
        if low <= litres <= high:
            ends = [at for at in (place, place + 1) if litres != card.litres[1 - at + 2 * place]]
            if min(doses[at] for at in ends) <= 0.0:
                return 0.0
            return rounded_down(min(limits[at] for at in ends))
    raise AssertionError(litres)


def page_ph(card: Card, row: int, litres: Array, grams: Array) -> Array:
    """PH as the page shows it: straight between the nodes of its table."""
    nodes = np.array(card.ph.grams_per_litre[row])
    table = np.array(card.ph.rows[row])
    place = np.clip(np.searchsorted(card.litres, litres, side="right") - 1, 0, len(table) - 2)
    fills = np.array(card.litres)
    share = (litres - fills[place]) / (fills[place + 1] - fills[place])
    both = [
        np.array(
            [np.interp(g, nodes, table[at]) for g, at in zip(grams / litres, end, strict=True)]
        )
        for end in (place, place + 1)
    ]
    return np.asarray((1.0 - share) * both[0] + share * both[1])


def ph_errors(inputs: RecipeInputs, card: Card, count: int, seed: int, extent: Extent) -> Array:
    """PH of the page less that of the engine in random homes, shape (homes,).

    Pads and drops, fills and doses up to the largest limit of the reading are drawn evenly.
    """
    rng = np.random.default_rng(seed)
    table = rows(extent)
    read = [
        place for place, row in enumerate(table) if row.read and len(card.ph.rows[place][0]) > 1
    ]
    of = rng.choice(read, count)
    errors = []
    for place in read:
        homes = int(np.sum(of == place))
        litres = rng.uniform(card.litres[0], card.litres[-1], homes)
        limits = np.array([card.limit[who][place] for who in card.bathers])
        most = float(np.max(limits / np.array(card.litres)))
        grams = litres * rng.uniform(0.0, most, homes)
        exact = ph_at(inputs, table[place].waters[0], litres, grams / litres)
        errors.append(page_ph(card, place, litres, grams) - exact)
    return np.concatenate(errors)


def limits_held(
    inputs: RecipeInputs, card: Card, count: int, seed: int, extent: Extent
) -> list[Home]:
    """Homes drawn at random, with what the page allows and the maximum of their own plan.

    Where the page allows nothing there is nothing to compare, so other homes are drawn.
    """
    rng = np.random.default_rng(seed)
    table = rows(extent)
    homes: list[Home] = []
    while len(homes) < count:
        place = int(rng.integers(len(table)))
        bathers = str(rng.choice(card.bathers))
        litres = float(np.round(rng.uniform(card.litres[0], card.litres[-1]), 1))
        allowed = page_limit(card, place, litres, bathers)
        if allowed > 0.0:
            homes.append(_home(inputs, table[place], place, litres, bathers, allowed))
    return homes


def _home(
    inputs: RecipeInputs, row: Row, place: int, litres: float, bathers: str, allowed: float
) -> Home:
    wish = Wish.written(inputs.wish.target)
    tubs = (cell_inputs(inputs, water, litres, bathers) for water in row.waters)
    most = min(solved_cell(case(tub), wish).limit for tub in tubs)
    return Home(place, litres, bathers, allowed, most)


def range_shares(inputs: RecipeInputs, card: Card, count: int, seed: int, extent: Extent) -> Array:
    """Share of the possible tubs within the range of pH that the page prints, shape (homes,).

    In homes drawn at random whose dose is poured at once.
    """
    rng, table = np.random.default_rng(seed), rows(extent)
    shares: list[float] = []
    while len(shares) < count:
        place, who = int(rng.integers(len(table))), str(rng.choice(card.bathers))
        litres = float(rng.uniform(card.litres[0], card.litres[-1]))
        low = int(np.searchsorted(card.litres, litres)) - 1
        ends = [low, low + 1]
        doses = np.array(card.dose[who][place])
        allowed = page_limit(card, place, litres, who)
        if allowed <= 0.0 or not table[place].read or max(card.portions[who][place][low:][:2]) > 1:
            continue
        grams = rounded_down(min(float(np.interp(litres, card.litres, doses)), allowed))
        corners = page_ph(card, place, np.array(card.litres)[ends], doses[ends])
        here = page_ph(card, place, np.array([litres]), np.array([grams]))
        lowest = here + np.min(np.array(card.ph_low[who][place])[ends] - corners)
        highest = here + np.max(np.array(card.ph_high[who][place])[ends] - corners)
        # Printed to a tenth outwards.
        least, most = np.floor(10.0 * lowest) / 10.0, np.ceil(10.0 * highest) / 10.0
        home = cell_inputs(inputs, table[place].waters[0], litres, who)
        ph = possible_tubs(home).final_ph(grams)
        shares.append(float(np.mean((ph >= least) & (ph <= most))))
    return np.array(shares)


def told(homes: Sequence[Home]) -> str:
    """Figures of a run, and the worst homes."""
    past = [home for home in homes if home.past]
    none = sum(home.maximum_g <= 0.0 for home in past)
    ratio = [home.allowed_g / home.maximum_g for home in homes if home.maximum_g > 0.0]
    head = (
        f"{len(homes)} homes: {len(past)} past the maximum, {none} of them because the plan lays"
        f" out no dose; allowed over maximum {np.median(ratio):.3f}, at most {max(ratio):.3f}"
    )
    return "\n".join([head, *map(str, past)])


if __name__ == "__main__":
    import pickle
    from pathlib import Path

    from dosing.recipe import demo_recipe

    demo, ph_homes, limit_homes, *more = sys.argv[1:]
    recipe, seed = demo_recipe(demo), int(more[0]) if more else 1
    kept = Path(more[1]) if len(more) > 1 else None
    made = pickle.loads(kept.read_bytes()) if kept else dose_card(recipe)
    off = ph_errors(recipe, made, int(ph_homes), seed, Extent())
    print(f"pH: {len(off)} homes, most {np.abs(off).max():.4f}, rms {np.sqrt(np.mean(off**2)):.4f}")
    print(told(limits_held(recipe, made, int(limit_homes), seed, Extent())))
