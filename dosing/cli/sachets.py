"""``sachet``: sizes for many homes, rules by strip and by colour, and other blends."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from dosing.cli.codes import NOT_MET
from dosing.cli.given import check_picture, recipe_of
from dosing.cli.output import show
from dosing.ingredients.powders import powder
from dosing.pictures.sheets import write_picture
from dosing.recipe import quantities
from dosing.recipe.quantities import InputError
from dosing.sachets.blends import (
    USUAL_POWDERS,
    Proposal,
    cost_per_gram,
    propose_blends,
    succeeds,
)
from dosing.sachets.customers import customer_readings
from dosing.sachets.populations import (
    Homes,
    draw_homes,
    homes_like,
    population_names,
)
from dosing.sachets.sizes import SachetAnswer, sachet_answer
from dosing.words.label import Label, labels
from dosing.words.sachet_page import sachet_lines
from indicator.accepted import reason
from indicator.notes import say

Array = NDArray[np.float64]

MOST_HOMES = 100_000
MOST_SIZES = 40
_BETWEEN = re.compile(r"\s*(?:;|,(?=\s)|(?<=[A-Za-z]),)\s*")


@dataclass(frozen=True)
class SachetOptions:
    """Options of ``sachet``, as they were typed."""

    recipe: Path | None
    demo: str | None
    population: str | None
    homes_csv: Path | None
    read_with: str | None
    homes: int
    sizes: str | None
    wished_share: str | None
    sachets: int | None
    target: str | None
    accept_ph: str | None
    blend: bool
    powders: str | None
    band: str | None
    prices: Sequence[str] | None
    picture: Path | None
    as_json: bool


@dataclass(frozen=True)
class SachetDocument:
    """Answer of ``sachet``."""

    answer: SachetAnswer
    size_costs: tuple[float, ...] | None
    """What each of the sizes costs, in the money of the prices; None without all prices."""
    label: tuple[Label, ...]
    blends: tuple[Proposal, ...] | None
    """Other activators, where they were asked for."""
    band_ph: tuple[float, float] | None
    """To which a blend shall keep the homes, where that was asked for."""
    serving_blend_g: float | None
    """The lightest blend that serves the wished share [g]."""


def run_sachet(asked: SachetOptions) -> int:
    """Answer and show; returns the exit code."""
    check_picture(asked.picture)
    inputs = recipe_of(asked.recipe, asked.demo)
    if asked.target is not None:
        inputs = replace(inputs, wish=replace(inputs.wish, target=asked.target))
    sizes = _sizes(asked.sizes)
    share = (
        None if asked.wished_share is None else quantities.share(asked.wished_share, "wished-share")
    )
    prices = _prices(asked.prices or ())
    band = _band(asked.band)
    powders = _powders(asked.powders)
    why = reason("accept-ph", asked.accept_ph)
    homes = _homes(asked)
    answer = sachet_answer(
        inputs,
        homes,
        sizes_g=sizes,
        wished_share=share,
        most_sachets=asked.sachets,
        accept_ph=why,
    )
    blends = None
    if asked.blend or band is not None or asked.powders is not None:
        blends = propose_blends(inputs, homes, powders=powders, band=band, prices_per_kg=prices)
    if asked.picture is not None:
        from dosing.pictures.sachets import draw_sachet

        write_picture(draw_sachet(answer, inputs), asked.picture)
    costs = _costs(answer, prices)
    serving = None if blends is None else blends.serving(answer.wished_share)
    document = SachetDocument(
        answer=answer,
        size_costs=costs,
        label=labels(answer, blends),
        blends=None if blends is None else blends.proposals,
        band_ph=band,
        serving_blend_g=None if serving is None else serving.grams,
    )
    show(document, sachet_lines(answer, blends, costs), asked.picture, as_json=asked.as_json)
    return 0 if succeeds(answer, blends) else NOT_MET


def _costs(answer: SachetAnswer, prices: Mapping[str, float]) -> tuple[float, ...] | None:
    per_gram = cost_per_gram(dict(answer.activator), prices)
    return None if per_gram is None else tuple(per_gram * size.grams for size in answer.sizes)


def _homes(asked: SachetOptions) -> Homes:
    if not 1000 <= asked.homes <= MOST_HOMES:
        values = {"value": asked.homes, "least": 1000, "most": MOST_HOMES}
        raise InputError(say("sachet.bad-homes", values), "homes", asked.homes)
    if asked.homes_csv is None:
        if asked.read_with is not None:
            alone = say("sachet.read-with-alone", {"value": asked.read_with})
            raise InputError(alone, "read-with", asked.read_with)
        return draw_homes(asked.population or population_names()[0], asked.homes)
    if asked.population is not None:
        raise InputError(say("sachet.population-and-csv"), "population", asked.population)
    read_with = asked.read_with or "strip"
    return homes_like(customer_readings(asked.homes_csv, read_with), asked.homes)


def _sizes(text: str | None) -> tuple[float, ...]:
    if text is None:
        return ()
    pieces = [piece for piece in _BETWEEN.split(text.strip()) if piece]
    unit = re.search(r"[A-Za-z]+\s*$", pieces[-1]) if pieces else None
    grams = []
    for piece in pieces:
        bare = re.search(r"[A-Za-z]", piece) is None and unit is not None
        grams.append(quantities.mass_g(f"{piece} {unit[0]}" if bare and unit else piece, "sizes"))
    if not 1 <= len(grams) <= MOST_SIZES or min(grams) <= 0:
        raise InputError(
            say("sachet.bad-sizes", {"value": text, "most": MOST_SIZES}), "sizes", text
        )
    return tuple(sorted(set(grams)))


def _prices(texts: Sequence[str]) -> dict[str, float]:
    prices = {}
    for text in texts:
        name, equals, number = text.partition("=")
        try:
            price = float(number)
        except ValueError:
            price = math.nan
        if not equals or not (math.isfinite(price) and price >= 0):
            raise InputError(say("sachet.bad-price", {"value": text}), "price", text)
        key = powder(name.strip()).name
        if key in prices:
            raise InputError(say("sachet.price-twice", {"powder": key}), "price", text)
        prices[key] = price
    return prices


def _band(text: str | None) -> tuple[float, float] | None:
    if text is None:
        return None
    ends = re.fullmatch(r"\s*(\d+(?:\.\d+)?)\s*(?:-|–|to)\s*(\d+(?:\.\d+)?)\s*", text)
    if ends is None:
        raise InputError(say("sachet.bad-band", {"value": text}), "band", text)
    return quantities.ph(ends[1], "band"), quantities.ph(ends[2], "band")


def _powders(text: str | None) -> tuple[str, ...]:
    if text is None:
        return USUAL_POWDERS
    names = [name.strip() for name in text.split(",") if name.strip()]
    if not names:
        raise InputError(say("sachet.bad-powders", {"value": text}), "powders", text)
    return tuple(powder(name).name for name in names)
