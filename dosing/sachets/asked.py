"""Sachets and their homes as a maker asks for them, in words."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from dosing.bath.inputs import RecipeInputs
from dosing.recipe import quantities
from dosing.recipe.quantities import InputError
from dosing.sachets.answer import SachetAnswer, sachet_answer
from dosing.sachets.customers import customer_readings
from dosing.sachets.populations import Homes, draw_homes, homes_like, population_names
from indicator.notes import Value, say

LEAST_HOMES, MOST_HOMES = 1000, 100_000
MOST_SIZES = 40
_BETWEEN = re.compile(r"\s*(?:;|,(?=\s)|(?<=[A-Za-z]),)\s*")
_BAND = re.compile(r"\s*(\d+(?:\.\d+)?)\s*(?:-|–|to)\s*(\d+(?:\.\d+)?)\s*")


@dataclass(frozen=True)
class AskedSachet:
    """Sizes, shares and powders asked for, as they were typed."""

    sizes: str | None
    wished_share: str | None
    sachets: int | None
    powders: str | None
    band: str | None
    prices_per_gram: Mapping[str, float]

    def answer(self, inputs: RecipeInputs, homes: Homes) -> SachetAnswer:
        """Sachets of a recipe's activator.

        Parameters
        ----------
        inputs : RecipeInputs
            The recipe in core units.
        homes : Homes
            Whose they are for.

        Returns
        -------
        SachetAnswer

        Raises
        ------
        InputError
            If something typed cannot be used.
        """
        share = self.wished_share
        return sachet_answer(
            inputs,
            homes,
            sizes_g=_sizes(self.sizes, inputs.activator.parts),
            wished_share=None if share is None else quantities.share(share, "wished-share"),
            most_sachets=self.sachets,
            powders=_powders(self.powders),
            band=_band(self.band),
            prices_per_gram=self.prices_per_gram,
        )


def homes_of(
    population: str | None, homes_csv: Path | None, read_with: str | None, count: int
) -> Homes:
    """Homes of a population, or like those of a table of readings.

    Parameters
    ----------
    population : str, optional
        Its name; the first one if not given.
    homes_csv : Path, optional
        Readings of customers.
    read_with : str, optional
        What they read with; a strip if not given.
    count : int
        How many homes are drawn.

    Returns
    -------
    Homes

    Raises
    ------
    InputError
        If both are given, or one cannot be used.
    """
    if not LEAST_HOMES <= count <= MOST_HOMES:
        values: dict[str, Value] = {"value": count, "least": LEAST_HOMES, "most": MOST_HOMES}
        raise InputError(say("sachet.bad-homes", values), "homes", count)
    if homes_csv is None and read_with is not None:
        raise InputError(say("sachet.read-with-alone", {"value": read_with}), "read-with")
    if homes_csv is None:
        return draw_homes(population or population_names()[0], count)
    if population is not None:
        raise InputError(say("sachet.population-and-csv"), "population", population)
    readings, volume_l = customer_readings(homes_csv, read_with or "strip")
    return homes_like(readings, count, volume_l=volume_l)


def _sizes(text: str | None, parts: Mapping[str, float]) -> list[float]:
    """Masses or spoons of a blend, with commas between; what has no unit has that of the last."""
    if text is None:
        return []
    pieces = [piece for piece in _BETWEEN.split(text.strip()) if piece]
    unit = re.search(r"[A-Za-z]+\s*$", text)
    bare = "" if unit is None else f" {unit[0]}"
    typed = [piece if re.search("[A-Za-z]", piece) else piece + bare for piece in pieces]
    grams = [quantities.powder_mass(size, parts, "sizes").value for size in typed]
    if not 1 <= len(grams) <= MOST_SIZES or min(grams) <= 0:
        values: dict[str, Value] = {"value": text, "most": MOST_SIZES}
        raise InputError(say("sachet.bad-sizes", values), "sizes", text)
    return grams


def _band(text: str | None) -> tuple[float, float] | None:
    if text is None:
        return None
    ends = _BAND.fullmatch(text)
    if ends is None:
        raise InputError(say("sachet.bad-band", {"value": text}), "band", text)
    return quantities.ph(ends[1], "band"), quantities.ph(ends[2], "band")


def _powders(text: str | None) -> list[str] | None:
    if text is None:
        return None
    names = [name.strip() for name in text.split(",") if name.strip()]
    if not names:
        raise InputError(say("sachet.bad-powders", {"value": text}), "powders", text)
    return names
