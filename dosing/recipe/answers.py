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
from dosing.recipe import vocabulary
from indicator.notes import say

QUESTIONS = ("tub", "fill", "water", "foam", "colour", "bathers")
MOST_LETTERS = 200

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
    plain = _with_digits(written.casefold())
    reader, unknown = _TAKE[question], bool(vocabulary.UNKNOWN.search(plain))
    if question == "water" and unknown:
        unknown = not any(re.search(pattern, plain) for _, pattern in vocabulary.LIKE)
    if unknown:
        _not_known(answers, question)
        return say("new.unknown")
    if (
        question != "bathers"
        and not vocabulary.NONE.match(plain)
        and vocabulary.TWO_WAYS.search(plain)
    ):
        raise q.InputError(_how(question, written), question, text)
    try:
        taken = reader(answers, plain)
    except q.InputError as error:
        # A quantity that can be named says more than the question does.
        if error.field != question or not re.search(r"\d", plain):
            raise q.InputError(_how(question, written), question, text) from error
        raise
    if taken is None:
        raise q.InputError(_how(question, written), question, text)
    return say("new.taken", {"taken": taken})


def _how(question: str, written: str) -> str:
    return say(f"new.{question}", {"value": written})


def _with_digits(text: str) -> str:
    words = (vocabulary.WORD_NUMBERS.get(word, word) for word in text.split(" "))
    return " ".join(words)


def _understood(text: str, used: list[str], words: set[str]) -> bool:
    """Whether nothing is left of a text but small words once what was used is taken out."""
    rest = text
    for part in used:
        rest = rest.replace(part, " ", 1)
    left = re.findall(r"[^\W\d_][\w']*|\d+", rest)
    return all(word in vocabulary.SMALL_WORDS or word in words for word in left)


def quoted(text: str) -> str:
    """Text as TOML writes it."""
    escaped = text.replace("\\", "\\\\").replace('"', '\\"')
    return f'"{escaped}"'


def _unquoted(text: str) -> str:
    return text[1:-1].replace('\\"', '"').replace("\\\\", "\\")


def _area(square_cm: float) -> str:
    return quoted(f"{square_cm:.0f} cm2")


def _not_known(answers: Answers, question: str) -> None:
    """What stands in for an answer that is not known, where leaving it out would not do."""
    if question == "fill" and "length" in answers.tub and "fill" not in answers.tub:
        kind = tub_size(answers.size)
        answers.tub["fill"] = quoted(f"{1000.0 * kind.volume_l / kind.area_cm2:.0f} cm")
    if question == "foam":
        answers.foam_bath = {"amount": quoted(f"{typical('foam_bath_amount').value:g} mL")}


def _lengths(text: str, question: str) -> list[str]:
    """All lengths of a text, also ``150 x 60 cm`` and ``5' x 2'``, checked."""
    sides = vocabulary.SIDES.search(text)
    if sides is not None:
        pairs = [(number, sides[4]) for number in sides.group(1, 2, 3) if number]
    else:
        matches = re.finditer(vocabulary.LENGTH, text)
        pairs = [(m[1], m[2]) if m[1] else (m[3], m[4]) for m in matches]
    found = [f"{number} {vocabulary.UNIT_WORDS.get(unit, unit)}" for number, unit in pairs]
    for value in found:
        q.length_cm(value, question)
    return found


def _litres(text: str, question: str) -> str | None:
    """The volume of a text, checked; None if there is none."""
    found = list(re.finditer(vocabulary.VOLUME, text))
    if len(found) != 1 or len(re.findall(vocabulary.NUMBER, text)) != 1:
        return None
    value = f"{found[0][1]} {found[0][2]}"
    q.volume_l(value, question)
    return value


def _tub(answers: Answers, text: str) -> str | None:
    if litres := _litres(text, "tub"):
        answers.tub = {"volume": quoted(litres)}
        return litres
    lengths = _lengths(text, "tub")
    if len(lengths) in (2, 3) and len(re.findall(vocabulary.NUMBER, text)) == len(lengths):
        answers.tub = dict(zip(("length", "width", "fill"), map(quoted, lengths), strict=False))
        return " x ".join(lengths)
    if lengths or re.search(r"\d", text):
        return None
    known = {name.replace("-", " "): name for name in tub_size_names()}
    name = known.get(text) or next(
        (n for n, words in vocabulary.TUBS if re.search(words, text)), None
    )
    if name is None:
        return None
    answers.size = name
    kind = tub_size(name)
    answers.tub = {"volume": quoted(f"{kind.volume_l:g} L"), "floor_area": _area(kind.area_cm2)}
    return say("new.tub-kind", {"kind": name.replace("-", " "), "litres": kind.volume_l})


def _fill(answers: Answers, text: str) -> str | None:
    words = set(re.findall(r"[a-z']+", text))
    if words & vocabulary.VAGUE or not words <= vocabulary.SMALL_WORDS | vocabulary.FILL_WORDS:
        return None
    if (litres := _litres(text, "fill")) and not words & {"half", "full", "low"}:
        answers.tub = {"volume": quoted(litres)}
        return litres
    lengths = _lengths(text, "fill")
    if len(lengths) == 1 and len(re.findall(vocabulary.NUMBER, text)) == 1:
        _deep(answers, lengths[0])
        return say("new.deep", {"depth": lengths[0]})
    if lengths or re.search(r"\d", text):
        return None
    return _level(answers, words)


def _deep(answers: Answers, depth: str) -> None:
    kind, centimetres = tub_size(answers.size), q.length_cm(depth, "fill")
    if "length" in answers.tub:
        answers.tub["fill"] = quoted(depth)
    elif "volume" in answers.tub and "floor_area" not in answers.tub:
        litres = q.volume_l(_unquoted(answers.tub["volume"]), "tub")
        area = _area(1000.0 * litres / centimetres)
        try:
            q.area_cm2(_unquoted(area), "fill")
        except q.InputError as error:
            # So much water does not stand so low, or so high.
            raise q.InputError(_how("fill", depth), "fill", depth) from error
        answers.tub["floor_area"] = area
    else:
        answers.tub["volume"] = quoted(f"{kind.area_cm2 * centimetres / 1000.0:.0f} L")
        answers.tub["floor_area"] = _area(kind.area_cm2)


def _level(answers: Answers, words: set[str]) -> str | None:
    """Low, half or full, by the usual water of such a tub."""
    kind = tub_size(answers.size)
    litres = {"low": kind.low_l, "half": kind.volume_l, "full": kind.high_l}
    level = next((name for name in litres if name in words), None)
    if level is None:
        return None
    if "length" in answers.tub:
        answers.tub["fill"] = quoted(f"{1000.0 * litres[level] / kind.area_cm2:.0f} cm")
        return say("new.deep", {"depth": _unquoted(answers.tub["fill"])})
    if "volume" in answers.tub and "floor_area" not in answers.tub:
        # Its water was measured; how deep that looks stays usual.
        return _unquoted(answers.tub["volume"])
    answers.tub["volume"] = quoted(f"{litres[level]:g} L")
    return f"{litres[level]:g} L"


def _water(answers: Answers, text: str) -> str | None:
    table: Table = {}
    for segment in re.split(r"[;\n]|,(?!\d)|\band\b", text):
        name = next((key for key, words in vocabulary.READINGS if re.search(words, segment)), None)
        number = re.search(rf"{vocabulary.NUMBER}\s*(.*)$", re.sub(r"hco3\S*|caco3", " ", segment))
        names = sum(bool(re.search(words, segment)) for _, words in vocabulary.READINGS[:3])
        bare = re.sub(r"\bhco3\S*|\bcaco3\b", " ", segment)
        if len(re.findall(vocabulary.NUMBER, bare)) > 1 or re.search(r"\bas (?:ca|mg)\b", segment):
            return None
        if name is None:
            if number is not None:
                return None
            continue
        if name == "ph" and (names or re.search(r"hardness|\bgh\b", segment)):
            return None
        value = _reading(name, segment)
        if value is None or name in table:
            return None
        table[name] = quoted(value)
    if not table:
        like = next((key for key, words in vocabulary.LIKE if re.search(words, text)), None)
        if like is None or like not in typical_water_names():
            return None
        answers.water = {"like": quoted(like)}
        return say("new.like", {"water": like.replace("-", " ")})
    for instrument, words in vocabulary.INSTRUMENTS:
        if re.search(words, text):
            table["instrument"] = quoted(instrument)
            break
    answers.water = table
    return ", ".join(f"{key.replace('_', ' ')} {_unquoted(value)}" for key, value in table.items())


def _reading(name: str, segment: str) -> str | None:
    """The quantity of one reading, in a spelling that recipes know, checked."""
    unit = r"(ppm|mg\s*/\s*l|meq\s*/\s*l|mmol\s*/\s*l|°?\s*dh|°?\s*fh|°?\s*e|gpg|grains?)\b"
    bare = re.sub(r"\bhco3\S*|\bcaco3\b|\bas\b", " ", segment)
    if name == "ph":
        number = re.search(vocabulary.NUMBER, bare)
        if number is None:
            return None
        value = number[0].replace(",", ".")
        q.ph(value, "water")
        return value
    found = re.search(rf"({vocabulary.NUMBER})\s*{unit}", bare)
    if found is None:
        return None
    units = {"grain": "gpg", "grains": "gpg", "dh": "dH", "fh": "fH", "°dh": "dH", "°fh": "fH"}
    spelled = re.sub(r"\s+", "", found[2])
    value = f"{found[1]} {units.get(spelled, spelled)}"
    readers: dict[str, Callable[[object, str], float]] = {
        "alkalinity": q.alkalinity_meq_l,
        "carbonate_hardness": q.alkalinity_meq_l,
        "hardness": q.hardness_mmol_l,
    }
    if name == "bicarbonate":
        q.ion_mmol_l(value, "bicarbonate", "water")
    else:
        readers[name](value, "water")
    return value


def _foam(answers: Answers, text: str) -> str | None:
    if vocabulary.NONE.match(text):
        answers.foam_bath = {}
        return say("new.none")
    amount = _amount(text, "foam")
    if amount is None:
        return None
    answers.foam_bath = {"amount": quoted(amount)}
    return amount


def _amount(text: str, question: str) -> str | None:
    """The one mass or volume of a text, checked."""
    found = [f"{match[1]} {match[2]}" for match in re.finditer(f"{vocabulary.MASS}", text)]
    found += [f"{match[1]} {match[2]}" for match in re.finditer(vocabulary.VOLUME, text)]
    if len(found) != 1 or len(re.findall(vocabulary.NUMBER, text)) != 1:
        return None
    matched = re.search(vocabulary.MASS, text) or re.search(vocabulary.VOLUME, text)
    assert matched is not None
    if not _understood(text, [matched[0]], vocabulary.FOAM_WORDS):
        return None
    q.amount(found[0], question)
    return found[0]


def _colour(answers: Answers, text: str) -> str | None:
    if vocabulary.NONE.match(text):
        answers.colour_wanted, answers.colour = False, {}
        return say("new.none")
    grams, volume = re.search(vocabulary.MASS, text), re.search(vocabulary.VOLUME, text)
    percent = re.search(rf"({vocabulary.NUMBER})\s*%", text)
    used = [match[0] for match in (grams, volume, percent) if match is not None]
    if not _understood(text, used, vocabulary.COLOUR_WORDS):
        return None
    dry = re.search(r"petals?|flowers?|powder|dried", text)
    table: Table = {"pigment": quoted("butterfly-pea")}
    if grams and volume:
        # Petals steeped in a volume, all of which goes in.
        weight = q.mass_g(f"{grams[1]} {grams[2]}", "colour")
        litres = q.volume_l(f"{volume[1]} {volume[2]}", "colour")
        strength = f"{weight / litres / 10.0:.2g} %"
        table |= {"amount": quoted(f"{weight:g} g"), "strength": quoted(strength)}
        taken = f"{weight:g} g, {strength}"
    elif grams:
        table["amount"] = quoted(f"{grams[1]} {grams[2]}")
        taken = f"{grams[1]} {grams[2]}"
    elif volume and not (dry and not percent):
        table["amount"] = quoted(f"{volume[1]} {volume[2]}")
        taken = f"{volume[1]} {volume[2]}"
    else:
        return None
    q.amount(_unquoted(table["amount"]), "colour")
    if percent and "strength" not in table:
        q.colour_strength(f"{percent[1]} %", "colour")
        table["strength"] = quoted(f"{percent[1]} %")
        taken += f", {percent[1]} %"
    answers.colour = table
    return taken


def _bathers(answers: Answers, text: str) -> str | None:
    said = re.sub(
        rf"\b(?:no|not|without|never)(?: an?| any)? (?:{vocabulary.CHILDREN})\b", " ", text
    )
    if re.search(vocabulary.DENIED_ADULTS, said) or re.search(vocabulary.ODD_AGE, said):
        return None
    counted = re.sub(vocabulary.COUNTS, " ", said)
    ages = [_years(match) for match in re.finditer(vocabulary.AGE, counted)]
    grown = typical("grown_up_years").value
    young = [age for age in ages if age < grown]
    child = bool(re.search(rf"\b(?:{vocabulary.CHILDREN})\b", said))
    little = bool(re.search(rf"\b(?:{vocabulary.LITTLE_ONES})\b", said))
    adult = bool(re.search(rf"\b(?:{vocabulary.ADULTS})\b", said)) or (bool(ages) and not young)
    nobody = bool(re.search(rf"\b(?:{vocabulary.NOBODY})\b", said))
    if nobody and (adult or child):
        return None
    if child or young:
        return _youngest(answers, young, little=little)
    for name, told in (("nobody", nobody), ("adult", adult)):
        if told:
            answers.wish = {"bathers": quoted(name)}
            return say(f"new.{name}")
    if re.search(rf"\b(?:{vocabulary.ANYONE})\b", said):
        answers.wish = {}
        return say("new.anyone")
    return None


def _years(match: re.Match[str]) -> float:
    """An age in years, checked."""
    number, unit = float(match[1].replace(",", ".")), match[2] or "years"
    spelled = {"d": "days", "w": "weeks", "m": "months", "y": "years"}[unit[0]]
    return q.age_years(f"{number:g} {spelled}", "bathers")


def _youngest(answers: Answers, ages: list[float], *, little: bool) -> str:
    """A child's bath, judged for the youngest who is spoken of."""
    answers.wish = {"bathers": quoted("child")}
    if little and min(ages, default=99.0) > 1.0:
        # Under three no foam bath is right; nobody calls an older child so.
        ages = [*ages, 1.0]
        answers.wish["child_age"] = quoted("1 year")
        return say("new.little-one")
    if not ages:
        return say("new.child")
    youngest = min(ages)
    age = f"{youngest:g} years" if youngest >= 2 else f"{12 * youngest:.3g} months"
    answers.wish["child_age"] = quoted(age)
    return say("new.child-age", {"age": age})


_TAKE: dict[str, Callable[[Answers, str], str | None]] = {
    "tub": _tub,
    "fill": _fill,
    "water": _water,
    "foam": _foam,
    "colour": _colour,
    "bathers": _bathers,
}
