"""Answers: what a person writes to each of the six questions, read into tables of the recipe.

Everything is read generously but never guessed at: what could be meant in two ways is refused with
a sentence that shows how to say it.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass, field

from dosing.ingredients.trade_values import typical
from dosing.ingredients.tub import tub_size, tub_size_names
from dosing.ingredients.water import typical_water_names
from dosing.recipe import quantities as q
from dosing.recipe.vocabulary import kind_of, numbers_in, pattern, spelled, words
from indicator.notes import say

QUESTIONS = ("tub", "fill", "water", "foam", "colour", "bathers")
MOST_LETTERS = 200

Table = dict[str, str]


@dataclass
class Answers:
    """Answers that were given so far, as tables of the recipe."""

    tub: Table = field(default_factory=dict)
    water: Table = field(default_factory=dict)
    foam_bath: Table = field(default_factory=dict)
    colour: Table = field(default_factory=dict)
    wish: Table = field(default_factory=dict)
    colour_wanted: bool = True
    """Whether a colour goes in at all."""
    size: str = "bath-tub"
    """Kind of tub that gives what was not measured."""


def take(answers: Answers, question: str, text: str) -> str:
    """Take one answer in.

    Parameters
    ----------
    answers : Answers
        What has been answered; changed in place only if the answer can be used.
    question : str
        One of `QUESTIONS`, asked in their order.
    text : str
        The answer as it was written.

    Returns
    -------
    str
        What it was taken as, in words.

    Raises
    ------
    InputError
        If the answer cannot be read; its sentence says what can.
    """
    if len(text) > MOST_LETTERS:
        raise q.InputError(say("new.too-long", {"most": MOST_LETTERS}), question, text)
    written = " ".join(text.replace("’", "'").split())
    plain = " ".join(spelled("number", word) for word in written.casefold().split(" "))
    told = question == "water" and kind_of("like", plain) is not None
    if pattern("unknown").search(plain) and not told:
        _not_known(answers, question)
        return say("new.unknown")
    unclear = q.InputError(_how(question, written), question, text)
    none = pattern("none").match(plain)
    if question != "bathers" and not none and pattern("two_ways").search(plain):
        raise unclear
    try:
        taken = _TAKE[question](answers, plain)
    except q.InputError as error:
        # A quantity that can be named says more than the question does.
        if error.field != question or not re.search(r"\d", plain):
            raise unclear from error
        raise
    if taken is None:
        raise unclear
    return say("new.taken", {"taken": taken})


def _how(question: str, written: str) -> str:
    return say(f"new.{question}", {"value": written})


def _not_known(answers: Answers, question: str) -> None:
    """What stands in for an answer that is not known, where leaving it out would not do."""
    if question == "fill" and "length" in answers.tub and "fill" not in answers.tub:
        answers.tub["fill"] = _depth(answers.size, tub_size(answers.size).volume_l)
    if question == "foam":
        answers.foam_bath = {"amount": f"{typical('foam_bath_amount').value:g} mL"}


def _depth(size: str, litres: float) -> str:
    """Depth of so much water in a usual tub of a size."""
    return f"{1000.0 * litres / tub_size(size).area_cm2:.0f} cm"


def _area(square_cm: float) -> str:
    return f"{square_cm:.0f} cm2"


def _understood(text: str, used: list[str], known: frozenset[str]) -> bool:
    """Whether nothing is left of a text but known words once what was used is taken out."""
    rest = text
    for part in used:
        rest = rest.replace(part, " ", 1)
    return known.issuperset(re.findall(r"[^\W\d_][\w']*|\d+", rest))


def _lengths(text: str, question: str) -> list[str]:
    """All lengths of a text, also ``150 x 60 cm`` and ``5' x 2'``, checked."""
    sides = pattern("sides").search(text)
    if sides is not None:
        pairs = [(number, sides[4]) for number in sides.group(1, 2, 3) if number]
    else:
        matches = pattern("length").finditer(text)
        pairs = [(m[1], m[2]) if m[1] else (m[3], m[4]) for m in matches]
    lengths = [f"{number} {spelled('unit', unit)}" for number, unit in pairs]
    for length in lengths:
        q.length_cm(length, question)
    return lengths


def _litres(text: str, question: str) -> str | None:
    """The volume of a text, checked; None if there is none, or a number besides."""
    volumes = list(pattern("volume").finditer(text))
    if len(volumes) != 1 or numbers_in(text) != 1:
        return None
    volume = f"{volumes[0][1]} {volumes[0][2]}"
    q.volume_l(volume, question)
    return volume


def _tub(answers: Answers, text: str) -> str | None:
    if litres := _litres(text, "tub"):
        answers.tub = {"volume": litres}
        return litres
    lengths = _lengths(text, "tub")
    if len(lengths) in (2, 3) and numbers_in(text) == len(lengths):
        answers.tub = dict(zip(("length", "width", "fill"), lengths, strict=False))
        return " x ".join(lengths)
    if lengths or re.search(r"\d", text):
        return None
    known = {name.replace("-", " "): name for name in tub_size_names()}
    name = known.get(text) or kind_of("tub", text)
    if not name:
        return None
    answers.size = name
    kind = tub_size(name)
    answers.tub = {"volume": f"{kind.volume_l:g} L", "floor_area": _area(kind.area_cm2)}
    return say("new.tub-kind", {"kind": name.replace("-", " "), "litres": kind.volume_l})


def _fill(answers: Answers, text: str) -> str | None:
    spoken = set(re.findall(r"[a-z']+", text))
    if spoken & words("vague") or not spoken <= words("small", "fill"):
        return None
    if (litres := _litres(text, "fill")) and not spoken & words("measured"):
        answers.tub = {"volume": litres}
        return litres
    lengths = _lengths(text, "fill")
    if len(lengths) == 1 and numbers_in(text) == 1:
        _deep(answers, lengths[0])
        return say("new.deep", {"depth": lengths[0]})
    return None if lengths or re.search(r"\d", text) else _level(answers, spoken)


def _volume_alone(answers: Answers) -> bool:
    """Whether the water was measured, and nothing is said of how deep it stands."""
    return "volume" in answers.tub and "floor_area" not in answers.tub


def _deep(answers: Answers, depth: str) -> None:
    area, centimetres = tub_size(answers.size).area_cm2, q.length_cm(depth, "fill")
    if "length" in answers.tub:
        answers.tub["fill"] = depth
    elif _volume_alone(answers):
        measured = _area(1000.0 * q.volume_l(answers.tub["volume"], "tub") / centimetres)
        try:
            q.area_cm2(measured, "fill")
        except q.InputError as error:
            # So much water does not stand so low, or so high.
            raise q.InputError(_how("fill", depth), "fill", depth) from error
        answers.tub["floor_area"] = measured
    else:
        volume = f"{area * centimetres / 1000.0:.0f} L"
        answers.tub |= {"volume": volume, "floor_area": _area(area)}


def _level(answers: Answers, spoken: set[str]) -> str | None:
    """Low, half or full, by the usual water of such a tub."""
    kind = tub_size(answers.size)
    usual = {"low": kind.low_l, "half": kind.volume_l, "full": kind.high_l}
    litres = next((usual[level] for level in usual if level in spoken), None)
    if litres is None:
        return None
    if "length" in answers.tub:
        answers.tub["fill"] = _depth(answers.size, litres)
        return say("new.deep", {"depth": answers.tub["fill"]})
    # Where its water was measured, how deep that looks stays usual.
    if not _volume_alone(answers):
        answers.tub["volume"] = f"{litres:g} L"
    return answers.tub["volume"]


def _water(answers: Answers, text: str) -> str | None:
    table: Table = {}
    for segment in pattern("readings_apart").split(text):
        bare = pattern("of_what").sub(" ", segment)
        name = kind_of("what_was_read", segment)
        if numbers_in(bare) > 1 or pattern("as_metal").search(segment):
            return None
        if name is None and not numbers_in(bare):
            continue
        reading = None if name is None or name in table else _reading(name, bare)
        if name is None or reading is None:
            return None
        table[name] = reading
    if table:
        instrument = kind_of("instrument", text)
        answers.water = table | ({} if instrument is None else {"instrument": instrument})
        return ", ".join(f"{key.replace('_', ' ')} {said}" for key, said in answers.water.items())
    like = kind_of("like", text)
    if like is None or like not in typical_water_names():
        return None
    answers.water = {"like": like}
    return say("new.like", {"water": like.replace("-", " ")})


def _reading(name: str, bare: str) -> str | None:
    """The quantity of one reading, in a spelling that recipes know, checked."""
    if name == "ph":
        number = pattern("number").search(bare)
        if number is None:
            return None
        q.ph(number[0].replace(",", "."), "water")
        return number[0].replace(",", ".")
    typed = pattern("reading").search(bare)
    if typed is None:
        return None
    reading = f"{typed[1]} {spelled('unit', typed[2].replace(' ', ''))}"
    if name == "bicarbonate":
        q.ion_mmol_l(reading, name, "water")
    else:
        read = q.hardness_mmol_l if name == "hardness" else q.alkalinity_meq_l
        read(reading, "water")
    return reading


def _foam(answers: Answers, text: str) -> str | None:
    if pattern("none").match(text):
        answers.foam_bath = {}
        return say("new.none")
    amounts = [*pattern("mass").finditer(text), *pattern("volume").finditer(text)]
    if len(amounts) != 1 or numbers_in(text) != 1:
        return None
    if not _understood(text, [amounts[0][0]], words("small", "foam")):
        return None
    amount = f"{amounts[0][1]} {amounts[0][2]}"
    q.amount(amount, "foam")
    answers.foam_bath = {"amount": amount}
    return amount


def _colour(answers: Answers, text: str) -> str | None:
    if pattern("none").match(text):
        answers.colour_wanted, answers.colour = False, {}
        return say("new.none")
    grams, volume, percent = (pattern(name).search(text) for name in ("mass", "volume", "percent"))
    used = [match[0] for match in (grams, volume, percent) if match is not None]
    if not _understood(text, used, words("small", "colour")):
        return None
    measured = grams or volume
    if measured is None or (not grams and not percent and pattern("petals").search(text)):
        return None
    amount, strength = f"{measured[1]} {measured[2]}", percent and f"{percent[1]} %"
    if grams and volume:
        # Petals steeped in a volume, all of which goes in.
        weight = q.mass_g(amount, "colour")
        litres = q.volume_l(f"{volume[1]} {volume[2]}", "colour")
        amount, strength = f"{weight:g} g", f"{weight / litres / 10.0:.2g} %"
    q.amount(amount, "colour")
    answers.colour = {"pigment": "butterfly-pea", "amount": amount}
    if strength is None:
        return amount
    q.colour_strength(strength, "colour")
    answers.colour["strength"] = strength
    return f"{amount}, {strength}"


def _bathers(answers: Answers, text: str) -> str | None:
    said = pattern("denied_children").sub(" ", text)
    if pattern("denied_adults").search(said) or pattern("odd_age").search(said):
        return None
    ages = [_years(match) for match in pattern("age").finditer(pattern("counts").sub(" ", said))]
    young = [age for age in ages if age < typical("grown_up_years").value]
    child, little, adult, nobody, anyone = (
        pattern(name).search(said) is not None
        for name in ("children", "little_ones", "adults", "nobody", "anyone")
    )
    adult = adult or (bool(ages) and not young)
    if nobody and (adult or child):
        return None
    if child or young:
        return _youngest(answers, young, little=little)
    bathers = "nobody" if nobody else "adult" if adult else "anyone" if anyone else None
    if bathers is None:
        return None
    answers.wish = {} if bathers == "anyone" else {"bathers": bathers}
    return say(f"new.{bathers}")


def _years(match: re.Match[str]) -> float:
    """An age in years, checked."""
    number, unit = float(match[1].replace(",", ".")), match[2] or "years"
    return q.age_years(f"{number:g} {spelled('age_unit', unit[0])}", "bathers")


def _youngest(answers: Answers, ages: list[float], *, little: bool) -> str:
    """A child's bath, judged for the youngest who is spoken of."""
    answers.wish = {"bathers": "child"}
    youngest = min(ages, default=99.0)
    if little and youngest > 1.0:
        # Under three no foam bath is right; nobody calls an older child so.
        answers.wish["child_age"] = "1 year"
        return say("new.little-one")
    if not ages:
        return say("new.child")
    age = f"{youngest:g} years" if youngest >= 2 else f"{12 * youngest:.3g} months"
    answers.wish["child_age"] = age
    return say("new.child-age", {"age": age})


_TAKE: dict[str, Callable[[Answers, str], str | None]] = {
    "tub": _tub,
    "fill": _fill,
    "water": _water,
    "foam": _foam,
    "colour": _colour,
    "bathers": _bathers,
}
