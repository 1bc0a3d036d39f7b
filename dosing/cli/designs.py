"""``design``: from a start colour to an end colour, as a list, a picture and a recipe file."""

from __future__ import annotations

import re
import shlex
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from difflib import get_close_matches
from pathlib import Path
from typing import Any

from dosing.bath.inputs import BATHERS, RecipeInputs
from dosing.cli.jsonout import caution, note, notes, sight, verdicts
from dosing.cli.output import Page, to_json
from dosing.cli.outputs import check_free
from dosing.cli.own_files import known_pigments
from dosing.cli.planning import NOT_MET, check_picture, tables_of
from dosing.effects.answer import Effects, design_effects, wished_end
from dosing.effects.designs import Design, DesignedColour, labels
from dosing.effects.shelf import known_powder, read_shelf, whole_shelf
from dosing.ingredients.powders import powder_names
from dosing.plan.answer import preview
from dosing.recipe import recipe_from
from dosing.recipe.interview import quoted
from dosing.recipe.quantities import InputError, mass_g, refuse
from dosing.words import effects as told
from dosing.words.wording import caution_line
from indicator.files import whole_file
from indicator.notes import Value, listed, say, sentence
from indicator.optics import VIEWS
from indicator.pigments import SHIPPED, Pigments, colourant_names
from indicator.sheet import write_picture

STAINS = "design.note.stains"
DRAFT = "soak.toml"
"""File that the next command names where none was given."""
LONGEST_TITLE = 200
_PRICE = re.compile(r"(?P<what>.+?)\s+(?P<money>\d+(?:[.,]\d+)?)\s*(?:per|/)\s*(?P<mass>.+)")
_BARE_KEY = re.compile(r"[A-Za-z0-9_-]+")


@dataclass(frozen=True)
class Asked:
    """What was asked for, as it was typed."""

    start: str
    end: str
    recipe: Path | None
    demo: str | None
    shelf: str | None
    bathers: str | None
    view: str | None
    count: int
    seed: int
    prices: Sequence[str]
    picture: Path | None
    write: Path | None
    pick: int | None


def run_design(asked: Asked, *, as_json: bool) -> int:
    """Find designs and show them; returns the exit code."""
    check_picture(asked.picture)
    _check_write(asked)
    start, end = wished_end(asked.start, "start"), wished_end(asked.end, "end")
    tables = tables_of(asked.recipe, asked.demo)
    inputs = _as_asked(tables, asked)
    pigments = known_pigments().beside(one.colourant for one in inputs.colours)
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
        prices=_prices(asked.prices, pigments),
    )
    written = asked.write is not None and bool(effects.designs or asked.pick)
    if asked.write is not None and written:
        chosen = _picked(effects, asked.pick)
        with whole_file(asked.write) as draft:
            draft.write_text(
                designed_recipe(tables, effects, chosen, known_pigments()), encoding="utf-8"
            )
    if asked.picture is not None:
        from dosing.pictures.effects import draw_effects

        write_picture(draw_effects(effects), asked.picture)
    if as_json:
        to_json(document(effects, asked))
    else:
        page = Page()
        _show(effects, page, asked)
        if asked.write is not None:
            page.line()
            code = "design.written" if written else "design.not-written"
            page.line(say(code, {"file": str(asked.write)}))
        if asked.picture is not None:
            page.line(say("cli.picture-written", {"file": str(asked.picture)}))
    purpose = effects.inputs.wish.purpose
    allowed = all(one.verdicts.of(purpose).allowed for one in effects.designs[:1])
    return 0 if effects.reached and allowed else NOT_MET


def _check_write(asked: Asked) -> None:
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


def _as_asked(tables: dict[str, Any], asked: Asked) -> RecipeInputs:
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


def _prices(written: Sequence[str], pigments: Pigments) -> dict[str, float]:
    """Price per gram of what has one."""
    return dict(_price(text, pigments) for text in written)


def _price(text: str, pigments: Pigments) -> tuple[str, float]:
    match = _PRICE.fullmatch(text.strip())
    if match is None:
        raise InputError(say("design.error.price", {"value": text}), "price", text)
    mass = match["mass"].strip()
    grams = mass_g(mass if mass[:1].isdigit() else f"1 {mass}", "price")
    if grams <= 0:
        raise InputError(say("design.error.price", {"value": text}), "price", text)
    return _priced(match["what"].strip(), pigments), float(match["money"].replace(",", ".")) / grams


def _priced(name: str, pigments: Pigments) -> str:
    """Key of the colour or powder that has a price."""
    key = known_powder(name)
    if key is not None:
        return key
    try:
        return pigments.find(name).name
    except ValueError:
        close = get_close_matches(name, (*colourant_names(), *powder_names()), n=1, cutoff=0.5)
        hint = say("error.near", {"name": close[0]}) if close else ""
        values: dict[str, Value] = {"value": name, "hint": hint}
        raise InputError(say("design.error.price-unknown", values), "price", name) from None


def _picked(effects: Effects, pick: int | None) -> Design:
    """The design that is written: the first, or that of a number."""
    number = 1 if pick is None else pick
    count = len(effects.designs)
    if not 1 <= number <= count:
        raise InputError(say("design.error.pick", {"value": number, "count": count}), "pick")
    return effects.designs[number - 1]


def designed_recipe(
    tables: Mapping[str, Any],
    effects: Effects,
    design: Design,
    pigments: Pigments = SHIPPED,
) -> str:
    """A design as the text of a recipe file.

    Parameters
    ----------
    tables : mapping
        The recipe it was designed for, as written; its tub, water, foam bath and wish are kept.
    effects : Effects
        The two wishes.
    design : Design
        One of its designs.
    pigments : Pigments
        What the maker can name; any other colour is written as the path of its file.
    """
    named: dict[str, Value] = {"start": effects.start.text, "end": effects.end.text}
    met = design.start_met and design.end_met
    code = "design.title" if met else "design.title-missed"
    title = say(code, {**named, "title": effects.inputs.title})[:LONGEST_TITLE]
    whole: dict[str, Any] = {
        **tables,
        "colour": [_colour(one, pigments) for one in design.colours],
        "activator": {
            **tables.get("activator", {}),
            "parts": dict(design.inputs.activator.parts),
        },
        "wish": {**tables.get("wish", {}), "target": str(design.inputs.wish.target)},
    }
    comment = say("design.recipe.comment" if met else "design.recipe.comment-missed", named)
    lines = [f"# {comment}", "schema = 1", f"title = {quoted(title)}"]
    for table in ("tub", "water", "foam_bath"):
        lines += _table(f"[{table}]", whole.get(table, {}))
    for colour in whole["colour"]:
        lines += _table("[[colour]]", colour)
    for table in ("activator", "wish"):
        lines += _table(f"[{table}]", whole[table])
    return "\n".join(lines) + "\n"


def _colour(one: DesignedColour, pigments: Pigments) -> dict[str, Any]:
    named = one.colourant in pigments.every
    kept = {"preserved": True} if one.stock.preserved else {}
    return {
        one.colourant.kind: one.name if named else one.colourant.file,
        "amount": f"{one.amount_ml:g} mL",
        "strength": one.stock.written,
        **kept,
    }


def _table(heading: str, content: Mapping[str, Any]) -> list[str]:
    if not content:
        return []
    return ["", heading, *(f"{_key(key)} = {_toml(value)}" for key, value in content.items())]


def _key(name: str) -> str:
    return name if _BARE_KEY.fullmatch(name) else quoted(name)


def _toml(value: Any) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return quoted(value)
    if isinstance(value, Mapping):
        inside = ", ".join(f"{_key(key)} = {_toml(one)}" for key, one in value.items())
        return f"{{ {inside} }}"
    return repr(value)


def document(effects: Effects, asked: Asked) -> dict[str, Any]:
    """Everything that is answered; units are in the key names."""
    beyond, shown = effects.beyond_shelf, effects.display_only
    return {
        "start": effects.start.text,
        "end": effects.end.text,
        "designs": [
            _design(one, rank, _next_commands(asked, rank))
            for rank, one in enumerate(effects.designs, start=1)
        ],
        "reached": effects.reached,
        "verdicts": _verdicts(effects),
        "needed": notes(effects.needed),
        "beyond_shelf": None
        if beyond is None
        else _design(beyond, 1, _next_commands(replace(asked, shelf=_shelf_of(beyond)), 1)),
        "display_only": None
        if shown is None
        else _design(shown, 1, _next_commands(replace(asked, bathers="nobody"), 1)),
        "cautions": [caution(one) for one in effects.blocked],
        "bathers": effects.bathers,
        "vessel": effects.inputs.wish.view,
        "volume_l": effects.volume_l,
        "depth_cm": effects.depth_cm,
        "stocks": told.stock_lines(effects),
        "warnings": notes(effects.warnings),
    }


def _verdicts(effects: Effects) -> dict[str, Any] | None:
    """Those of the first design, or of the tub that forbids every design."""
    if effects.designs:
        return verdicts(effects.designs[0].verdicts)
    # What forbids every design is the tub before any colour.
    bare = replace(effects.inputs, colours=())
    return verdicts(preview(bare, 0.0).verdicts) if effects.blocked else None


def _shelf_of(design: Design) -> str:
    return ", ".join([*(one.name for one in design.colours), *dict(design.activator)])


def _next_commands(asked: Asked, rank: int) -> list[str]:
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
    return [shlex.join(words), shlex.join(["huedose", "plan", file])]


def _design(design: Design, rank: int, following: Sequence[str]) -> dict[str, Any]:
    return {
        "rank": rank,
        "colours": [_colour_document(one) for one in design.colours],
        "activator": dict(design.activator),
        "dose_g": design.dose_g,
        "ph_before": design.before.ph,
        "ph_after": design.after.ph,
        "ph_acid_side": design.ph_acid_side,
        "ph_alkaline_side": design.ph_alkaline_side,
        "past_limit_share": design.past_limit_share,
        "before": sight(design.before),
        "after": sight(design.after),
        "change_delta_e": design.change_delta_e,
        "start_met": design.start_met,
        "end_met": design.end_met,
        "start_certainty": design.start_words.certainty,
        "end_certainty": design.end_words.certainty,
        "start_called_share": design.start_words.called,
        "end_called_share": design.end_words.called,
        "start_votes": dict(design.start_words.votes),
        "end_votes": dict(design.end_words.votes),
        "start_delta_e": design.start_delta_e,
        "end_delta_e": design.end_delta_e,
        "sure_share": design.sure_share,
        "tubs_share": design.tubs_share,
        "level": design.level,
        "verdicts": verdicts(design.verdicts),
        "cautions": [caution(one) for one in design.cautions],
        "not_for_bathing": design.not_for_bathing,
        "price": design.price,
        "unpriced": list(design.unpriced),
        "notes": [note(one) for one in design.notes],
        "next_commands": list(following),
    }


def _colour_document(one: DesignedColour) -> dict[str, Any]:
    return {
        "name": one.name,
        "amount": one.amount_ml,
        "unit": "mL",
        "strength": one.stock.written,
        "powder_g" if one.stock.is_dye else "petals_g": one.grams,
    }


def _show(effects: Effects, page: Page, asked: Asked) -> None:
    page.line(told.title(effects), style="bold")
    page.line(told.setting_line(effects))
    page.line()
    page.line(told.outcome(effects), style="bold")
    _listed("", [one.message for one in effects.blocked], page)
    for rank, design in enumerate(effects.designs, start=1):
        heading = say("design.head", {"rank": rank, "colours": labels(design)})
        _show_design(design, effects, heading, page)
    needed = [one for one in effects.needed if not one.code.startswith("caution.")]
    _listed("design.heading-needed", map(sentence, needed), page)
    for code, extra in (
        ("beyond-shelf", effects.beyond_shelf),
        ("display", effects.display_only),
    ):
        if extra is not None:
            heading = f"{say(f'design.{code}')}: {labels(extra)}"
            _show_design(extra, effects, heading, page)
    cautions = told.shared_cautions(effects)
    if cautions:
        page.heading(say(told.cautions_heading(effects)))
        for one in cautions:
            page.line(caution_line(one), indent=2, hang=4)
    _listed("design.heading-stocks", told.stock_lines(effects), page)
    _listed("design.heading-notes", _of_the_colours(effects), page)
    _listed("design.known", map(sentence, effects.warnings), page)
    written = None if asked.write is None or not effects.designs else str(asked.write)
    _listed("design.heading-next", told.next_lines(effects, written), page)
    if any(design.price is not None for design in told.shown_designs(effects)):
        page.line()
        page.line(say("design.money"))


def _of_the_colours(effects: Effects) -> list[str]:
    """What holds for colours of several designs, once."""
    every = [note for design in told.shown_designs(effects) for note in design.notes]
    general = {sentence(note): note for note in every if note.code not in told.INSIDE}
    stains = [str(one.values["colour"]) for one in general.values() if one.code == STAINS]
    rest = [sentence(one) for one in general.values() if one.code != STAINS]
    return [*rest, say("design.stain-all", {"colours": listed(stains)})] if stains else rest


def _listed(heading: str, texts: Iterable[str], page: Page) -> None:
    """Bullets, under a heading if there is one; nothing where there are none."""
    for number, text in enumerate(texts):
        if number == 0 and heading:
            page.heading(say(heading))
        page.line(say("plan.bullet", {"text": text}), indent=2, hang=2)


def _show_design(design: Design, effects: Effects, heading: str, page: Page) -> None:
    page.heading(heading)
    if design.not_for_bathing:
        page.line(say("plan.not-for-bathing"), indent=3, style="bold")
    before, after = str(design.before.colour.hex), str(design.after.colour.hex)
    page.pair(before, after, told.colours_line(design), indent=3)
    page.line(say("design.hexes", {"before": before, "after": after}), indent=3)
    for text in told.lines(design, effects):
        page.line(text, indent=3, hang=2)
