"""Answers: what a person writes to each of the six questions, read into tables of the recipe.

Everything is read generously but never guessed at: what could be meant in two ways is refused with
a sentence that shows how to say it.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass, field

from dosing import quantities as q
from dosing.trade_values import typical
from dosing.tub import tub_size, tub_size_names
from dosing.water import typical_water_names
from indicator.notes import say

QUESTIONS = ("tub", "fill", "water", "foam", "colour", "bathers")
MOST_LETTERS = 200

Table = dict[str, str]

_UNKNOWN = re.compile(
    r"^(\?|-|)$|^(i )?(do not|don'?t|dont) (really )?know\b|^(i )?have no idea\b|^no idea\b|"
    r"^(not sure|unknown|idk|dunno|unsure)\b"
)
_NONE = re.compile(r"^(none|no|nothing|0|without|zero)\b")
_NUMBER = r"\d+(?:[.,]\d+)*"
_LENGTH = rf"({_NUMBER})\s*(cm|mm|m|inches|inch|in|feet|foot|ft)\b|({_NUMBER})\s*(['\"])"
_SIDES = re.compile(
    rf"({_NUMBER})\s*(?:x|×|by|\*)\s*({_NUMBER})(?:\s*(?:x|×|by|\*)\s*({_NUMBER}))?\s*"
    r"(cm|mm|m|inches|inch|in|feet|foot|ft)\b"
)
_VOLUME = (
    rf"({_NUMBER})\s*(ml|millilit(?:er|re)s?|l|lit(?:er|re)s?|imp gal|gal|gallons?|tbsp|tsp|"
    r"tablespoons?|teaspoons?|cups?)\b"
)
_MASS = rf"({_NUMBER})\s*(g|grams?|kg|oz)\b"
_WORD_NUMBERS = {"one": "1", "two": "2", "three": "3", "four": "4", "five": "5", "six": "6"}
_UNIT_WORDS = {"'": "ft", '"': "in", "foot": "ft", "feet": "ft", "inch": "in", "inches": "in"}
_VAGUE = {"not", "almost", "nearly", "less", "more", "below", "under", "over", "short"}
_READINGS = (
    ("carbonate_hardness", r"carbonate hardness|karbonath(?:ä|ae)rte|\bkh\b"),
    ("bicarbonate", r"bicarbonate|hydrogen carbonate|\bhco3"),
    ("alkalinity", r"alkalinity|\bta\b"),
    ("hardness", r"hardness|gesamth(?:ä|ae)rte|\bgh\b"),
    ("ph", r"\bph\b"),
)
_INSTRUMENTS = (
    ("strip", r"strips?\b"),
    ("drop kit", r"drop"),
    ("meter", r"\bmeter"),
    ("water report", r"report|water company|laboratory"),
)
_LIKE = (
    ("softened", r"soften"),
    ("very-hard", r"very hard"),
    ("medium", r"medium|middling|moderate|average|so-so"),
    ("soft", r"soft"),
    ("hard", r"hard"),
)
_TUBS = (
    ("foot-bath", r"foot (?:bath|basin)"),
    ("baby-bath", r"baby"),
    ("child-bath", r"child|kid|small"),
    ("deep-tub", r"deep|large|big|freestanding|free-standing"),
    ("bath-tub", r"usual|normal|standard|ordinary|average|bath ?tub|bath"),
)
_LITTLE_ONES = r"bab(?:y|ies)|infants?|toddlers?|newborns?"
_CHILDREN = (
    rf"{_LITTLE_ONES}|child(?:ren)?|kids?|sons?|daughters?|nephews?|nieces?|twins|boys?|girls?|"
    r"grand(?:son|daughter|child|children)|teenagers?|teens?|little ones?"
)
_ADULTS = (
    r"adults?|me|myself|us|we|i|grown|guests?|wom[ae]n|m[ae]n|wife|husband|partner|friends?|"
    r"grand(?:ma|pa|mother|father)|mothers?|fathers?|mum|mom|dad"
)
_ANYONE = r"customers?|anyone|anybody|everyone|everybody|family|people"
_NOBODY = r"nobody|no one|none|display|show|window|shop|basin|jar"
_AGE = rf"({_NUMBER})\s*-?\s*(months?|mo|years?|yrs?|yo|y/o|y)\b"
_BARE_AGE = rf"(?:{_CHILDREN})\D{{0,8}}({_NUMBER})()\b"


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
    reader, unknown = _TAKE[question], bool(_UNKNOWN.search(plain))
    if question == "water" and unknown:
        unknown = not any(re.search(pattern, plain) for _, pattern in _LIKE)
    if unknown:
        _not_known(answers, question)
        return say("new.unknown")
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
    words = (_WORD_NUMBERS.get(word, word) for word in text.split(" "))
    return " ".join(words)


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
    sides = _SIDES.search(text)
    if sides is not None:
        pairs = [(number, sides[4]) for number in sides.group(1, 2, 3) if number]
    else:
        matches = re.finditer(_LENGTH, text)
        pairs = [(m[1], m[2]) if m[1] else (m[3], m[4]) for m in matches]
    found = [f"{number} {_UNIT_WORDS.get(unit, unit)}" for number, unit in pairs]
    for value in found:
        q.length_cm(value, question)
    return found


def _litres(text: str, question: str) -> str | None:
    """The volume of a text, checked; None if there is none."""
    match = re.search(_VOLUME, text)
    if match is None:
        return None
    value = f"{match[1]} {match[2]}"
    q.volume_l(value, question)
    return value


def _tub(answers: Answers, text: str) -> str | None:
    if litres := _litres(text, "tub"):
        answers.tub = {"volume": quoted(litres)}
        return litres
    lengths = _lengths(text, "tub")
    if len(lengths) in (2, 3):
        answers.tub = dict(zip(("length", "width", "fill"), map(quoted, lengths), strict=False))
        return " x ".join(lengths)
    if lengths or re.search(r"\d", text):
        return None
    known = {name.replace("-", " "): name for name in tub_size_names()}
    name = known.get(text) or next((n for n, words in _TUBS if re.search(words, text)), None)
    if name is None:
        return None
    answers.size = name
    kind = tub_size(name)
    answers.tub = {"volume": quoted(f"{kind.volume_l:g} L"), "floor_area": _area(kind.area_cm2)}
    return say("new.tub-kind", {"kind": name.replace("-", " "), "litres": kind.volume_l})


def _fill(answers: Answers, text: str) -> str | None:
    words = set(re.findall(r"[a-z]+", text))
    if words & _VAGUE:
        return None
    if litres := _litres(text, "fill"):
        answers.tub = {"volume": quoted(litres)}
        return litres
    lengths = _lengths(text, "fill")
    if len(lengths) == 1:
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
        answers.tub["floor_area"] = _area(1000.0 * litres / centimetres)
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
        name = next((key for key, words in _READINGS if re.search(words, segment)), None)
        number = re.search(rf"{_NUMBER}\s*(.*)$", re.sub(r"hco3\S*|caco3", " ", segment))
        if name is None:
            if number is not None:
                return None
            continue
        value = _reading(name, segment)
        if value is None or name in table:
            return None
        table[name] = quoted(value)
    if not table:
        like = next((key for key, words in _LIKE if re.search(words, text)), None)
        if like is None or like not in typical_water_names():
            return None
        answers.water = {"like": quoted(like)}
        return say("new.like", {"water": like.replace("-", " ")})
    for instrument, words in _INSTRUMENTS:
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
        number = re.search(_NUMBER, bare)
        if number is None:
            return None
        value = number[0].replace(",", ".")
        q.ph(value, "water")
        return value
    found = re.search(rf"({_NUMBER})\s*{unit}", bare)
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
    if _NONE.match(text):
        answers.foam_bath = {}
        return say("new.none")
    amount = _amount(text, "foam")
    if amount is None:
        return None
    answers.foam_bath = {"amount": quoted(amount)}
    return amount


def _amount(text: str, question: str) -> str | None:
    """The one mass or volume of a text, checked."""
    found = [f"{match[1]} {match[2]}" for match in re.finditer(f"{_MASS}", text)]
    found += [f"{match[1]} {match[2]}" for match in re.finditer(_VOLUME, text)]
    if len(found) != 1:
        return None
    q.amount(found[0], question)
    return found[0]


def _colour(answers: Answers, text: str) -> str | None:
    if _NONE.match(text):
        answers.colour_wanted, answers.colour = False, {}
        return say("new.none")
    grams, volume = re.search(_MASS, text), re.search(_VOLUME, text)
    percent = re.search(rf"({_NUMBER})\s*%", text)
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
    if re.search(r"hibiscus|cabbage|beet|rose|hollyhock|elder|carrot|turmeric|spirulina", text):
        return None
    answers.colour = table
    return taken


def _bathers(answers: Answers, text: str) -> str | None:
    said = re.sub(rf"\b(?:no|not|without|never)(?: an?)? (?:{_CHILDREN})\b", " ", text)
    age = re.search(_AGE, said) or re.search(_BARE_AGE, said)
    years = None
    if age is not None:
        number = age[1].replace(",", ".")
        in_months = age[2].startswith("mo")
        years = float(number) / 12.0 if in_months else float(number)
        unit = "months" if in_months else "years"
        q.age_years(f"{number} {unit}", "bathers")
    young = bool(re.search(rf"\b(?:{_CHILDREN})\b", said))
    if young or (years is not None and years < typical("grown_up_years").value):
        answers.wish = {"bathers": quoted("child")}
        if years is not None and years < typical("grown_up_years").value:
            answers.wish["child_age"] = quoted(f"{number} {unit}")
            return say("new.child-age", {"age": f"{number} {unit}"})
        if re.search(rf"\b(?:{_LITTLE_ONES})\b", said):
            # Under three no foam bath is right; nobody calls an older child so.
            answers.wish["child_age"] = quoted("1 year")
            return say("new.little-one")
        return say("new.child")
    for name, words in (("nobody", _NOBODY), ("adult", _ADULTS)):
        if re.search(rf"\b(?:{words})\b", said):
            answers.wish = {"bathers": quoted(name)}
            return say(f"new.{name}")
    if re.search(rf"\b(?:{_ANYONE})\b", said):
        answers.wish = {}
        return say("new.anyone")
    return None


_TAKE: dict[str, Callable[[Answers, str], str | None]] = {
    "tub": _tub,
    "fill": _fill,
    "water": _water,
    "foam": _foam,
    "colour": _colour,
    "bathers": _bathers,
}
