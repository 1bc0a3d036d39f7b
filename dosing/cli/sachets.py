"""Sachets asked for and shown."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from dosing.bath.inputs import RecipeInputs
from dosing.cli.given import Files
from dosing.cli.output import answer
from dosing.cli.session import NOT_MET, known_pigments
from dosing.effects.prices import prices_per_gram
from dosing.recipe import quantities
from dosing.recipe.quantities import InputError
from dosing.sachets.answer import SachetAnswer, sachet_answer
from dosing.sachets.customers import customer_readings
from dosing.sachets.populations import Homes, draw_homes, homes_like, population_names
from indicator.notes import Value, say

LEAST_HOMES, MOST_HOMES = 1000, 100_000
MOST_SIZES = 40
ANSWER_LINES = 20
"""Of a default answer, at 80 columns."""
_BETWEEN = re.compile(r"\s*(?:;|,(?=\s)|(?<=[A-Za-z]),)\s*")
_BAND = re.compile(r"\s*(\d+(?:\.\d+)?)\s*(?:-|–|to)\s*(\d+(?:\.\d+)?)\s*")


@dataclass(frozen=True)
class AskedSachet:
    """Sizes, shares and powders asked for, as they were typed, and how much is shown."""

    sizes: str | None
    wished_share: str | None
    sachets: int | None
    powders: str | None
    band: str | None
    prices: Sequence[str]
    more: bool
    cautions: bool

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
            prices_per_gram=prices_per_gram(self.prices, known_pigments()),
        )

    def text(self, sold: SachetAnswer, *, whole: bool = False) -> str:
        """Words of the answer.

        Parameters
        ----------
        sold : SachetAnswer
            The answer.
        whole : bool
            Whether the label and all cautions stand there, as on paper.

        Returns
        -------
        str
            With the marks of `dosing.words.marks`.
        """
        from dosing.words.templates import render_in

        how = {"more": self.more, "cautions": self.cautions or whole, "bare": whole}
        # Label and blend may stand on a page of their own.
        return render_in(ANSWER_LINES, "sachet", answer=sold, **how)


def show_sachet(
    inputs: RecipeInputs, homes: Homes, asked: AskedSachet, files: Files, *, as_json: bool
) -> int:
    """Look for sachets, and show them.

    Parameters
    ----------
    inputs : RecipeInputs
        The recipe in core units.
    homes : Homes
        Whose they are for.
    asked : Asked
        Of them.
    files : Files
        What is written beside the answer.
    as_json : bool
        Whether one document is printed.

    Returns
    -------
    int
        Exit code: 0, or `NOT_MET`.
    """
    sold = asked.answer(inputs, homes)
    if any(files.written):
        from dosing.pictures.sachets import draw_sachet
        from dosing.pictures.sheets import write_picture, write_sheet

        if files.picture is not None:
            write_picture(draw_sachet(sold), files.picture)
        if files.sheet is not None:
            write_sheet(asked.text(sold, whole=True), draw_sachet(sold), files.sheet, files.paper)
    answer(sold, lambda: asked.text(sold), as_json=as_json, written=files.written)
    return 0 if sold.reached else NOT_MET


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
