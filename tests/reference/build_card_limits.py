"""What the dose cards of the demos allow in 20,000 homes, held against the plan of each home.

A home is a reading (pad, drops, or what a town's water is called), a fill and its bathers, each
drawn evenly; where the page allows nothing there is nothing to compare, and another is drawn. Its
maximum is that of the engine for the very readings, `card_page.limits_held` has the same. Beside
that, what the page allows is poured into tubs that are true: drawn from all that the reading
leaves open (alkalinity, tap pH, hardness, gas, volume, powder), in water that is warmer or cooler.

Run by hand, with a file that keeps each home so that a run may be stopped and taken up again:
``python tests/reference/build_card_limits.py HOMES.csv``. It takes an hour or more.
"""

from __future__ import annotations

import csv
import hashlib
import sys
from dataclasses import asdict, dataclass, replace
from functools import cache
from itertools import count, groupby
from pathlib import Path

import numpy as np
from card_page import ROUNDING, page_limit
from reference_csv import write_csv

from dosing.bath.inputs import RecipeInputs
from dosing.bath.possible_tubs import READ_ROWS, possible_tubs
from dosing.page.card import dose_card
from dosing.page.records import Card
from dosing.page.table import Cell, Extent, Row, cell_inputs, rows, solved_cell
from dosing.plan.case import case
from dosing.plan.levels import gate_level
from dosing.plan.records import Wish
from dosing.recipe import demo_recipe, demo_text

PRODUCTS = ("1", "3", "5")
"""Demos that have a card."""
HOMES = 20_000
SEED = 16
TRUE_TUBS = 16
WARMER_C = 2.0
"""Standard deviation of how much warmer a tub is than the recipe has it [°C]; DESIGN."""
RESULT = "card_limits.csv"
COMMENT = (
    "Homes of the demos' dose cards, by what was read and who bathes; by build_card_limits.py.",
    "past: homes in which the page allows more than the plan of the very readings.",
    "least_margin_g: least of that plan's maximum less what the page allows [g].",
    "median_share: what the page allows, of that maximum.",
    "true_tubs: tubs that agree with the reading, with what the page allows poured in at once.",
    "true_past: those of them that end beyond the caution level of the plan.",
    "limits_g: sum of the card's limits of these readings [g].",
    "recipe: digest of the demo's text; both tell whether the card has changed since.",
)


@dataclass(frozen=True)
class Tried:
    """One home."""

    product: str
    pick: str
    bathers: str
    label: str
    litres: float
    allowed_g: float
    """By the page."""
    maximum_g: float
    """Of the engine."""
    true_tubs: int
    true_past: int


@dataclass(frozen=True)
class Product:
    """A demo with its card."""

    inputs: RecipeInputs
    card: Card
    rows: tuple[Row, ...]


@cache
def product(name: str) -> Product:
    """A demo and its card, worked out once."""
    inputs = demo_recipe(name)
    return Product(inputs, dose_card(inputs), rows(Extent()))


def digest(name: str) -> str:
    """Beginning of the digest of a demo's text."""
    return hashlib.sha256(demo_text(name).encode()).hexdigest()[:12]


def limits_g(card: Card, pick: str, bathers: str) -> float:
    """Sum of the limits of a kind of reading [g]."""
    kinds = np.array([row.kind for row in rows(Extent())])
    return round(float(np.sum(np.array(card.limit[bathers])[kinds == pick])), 1)


def tries(name: str, number: int) -> list[Tried]:
    """Homes that share the draw of a number: one for each bather whom the page allows something.

    Parameters
    ----------
    name : str
        Of the product.
    number : int
        Of the draw; it seeds all of it.

    Returns
    -------
    list of Tried
    """
    made, rng = product(name), np.random.default_rng([SEED, number])
    card = made.card
    while True:
        place = int(rng.integers(len(made.rows)))
        litres = float(np.round(rng.uniform(card.litres[0], card.litres[-1]), 1))
        allowed = {who: page_limit(card, place, litres, who) for who in card.bathers}
        if any(grams > 0.0 for grams in allowed.values()):
            break
    row, wish = made.rows[place], Wish.written(made.inputs.wish.target)
    cases = [case(cell_inputs(made.inputs, w, litres, card.bathers[0])) for w in row.waters]
    drawn = int(rng.integers(len(row.waters)))
    tried = []
    for who, grams in allowed.items():
        if grams <= 0.0:
            continue
        cells = [solved_cell(each.for_bathers(who), wish) for each in cases]
        home = cell_inputs(made.inputs, row.waters[drawn], litres, who)
        true, past = true_tubs(home, cells[drawn], grams, number)
        most = min(cell.limit for cell in cells)
        tried.append(Tried(name, row.kind, who, row.label, litres, grams, most, true, past))
    return tried


def true_tubs(home: RecipeInputs, cell: Cell, grams: float, number: int) -> tuple[int, int]:
    """Tubs of a home that grams are poured into, and how many end beyond the plan's level.

    Parameters
    ----------
    home : RecipeInputs
        The reading, fill and bathers.
    cell : Cell
        Its plan.
    grams : float
        Poured at once [g]; none are where the plan goes in portions with a look between.
    number : int
        Seed.

    Returns
    -------
    tuple of int
    """
    if cell.portions != 1:
        return 0, 0
    rng = np.random.default_rng([SEED, number, 1])
    bath = possible_tubs(home, TRUE_TUBS, seed=SEED + number).judged(grams)
    warm = bath.temperature_c + WARMER_C * rng.standard_normal(np.shape(bath.temperature_c))
    ph = replace(bath, temperature_c=warm).ph[:-READ_ROWS]
    level = gate_level(ph, home.wish.bathers or "child")
    return len(ph), int(np.sum(level > cell.ways[0][0]))


def kept_homes(file: Path) -> tuple[list[Tried], int]:
    """Homes of a file, and the number of the next draw."""
    if not file.exists():
        return [], 0
    with file.open(encoding="utf-8") as text:
        lines = list(csv.reader(text))
    homes = [
        Tried(*line[1:5], *map(float, line[5:8]), *map(int, line[8:]))  # type: ignore[arg-type]
        for line in lines
    ]
    return homes, 1 + max((int(line[0]) for line in lines), default=-1)


def written(homes: list[Tried]) -> None:
    """Write the table of all homes so far."""

    def key(home: Tried) -> tuple[str, str, str]:
        return home.product, home.pick, home.bathers

    table = []
    for (name, pick, who), same in groupby(sorted(homes, key=key), key):
        group = list(same)
        margins = [home.maximum_g - home.allowed_g for home in group]
        shares = [home.allowed_g / home.maximum_g for home in group if home.maximum_g > 0.0]
        table.append(
            {
                "product": name,
                "pick": pick,
                "bathers": who,
                "homes": len(group),
                "past": sum(margin < -ROUNDING for margin in margins),
                "least_margin_g": round(min(margins), 3),
                "median_share": round(float(np.median(shares)), 3),
                "true_tubs": sum(home.true_tubs for home in group),
                "true_past": sum(home.true_past for home in group),
                "limits_g": limits_g(product(name).card, pick, who),
                "recipe": digest(name),
            }
        )
    write_csv(RESULT, COMMENT, table)


def build(file: Path) -> None:
    """Try homes until there are enough of them, and write the table now and then."""
    homes, first = kept_homes(file)
    with file.open("a", encoding="utf-8", newline="") as text:
        lines = csv.writer(text, lineterminator="\n")
        for number in count(first):
            if len(homes) >= HOMES:
                break
            for home in tries(PRODUCTS[number % len(PRODUCTS)], number):
                homes.append(home)
                lines.writerow([number, *asdict(home).values()])
                if home.maximum_g - home.allowed_g < -ROUNDING:
                    print("past:", home, flush=True)
            text.flush()
            if number % 500 == 499:
                written(homes)
    written(homes)


if __name__ == "__main__":
    build(Path(sys.argv[1]))
