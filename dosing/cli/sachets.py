"""``sachet``: sizes for many homes, rules by strip and by colour, and other blends."""

from __future__ import annotations

import math
import re
import sys
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import asdict, dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from dosing import quantities, wording
from dosing.cautions import GIVEN, exit_code
from dosing.cli.csv_rows import check_columns, csv_rows
from dosing.cli.jsonout import caution
from dosing.cli.output import Page, to_json
from dosing.cli.planning import NOT_MET, check_picture, reason, recipe_of
from dosing.inputs import RecipeInputs
from dosing.powders import powder
from dosing.quantities import InputError
from dosing.sachets import wording as words
from dosing.sachets.blends import USUAL_POWDERS, BlendAnswer, Proposal, propose_blends
from dosing.sachets.counting import Shares
from dosing.sachets.populations import (
    CustomerReadings,
    Homes,
    draw_homes,
    homes_like,
    population_names,
)
from dosing.sachets.rules import ColourRule, PadRule
from dosing.sachets.sizes import Answer, Size, sachet_answer
from indicator.notes import say, sentence
from indicator.sheet import write_picture

Array = NDArray[np.float64]

HOMES = 10_000
MOST_HOMES = 100_000
MOST_SIZES = 40
LARGEST_BYTES = 5_000_000
LABEL = "home"
_READERS: dict[str, Callable[[object, str], float]] = {
    "alkalinity": quantities.alkalinity_meq_l,
    "hardness": quantities.hardness_mmol_l,
    "ph": quantities.ph,
    "volume": quantities.volume_l,
}
_HEADER = re.compile(r"(?P<name>\w+?)[\s_]*(?:\[(?P<a>.*)\]|\((?P<b>.*)\)|\s(?P<c>.*))?", re.ASCII)
_BETWEEN = re.compile(r"\s*(?:;|,(?=\s)|(?<=[A-Za-z]),)\s*")


@dataclass(frozen=True)
class Asked:
    """What was asked on the command line."""

    recipe: Path | None
    demo: str | None
    population: str | None
    homes_csv: Path | None
    read_with: str
    homes: int
    sizes: str | None
    wished_share: str | None
    sachets: int | None
    target: str | None
    accept_ph: str | None
    blend: bool
    powders: str | None
    band: str | None
    prices: Sequence[str]
    picture: Path | None


def run_sachet(asked: Asked, *, as_json: bool) -> int:
    """Answer and show; returns the exit code."""
    check_picture(asked.picture)
    inputs = recipe_of(asked.recipe, asked.demo).core()
    if asked.target is not None:
        inputs = replace(inputs, wish=replace(inputs.wish, target=asked.target))
    sizes = _sizes(asked.sizes)
    share = (
        None if asked.wished_share is None else quantities.share(asked.wished_share, "wished-share")
    )
    prices = _prices(asked.prices)
    band = _band(asked.band)
    powders = _powders(asked.powders)
    why = reason("accept-ph", asked.accept_ph)
    homes = _homes(asked)
    with _bar("sachet.progress") as progress:
        answer = sachet_answer(
            inputs,
            homes,
            sizes_g=sizes,
            wished_share=share,
            most_sachets=asked.sachets,
            accept_ph=why,
            progress=progress,
        )
    blends = None
    if asked.blend or band is not None or asked.powders is not None:
        with _bar("sachet.progress-blend") as progress:
            blends = propose_blends(
                inputs, homes, powders=powders, band=band, prices_per_kg=prices, progress=progress
            )
    if asked.picture is not None:
        from dosing.sachets.sheet import draw_sachet

        write_picture(draw_sachet(answer, inputs, blends), asked.picture)
    if as_json:
        to_json(_document(answer, blends, prices))
    else:
        page = Page()
        _show(answer, blends, inputs, prices, page)
        if asked.picture is not None:
            page.line(say("cli.picture-written", {"file": str(asked.picture)}))
    return _code(answer, asked)


def _code(answer: Answer, asked: Asked) -> int:
    """3 where what others pour goes past the limit, or the wished share is not to be had."""
    given = answer.purpose in (*GIVEN, "class")
    if answer.over_the_limit and given:
        return NOT_MET
    if exit_code(answer.cautions) != 0:
        return NOT_MET
    return NOT_MET if asked.wished_share is not None and not answer.reached else 0


def _homes(asked: Asked) -> Homes:
    if not 1000 <= asked.homes <= MOST_HOMES:
        values = {"value": asked.homes, "least": 1000, "most": MOST_HOMES}
        raise InputError(say("sachet.bad-homes", values), "homes", asked.homes)
    if asked.homes_csv is None:
        return draw_homes(asked.population or population_names()[0], asked.homes)
    if asked.population is not None:
        raise InputError(say("sachet.population-and-csv"), "population", asked.population)
    return homes_like(_customer_readings(asked.homes_csv, asked.read_with), asked.homes)


def _customer_readings(path: Path, read_with: str) -> CustomerReadings:
    """Readings of a table whose units stand in the header or in the cells."""
    header, rows = csv_rows(path, "homes", LARGEST_BYTES)
    named = [_named(column) for column in header]
    check_columns([name for name, _ in named], rows, (LABEL, *_READERS), "homes")
    if "alkalinity" not in [name for name, _ in named]:
        raise InputError(say("sachet.csv-alkalinity", {"file": str(path)}), "homes-csv")
    columns = {
        name: _column(name, unit, place, rows)
        for place, (name, unit) in enumerate(named)
        if name in _READERS
    }
    empty = np.flatnonzero(np.isnan(columns["alkalinity"]))
    if len(empty):
        raise InputError(say("sachet.csv-empty", {"row": int(empty[0]) + 1}), "alkalinity")
    return CustomerReadings(
        alkalinity_meq_l=columns["alkalinity"],
        hardness_mmol_l=columns.get("hardness"),
        ph=columns.get("ph"),
        volume_l=columns.get("volume"),
        instrument=read_with.strip().replace(" ", "-"),
    )


def _named(column: str) -> tuple[str, str]:
    """Name and unit of a column: ``alkalinity [ppm]``, ``Volume (L)``, ``ph``."""
    found = _HEADER.fullmatch(column.strip())
    if found is None:
        return column, ""
    unit = found["a"] or found["b"] or found["c"] or ""
    return found["name"].casefold(), unit.strip()


def _column(name: str, unit: str, place: int, rows: Sequence[Sequence[str]]) -> Array:
    read = _READERS[name]
    values = np.full(len(rows), np.nan)
    for number, row in enumerate(rows):
        text = row[place].strip() if place < len(row) else ""
        if text:
            bare = not re.search(r"[A-Za-z°]", text)
            written = f"{text} {unit}".strip() if bare and name != "ph" else text
            values[number] = read(
                written, say("sachet.csv-field", {"name": name, "row": number + 1})
            )
    return values


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
        prices[powder(name.strip()).name] = price
    return prices


def _band(text: str | None) -> tuple[float, float] | None:
    if text is None:
        return None
    found = re.fullmatch(r"\s*(\d+(?:\.\d+)?)\s*(?:-|–|to)\s*(\d+(?:\.\d+)?)\s*", text)
    if found is None:
        raise InputError(say("sachet.bad-band", {"value": text}), "band", text)
    return quantities.ph(found[1], "band"), quantities.ph(found[2], "band")


def _powders(text: str | None) -> tuple[str, ...]:
    if text is None:
        return USUAL_POWDERS
    names = [name.strip() for name in text.split(",") if name.strip()]
    if not names:
        raise InputError(say("sachet.bad-powders", {"value": text}), "powders", text)
    return tuple(powder(name).name for name in names)


@contextmanager
def _bar(code: str) -> Iterator[Callable[[int, int], None] | None]:
    """A progress bar on the error stream; nothing where that is no terminal."""
    if not sys.stderr.isatty():
        yield None
        return
    from rich.console import Console
    from rich.progress import Progress

    with Progress(console=Console(file=sys.stderr), transient=True) as bar:
        task = bar.add_task(say(code), total=None)
        yield lambda done, total: bar.update(task, completed=done, total=total)


def _cost(
    parts: Sequence[tuple[str, float]], grams: float, prices: dict[str, float]
) -> float | None:
    if not all(name in prices for name, _ in parts):
        return None
    return sum(share * prices[name] for name, share in parts) * grams / 1000.0


def _show(
    answer: Answer,
    blends: BlendAnswer | None,
    inputs: RecipeInputs,
    prices: dict[str, float],
    page: Page,
) -> None:
    for text in words.headlines(answer):
        page.line(text, style="bold")
    page.line(words.title(answer), style="bold")
    if answer.bathers == "nobody":
        page.line(say("plan.not-for-bathing"), style="bold")
    for note in answer.notes[:1]:
        page.line(sentence(note))
    for text in words.counted_as(answer):
        page.line(text)
    page.heading(say("sachet.heading.sizes"))
    page.line(say("sachet.of-hundred", {"powder": _blend_text(answer)}), indent=2)
    for size in answer.sizes:
        over = answer.limit_ph > 0.0 and size.shares.past_limit > answer.most_past
        row = words.size_row(size, _cost(answer.activator, size.grams, prices))
        page.line(f"{row}{say('sachet.row-over') if over else ''}", indent=2, hang=6)
    page.line(words.wished(answer), indent=2, hang=2)
    page.heading(say("sachet.heading.ways"))
    shares = words.way_shares(answer)
    for way, text in words.ways(answer).items():
        mark = say("sachet.recommended") if way == answer.recommended else say("sachet.other")
        page.line(f"{mark}{text}", indent=2, hang=2)
        page.line(words.shares(shares[way]), indent=4, hang=2)
    if blends is not None:
        _show_blends(blends, page)
    if answer.cautions:
        page.heading(say("plan.heading.cautions"))
        for caution in wording.heaviest_first(answer.cautions):
            values = {
                "mark": wording.MARKS[caution.level],
                "level": wording.level(caution.level),
                "text": caution.message,
            }
            page.line(say("plan.caution", values).strip(), indent=2, hang=4)
    page.heading(say("plan.heading.assumed"))
    for note in answer.notes[1:]:
        page.line(say("plan.bullet", {"text": sentence(note)}), indent=2, hang=2)
    page.line(say("plan.bullet", {"text": say("sachet.assumed-drawn")}), indent=2, hang=2)
    page.heading(say("plan.heading.next"))
    page.line(
        say("sachet.next-own" if answer.population == "own" else "sachet.next"), indent=2, hang=2
    )
    if blends is None:
        page.line(say("sachet.next-blend"), indent=2, hang=2)


def _show_blends(blends: BlendAnswer, page: Page) -> None:
    page.heading(say("sachet.heading.blends"))
    page.line(words.blend_intro(blends), indent=2)
    for name, facts in words.blend_lines(blends):
        page.line(name, indent=2, hang=2, style="bold")
        for fact in facts:
            page.line(fact, indent=4, hang=2)


def _blend_text(answer: Answer) -> str:
    return say("plan.comma").join(powder(name).label for name, _ in answer.activator)


def _document(
    answer: Answer, blends: BlendAnswer | None, prices: dict[str, float]
) -> dict[str, Any]:
    def size(one: Size | None) -> dict[str, Any] | None:
        if one is None:
            return None
        cost = _cost(answer.activator, one.grams, prices)
        return {
            "grams": one.grams,
            **_shares(one.shares),
            "ph_low": one.ph_low,
            "ph_middle": one.ph_middle,
            "ph_high": one.ph_high,
            "cost": cost,
        }

    needs = answer.doses.turns_g
    document: dict[str, Any] = {
        "title": answer.title,
        "population": answer.population,
        "homes": answer.homes,
        "bathers": answer.bathers,
        "purpose": answer.purpose,
        "target": None
        if answer.wish is None
        else answer.wish.ph or answer.wish.word or answer.wish.hex,
        "limit_ph": answer.limit_ph if answer.limit_ph > 0.0 else None,
        "most_past_limit_share": answer.most_past,
        "activator": dict(answer.activator),
        "needed_g": {
            name: float(np.quantile(needs, share, method="nearest"))
            for name, share in (("low", 0.05), ("middle", 0.5), ("high", 0.95))
        },
        "sizes": [size(one) for one in answer.sizes],
        "past_limit_sizes_g": [one.grams for one in answer.over_the_limit],
        "one_size": size(answer.single),
        "wished_share": answer.wished_share,
        "wished_size": size(answer.wished),
        "turning_size": size(answer.reaching),
        "rules": [_rule(one) for one in answer.rules],
        "by_colour": _by_colour(answer.by_colour),
        "recommended": answer.recommended,
        "reached": answer.reached and not answer.forbidden,
        "cautions": [caution(one) for one in answer.cautions],
        "assumptions": [sentence(note) for note in answer.notes],
    }
    if blends is not None:
        document["blends"] = [_proposal(one) for one in blends.proposals]
        document["band_ph"] = blends.band
    return document


def _shares(of: Shares) -> dict[str, float]:
    return {f"{name}_share": value for name, value in asdict(of).items()}


def _rule(rule: PadRule) -> dict[str, Any]:
    return {
        "kind": rule.kind,
        "sizes_g": rule.sizes_g,
        "pads_mg_l_caco3": rule.pads,
        "grams": rule.grams,
        **_shares(rule.shares),
    }


def _by_colour(rule: ColourRule) -> dict[str, Any]:
    return {
        "sachet_g": rule.sachet_g,
        "first_g": rule.first_g,
        "step_g": rule.step_g,
        "marks": [
            {"up_to_l": mark.up_to_l, "depth_cm": mark.depth_cm, "most_g": mark.most_g}
            for mark in rule.marks
        ],
        **_shares(rule.shares),
    }


def _proposal(one: Proposal) -> dict[str, Any]:
    document = asdict(one)
    document["parts"] = dict(one.parts)
    document["in_band_share"] = document.pop("in_band")
    document["past_limit_share"] = document.pop("past_limit")
    return document


__all__ = ["Asked", "run_sachet"]
