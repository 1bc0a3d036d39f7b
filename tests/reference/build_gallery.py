"""Write the gallery of effects to ``data/trade/gallery.csv``.

Run by hand after a pigment, a gate or the search changes, for five to fifteen minutes:
``python tests/reference/build_gallery.py``. For an adult and for a child every pair of words that
some mixture comes near to is designed in the gallery's tub: over all pigments, and over each
pigment with every dye and with none, so that who has but one of them finds what it can do.
"""

from __future__ import annotations

import csv
import sys
from collections.abc import Iterator
from dataclasses import replace
from importlib.metadata import version
from itertools import permutations
from pathlib import Path
from typing import Any

import numpy as np

from dosing.bath.draws import even_numbers
from dosing.bath.inputs import RecipeInputs
from dosing.effects.answer import design_effects, wished_end
from dosing.effects.designs import Design
from dosing.effects.desk import Desk
from dosing.effects.gallery import GALLERY_SEED, gallery_tub
from dosing.effects.search import colour_sets
from dosing.effects.shelf import Shelf, whole_shelf
from dosing.effects.task import End
from indicator.appearance import delta_e
from indicator.threads import one_thread
from indicator.words import certainties, colour_words, threshold

FILE = Path(__file__).resolve().parents[2] / "data" / "trade" / "gallery.csv"
HEADER = """\
# The best effects within the cautions of an adult and of a child (8 years), worked out by
# tests/reference/build_gallery.py of huedose {version} with seed {seed}, in tub, water and foam
# bath of data/demo/1_evening_soak.toml, of infusions and solutions of usual strength. Not edited.
# mixture: colourants and mL of each, between bars. dose_g [g] in volume_l [L]. ph_after as aimed
# at; its sides are 5 and 95 % quantiles over the possible tubs. votes, shares: 0 to 1.
# change_delta_e: CIEDE2000. cost: penalty, see dosing/effects/README.md.
"""
PALE = ("brown", "grey", "colourless")
"""Words that nobody wants a bath to have."""
SAMPLES = 400
NEAR = 0.35
"""Votes for both words of some mixture of an even spread, from which a pair is searched for."""
KEPT_OF_ALL, KEPT_OF_ONE = 5, 1
LEAST_CHANCE = 0.1
"""Share of tubs and of batches of petals in which it comes out, below which it is left out."""


def likely_pairs(inputs: RecipeInputs, shelf: Shelf) -> list[tuple[str, str]]:
    """Pairs of words that some mixture of an even spread comes near to."""
    ends = (End("blue", word="blue"), End("pink", word="pink"))
    tasks = Desk(inputs, ends, shelf, GALLERY_SEED, {}).tasks
    if not tasks:
        return []
    task = replace(tasks[0][1], both_sides=False)
    words = [word for word in colour_words() if word not in PALE]
    columns = [colour_words().index(word) for word in words]
    best = np.zeros((len(words), len(words)))
    for members in colour_sets(task.palette.colourants):
        genes = even_numbers(SAMPLES, 1 + len(members), GALLERY_SEED)
        places = np.broadcast_to(np.array(members), (SAMPLES, len(members)))
        low, high = task.palette.low[places], task.palette.high[places]
        strengths = low * (high / low) ** genes[:, 1:]
        step = np.rint(genes[:, 0] * (len(task.field.ph) - 1)).astype(np.intp)
        before, after = task.labs(places, strengths, step)
        first = certainties(before)[0][:, columns]
        last = certainties(after[:, 0])[0][:, columns]
        both = np.minimum(first[:, :, None], last[:, None, :])
        both[delta_e(before, after[:, 0]) < threshold("change_obvious")] = 0.0
        best = np.maximum(best, both.max(axis=0))
    return [
        (words[i], words[j]) for i, j in permutations(range(len(words)), 2) if best[i, j] >= NEAR
    ]


def shelves() -> Iterator[tuple[Shelf, int]]:
    """Everything, then each pigment with every dye and by itself; how many designs are kept."""
    everything = whole_shelf()
    yield everything, KEPT_OF_ALL
    dyes = tuple(which for which in everything.colours if which.kind == "dye")
    for which in everything.colours:
        if which.kind == "pigment":
            yield replace(everything, colours=(which, *dyes)), KEPT_OF_ONE
            yield replace(everything, colours=(which,)), KEPT_OF_ONE


def designs(bathers: str) -> Iterator[tuple[str, str, Design]]:
    """Every effect that is reached, with its words."""
    inputs = gallery_tub(bathers)
    for shelf, count in shelves():
        for start, end in likely_pairs(inputs, shelf):
            effects = design_effects(
                inputs,
                wished_end(start, "start"),
                wished_end(end, "end"),
                shelf=shelf,
                count=count,
                seed=GALLERY_SEED,
            )
            reached = [
                design
                for design in effects.designs
                if design.reached
                and design.change_delta_e >= threshold("change_obvious")
                and design.sure_share * design.tubs_share >= LEAST_CHANCE
            ]
            print(bathers, len(shelf.colours), start, end, len(reached), file=sys.stderr)
            for design in reached:
                yield start, end, design


def gallery_row(design: Design, start: str, end: str) -> dict[str, Any]:
    """Row of the table for a design in the tub of `gallery_tub`."""
    before, after = design.before, design.after
    (powder, _), *_ = design.activator
    return {
        "bathers": str(design.inputs.wish.bathers),
        "start": start,
        "end": end,
        "mixture": "|".join(f"{colour.name} {colour.amount_ml:g}" for colour in design.colours),
        "powder": powder,
        "dose_g": round(design.dose_g, 3),
        "volume_l": float(design.inputs.tub.volume_l or 0.0),
        "ph_before": round(before.ph, 3),
        "before_name": str(before.colour.phrase),
        "before_hex": str(before.colour.hex),
        "ph_after": round(after.ph, 3),
        "after_name": str(after.colour.phrase),
        "after_hex": str(after.colour.hex),
        "ph_acid_side": round(design.ph_acid_side, 3),
        "ph_alkaline_side": round(design.ph_alkaline_side, 3),
        "change_delta_e": round(design.change_delta_e, 2),
        "start_votes": round(design.start.certainty, 3),
        "end_votes": round(design.end.certainty, 3),
        "sure_share": round(design.sure_share, 3),
        "tubs_share": round(design.tubs_share, 3),
        "level": design.level,
        "cost": round(design.cost, 4),
        "source": "house",
        "confidence": "DERIVED",
    }


def main() -> None:
    """Work the gallery out and write it."""
    rows: dict[tuple[str, str, str, frozenset[str]], dict[str, Any]] = {}
    with one_thread():
        for bathers in ("adult", "child"):
            for start, end, design in designs(bathers):
                row = gallery_row(design, start, end)
                colours = frozenset(which.name for which in design.colourants)
                key = (bathers, start, end, colours)
                if key not in rows or row["cost"] < rows[key]["cost"]:
                    rows[key] = row
    ordered = sorted(rows.values(), key=lambda row: (row["bathers"], row["cost"]))
    with FILE.open("w", encoding="utf-8", newline="") as file:
        file.write(HEADER.format(version=version("huedose"), seed=GALLERY_SEED))
        table = csv.DictWriter(file, list(ordered[0]), lineterminator="\n")
        table.writeheader()
        table.writerows(ordered)


if __name__ == "__main__":
    main()
