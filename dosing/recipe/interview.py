"""The interview: six plain answers turned into a recipe.

Each answer is text as a person writes it, and "don't know" is an answer to every question. Nothing
is asked of a terminal here; a face asks and hands the answers in.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass, field

from dosing import quantities as q
from dosing.assembly import assemble
from dosing.brewing import tint_amounts
from dosing.recipe.models import Recipe
from dosing.recipe.reading import parse_recipe
from dosing.trade_values import typical
from dosing.tub import tub_size, tub_size_names
from dosing.water import typical_water_names
from indicator.notes import say

QUESTIONS = ("tub", "fill", "water", "foam", "colour", "bathers")
_UNKNOWN = {"", "?", "-", "don't know", "dont know", "don’t know", "do not know", "not sure"}
_UNKNOWN |= {"unknown", "no idea", "idk", "dunno"}
_NONE = {"none", "no", "nothing", "0", "without"}
_SIDES = re.compile(r"^(.+?)\s*(?:x|×|by|\*)\s*(.+)$")
_READING = re.compile(
    r"\b(alkalinity|hardness|ph)\b\s*(?:is|of|=|:)?\s*(.+?)\s*(?=$|[,;]|"
    r"\b(?:and|by|with|from|alkalinity|hardness|ph|strips?|drop kit|meter|report)\b)",
    re.IGNORECASE,
)
_INSTRUMENTS = {
    "strip": "strip",
    "drop kit": "drop kit",
    "meter": "meter",
    "report": "water report",
}
_FULLNESS = {"low": 0, "shallow": 0, "quarter": 0, "half": 1, "full": 2, "deep": 2, "brim": 2}

Table = dict[str, str]


@dataclass
class Answers:
    """What has been answered so far, as tables of the recipe; values are TOML text."""

    tub: Table = field(default_factory=dict)
    water: Table = field(default_factory=dict)
    foam_bath: Table = field(default_factory=dict)
    colour: Table = field(default_factory=dict)
    wish: Table = field(default_factory=dict)
    colour_wanted: bool = True
    """Whether a colour goes in at all."""
    size: str = "bath-tub"
    """Kind of tub that gives what was not measured."""


def take(answers: Answers, question: str, text: str) -> None:
    """Take one answer in.

    Parameters
    ----------
    answers : Answers
        What has been answered; changed in place only if the answer can be used.
    question : str
        One of `QUESTIONS`, asked in their order.
    text : str
        The answer as it was written.

    Raises
    ------
    InputError
        If the answer cannot be read; its sentence says what can.
    """
    plain = " ".join(text.split())
    if len(text) > MOST_LETTERS:
        raise q.InputError(say("new.too-long", {"most": MOST_LETTERS}), question, text)
    _TAKE[question](answers, plain, plain.casefold() in _UNKNOWN)


MOST_LETTERS = 200


def recipe_text(answers: Answers, title: str) -> str:
    """The recipe as TOML, with what was not known left open.

    Parameters
    ----------
    answers : Answers
        All six.
    title : str
        What the bath is called.
    """
    without = _text(answers, title, {})
    if not answers.colour_wanted:
        return without
    return _text(answers, title, answers.colour or _clear_tint(parse_recipe(without)))


def _clear_tint(recipe: Recipe) -> Table:
    """Colour for a clear tint, for somebody who does not know how much to take."""
    inputs = recipe.core()
    clear = next(one for one in tint_amounts(inputs, assemble(inputs)) if one.tint == "clear")
    step = 10.0 if clear.infusion_ml >= 20 else 1.0
    millilitres = max(round(clear.infusion_ml / step) * step, step)
    return {
        "pigment": _quoted("butterfly-pea"),
        "amount": _quoted(f"{millilitres:g} mL"),
        "strength": _quoted(f"{clear.infusion_percent:g} %"),
    }


def _text(answers: Answers, title: str, colour: Table) -> str:
    lines = [f"# {say('new.written')}", "schema = 1", f"title = {_quoted(title)}"]
    tables = (
        ("[tub]", answers.tub),
        ("[water]", answers.water),
        ("[foam_bath]", answers.foam_bath),
        ("[[colour]]", colour),
        ("[wish]", answers.wish),
    )
    for heading, table in tables:
        if table:
            lines += ["", heading, *(f"{key} = {value}" for key, value in table.items())]
    return "\n".join(lines) + "\n"


def _quoted(text: str) -> str:
    escaped = text.replace("\\", "\\\\").replace('"', '\\"')
    return f'"{escaped}"'


def _tub(answers: Answers, text: str, unknown: bool) -> None:
    if unknown:
        return
    names = {name.replace("-", " "): name for name in tub_size_names()}
    spoken = {"small": "child-bath", "usual": "bath-tub", "normal": "bath-tub", "large": "deep-tub"}
    named = {**names, **spoken}
    said = text.casefold().replace("’", "'")
    said = said if said in named else said.replace("'s", "")
    if said in named:
        answers.size = named[said]
        kind = tub_size(answers.size)
        answers.tub = {
            "volume": _quoted(f"{kind.volume_l:g} L"),
            "floor_area": _area(kind.area_cm2),
        }
        return
    if sides := _SIDES.match(text):
        length, width = sides[1], sides[2]
        unit = re.sub(r"^[\d.,/\s]+", "", width)
        if re.fullmatch(r"[\d.,/\s]+", length):
            length = f"{length} {unit}"
        _checked(q.length_cm, length, "tub", text)
        _checked(q.length_cm, width, "tub", text)
        answers.tub = {"length": _quoted(length), "width": _quoted(width)}
        return
    _checked(q.volume_l, text, "tub", text)
    answers.tub = {"volume": _quoted(text)}


def _fill(answers: Answers, text: str, unknown: bool) -> None:
    kind = tub_size(answers.size)
    measured = "length" in answers.tub
    said = text.casefold().split()
    level = next((step for word, step in _FULLNESS.items() if word in said), None)
    if unknown or level is not None:
        level = 1 if level is None else level
        litres = (kind.low_l, kind.volume_l, kind.high_l)[level]
        if measured:
            depth = 1000.0 * litres / kind.area_cm2
            answers.tub["fill"] = _quoted(f"{depth:.0f} cm")
        elif "floor_area" in answers.tub and not unknown:
            answers.tub["volume"] = _quoted(f"{litres:g} L")
        return
    depth = _checked(q.length_cm, text, "fill", text)
    if measured:
        answers.tub["fill"] = _quoted(text)
    elif "volume" in answers.tub and "floor_area" not in answers.tub:
        litres = q.volume_l(_unquoted(answers.tub["volume"]), "tub")
        answers.tub["floor_area"] = _area(1000.0 * litres / depth)
    else:
        answers.tub["volume"] = _quoted(f"{kind.area_cm2 * depth / 1000.0:.0f} L")
        answers.tub["floor_area"] = _area(kind.area_cm2)


def _water(answers: Answers, text: str, unknown: bool) -> None:
    if unknown:
        return
    table: Table = {}
    liked = {name.replace("-", " "): name for name in typical_water_names()} | {
        "middling": "medium"
    }
    bare = text.casefold().removesuffix(" water")
    if bare in liked:
        answers.water = {"like": _quoted(liked[bare])}
        return
    for found in _READING.finditer(text):
        name, value = found[1].casefold(), found[2].strip(" .")
        check = {"alkalinity": q.alkalinity_meq_l, "hardness": q.hardness_mmol_l, "ph": q.ph}[name]
        check(value, name)
        table[name] = _quoted(value)
    if not table:
        raise q.InputError(say("new.water", {"value": text}), "water", text)
    for word, instrument in _INSTRUMENTS.items():
        if word in text.casefold():
            table["instrument"] = _quoted(instrument)
    answers.water = table


def _foam(answers: Answers, text: str, unknown: bool) -> None:
    if text.casefold() in _NONE:
        return
    if unknown:
        answers.foam_bath = {"amount": _quoted(f"{typical('foam_bath_amount').value:g} mL")}
        return
    _measured(text, "foam", text)
    answers.foam_bath = {"amount": _quoted(text)}


def _colour(answers: Answers, text: str, unknown: bool) -> None:
    if unknown:
        return
    if text.casefold() in _NONE:
        answers.colour_wanted = False
        return
    table: Table = {"pigment": _quoted("butterfly-pea")}
    strength = re.search(r"(\d+(?:[.,]\d+)?\s*%)", text)
    if strength:
        q.colour_strength(strength[1], "strength")
        text = text.replace(strength[1], " ")
    kinds = r"\b(?:of|at|dried|petals?|flowers?|powder|infusion|tea|butterfly|pea|brewed?|strong)\b"
    amount = " ".join(re.sub(kinds, " ", text, flags=re.IGNORECASE).split())
    _measured(amount, "colour", text)
    table["amount"] = _quoted(amount)
    if strength:
        table["strength"] = _quoted(strength[1])
    answers.colour = table


def _bathers(answers: Answers, text: str, unknown: bool) -> None:
    if unknown:
        return
    said = text.casefold()
    words = set(re.findall(r"[a-z]+", said))
    if words & {"nobody", "none", "display", "basin", "jar"}:
        answers.wish = {"bathers": _quoted("nobody")}
    elif words & {"child", "children", "kid", "kids", "baby", "toddler", "son", "daughter"}:
        answers.wish = {"bathers": _quoted("child")}
        if age := re.search(r"(\d+(?:[.,]\d+)?)\s*(months?|years?|y\b|yrs?)?", said):
            unit = "months" if (age[2] or "").startswith("month") else "years"
            q.age_years(f"{age[1]} {unit}", "bathers")
            answers.wish["child_age"] = _quoted(f"{age[1]} {unit}")
    elif words & {"adult", "adults", "me", "myself", "us", "guest", "guests", "i", "grown"}:
        answers.wish = {"bathers": _quoted("adult")}
    else:
        raise q.InputError(say("new.bathers", {"value": text}), "bathers", text)


def _checked(read: Callable[[object, str], float], value: str, question: str, answer: str) -> float:
    """A quantity of an answer; where it is none, the sentence says all that would do."""
    try:
        return read(value, question)
    except q.InputError as error:
        if any(letter.isdigit() for letter in value):
            raise
        raise q.InputError(say(f"new.{question}", {"value": answer}), question, answer) from error


def _measured(value: str, question: str, answer: str) -> None:
    _checked(lambda text, name: q.amount(text, name).value, value, question, answer)


def _area(square_cm: float) -> str:
    return _quoted(f"{square_cm:.0f} cm2")


def _unquoted(text: str) -> str:
    return text[1:-1].replace('\\"', '"').replace("\\\\", "\\")


_TAKE: dict[str, Callable[[Answers, str, bool], None]] = {
    "tub": _tub,
    "fill": _fill,
    "water": _water,
    "foam": _foam,
    "colour": _colour,
    "bathers": _bathers,
}
