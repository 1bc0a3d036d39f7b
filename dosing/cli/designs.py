"""``design``: from a start colour to an end colour, as a list, a picture and a recipe file."""

from __future__ import annotations

import shlex
from collections.abc import Sequence
from dataclasses import dataclass
from difflib import get_close_matches
from pathlib import Path
from typing import Any

from dosing.bath.inputs import BATHERS, RecipeInputs
from dosing.cli.codes import NOT_MET
from dosing.cli.given import check_picture, tables_of
from dosing.cli.output import show
from dosing.cli.outputs import check_free
from dosing.cli.own_files import known_pigments
from dosing.effects.answer import Effects, design_effects, wished_end
from dosing.effects.designs import Design
from dosing.effects.prices import prices_per_gram
from dosing.effects.shelf import read_shelf, whole_shelf
from dosing.effects.written import designed_recipe
from dosing.pictures.sheets import write_picture
from dosing.recipe import recipe_from
from dosing.recipe.quantities import InputError, refuse
from dosing.words.effects import design_lines, stock_lines
from indicator.files import whole_file
from indicator.notes import say
from indicator.optics import VIEWS

DRAFT = "soak.toml"
"""File that the next command names where none was given."""


@dataclass(frozen=True)
class DesignOptions:
    """Options of ``design``, as they were typed."""

    start: str
    end: str
    recipe: Path | None
    demo: str | None
    shelf: str | None
    bathers: str | None
    view: str | None
    count: int
    seed: int
    price: Sequence[str] | None
    picture: Path | None
    write: Path | None
    pick: int | None
    as_json: bool


@dataclass(frozen=True)
class NextCommands:
    """Commands to run before anything is poured."""

    write: str
    """Writes the design down."""
    plan: str
    """Plans it."""


@dataclass(frozen=True)
class DesignDocument:
    """Answer of ``design``."""

    answer: Effects
    stocks: tuple[str, ...]
    """How to make each infusion and solution that is poured."""
    next_commands: tuple[NextCommands, ...]
    """Of each design."""


def run_design(asked: DesignOptions) -> int:
    """Find designs and show them; returns the exit code."""
    check_picture(asked.picture)
    _check_write(asked)
    start, end = wished_end(asked.start, "start"), wished_end(asked.end, "end")
    tables = tables_of(asked.recipe, asked.demo)
    inputs = _as_asked(tables, asked)
    pigments = known_pigments().beside(colour.colourant for colour in inputs.colours)
    shelf = whole_shelf(inputs.colours, pigments)
    if asked.shelf is not None:
        shelf = read_shelf(asked.shelf, pigments)
    effects = design_effects(
        inputs,
        start,
        end,
        shelf=shelf,
        count=asked.count,
        seed=asked.seed,
        prices=prices_per_gram(asked.price or (), pigments),
    )
    if asked.write is not None and (effects.designs or asked.pick):
        chosen = _picked(effects, asked.pick)
        text = designed_recipe(tables, effects, chosen, known_pigments())
        with whole_file(asked.write) as draft:
            draft.write_text(text, encoding="utf-8")
    if asked.picture is not None:
        from dosing.pictures.shop import draw_shop, shown_design

        shown = shown_design(effects, foam=inputs.foam_bath is not None)
        write_picture(draw_shop(shown), asked.picture)
    lines = design_lines(effects, None if asked.write is None else str(asked.write))
    show(_document(effects, asked), lines, asked.picture, as_json=asked.as_json)
    return 0 if effects.reached and effects.allowed else NOT_MET


def _check_write(asked: DesignOptions) -> None:
    """Refuse what cannot be written before anything is computed."""
    if asked.seed < 0:
        raise InputError(say("design.error.seed", {"value": asked.seed}), "seed", asked.seed)
    if asked.write is None:
        if asked.pick is not None:
            raise InputError(say("design.error.pick-alone", {"value": asked.pick}), "pick")
        return
    file = str(asked.write)
    if asked.write.suffix.lower() != ".toml":
        raise InputError(say("design.error.write-ending", {"file": file}), "write", file)
    if asked.write.is_dir() or not asked.write.parent.is_dir():
        raise InputError(say("cli.output-folder", {"file": file}), "write", file)
    check_free(asked.write, "write")


def _as_asked(tables: dict[str, Any], asked: DesignOptions) -> RecipeInputs:
    """The recipe, its tables changed to the bathers and the view that were asked for."""
    name = "recipe" if asked.recipe is None else asked.recipe
    pigments = known_pigments()
    inputs = recipe_from(tables, name, pigments)
    wish = tables.setdefault("wish", {})
    if asked.bathers is not None:
        wish["bathers"] = _choice("bathers", asked.bathers, BATHERS)
        if wish["bathers"] != "child":
            wish.pop("child_age", None)
    if asked.view is not None:
        wish["view"] = _choice("view", asked.view, VIEWS)
    return recipe_from(tables, name, pigments) if asked.bathers or asked.view else inputs


def _choice(field: str, written: str, accepted: Sequence[str]) -> str:
    wanted = written.strip().casefold()
    if wanted in accepted:
        return wanted
    close = get_close_matches(wanted, accepted, n=1)
    hint = say("error.near", {"name": close[0]}) if close else ""
    raise refuse("error.choice", field, written, ", ".join(accepted), hint=hint)


def _picked(effects: Effects, pick: int | None) -> Design:
    """The design that is written: the first, or that of a number."""
    number = 1 if pick is None else pick
    count = len(effects.designs)
    if not 1 <= number <= count:
        raise InputError(say("design.error.pick", {"value": number, "count": count}), "pick")
    return effects.designs[number - 1]


def _document(effects: Effects, asked: DesignOptions) -> DesignDocument:
    return DesignDocument(
        answer=effects,
        stocks=tuple(stock_lines(effects)),
        next_commands=tuple(
            _next_commands(asked, rank) for rank, _ in enumerate(effects.designs, start=1)
        ),
    )


def _next_commands(asked: DesignOptions, rank: int) -> NextCommands:
    """What writes a design down and plans it."""
    file = str(asked.write or DRAFT)
    words = ["huedose", "design", asked.start, asked.end]
    for option, value in (
        ("recipe", asked.recipe),
        ("demo", asked.demo),
        ("shelf", asked.shelf),
        ("bathers", asked.bathers),
        ("view", asked.view),
        ("count", asked.count),
        ("seed", asked.seed),
        ("write", file),
        ("pick", rank),
    ):
        words += [] if value is None else [f"--{option}", str(value)]
    return NextCommands(shlex.join(words), shlex.join(["huedose", "plan", file]))
