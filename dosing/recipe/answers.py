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
_NONE = re.compile(r"^(none|no|nothing|0|without|zero)( (foam|foam bath|colour|petals|thanks))?$")
_NUMBER = r"(?<![\d.,])\d+(?:[.,]\d+)*"
_TWO_WAYS = re.compile(
    r"[-−–]\s*\d|\d\s*[/⁄]\s*\d|[½¼¾⅓⅔⅛]|\d\s+\d|\de\d|\d\s*'\s*\d|\d\s+[.,]\s|"
    r"\b(?:not|no|never|without|neither|nor|isn't|per|or)\b"
)
"""Signs, ranges, fractions, broken numbers and denials: nobody should find out in a bath."""
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
_WORD_NUMBERS = {
    **{"one": "1", "two": "2", "three": "3", "four": "4", "five": "5", "six": "6", "seven": "7"},
    **{"eight": "8", "nine": "9", "ten": "10", "eleven": "11", "twelve": "12"},
}
_SMALL_WORDS = {
    *(
        "a",
        "an",
        "the",
        "my",
        "our",
        "it",
        "its",
        "it's",
        "is",
        "are",
        "i",
        "we",
        "when",
        "get",
        "in",
    ),
    *("about", "around", "roughly", "approximately", "of", "at", "and", "with", "from", "to", "by"),
    *("think", "quite", "rather", "fairly", "have", "has", "holds", "water", "tub", "bath", "bit"),
    *("but", "only", "just", "so", "on", "some", "there"),
}
_COLOUR_WORDS = {
    *("petal", "petals", "dried", "dry", "flower", "flowers", "powder", "infusion", "tea", "blue"),
    *("butterfly", "pea", "brewed", "made", "hot", "strong", "ground", "steeped"),
}
_FOAM_WORDS = {"foam", "bubble", "foaming", "liquid", "soap"}
_FILL_WORDS = {"deep", "high", "full", "half", "low", "depth", "inches", "feet"}
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
_AGE = rf"({_NUMBER})\s*-?\s*(weeks?|months?|mo\b|years?|yrs?|yo\b|y/o|y\b)?"
_COUNTS = (
    r"\b\d+\s+(?=adults?|wom[ae]n|m[ae]n|guests?|friends?|people|kids?|child(?:ren)?|boys?|girls?|"
    r"bab(?:y|ies)|toddlers?|sons?|daughters?|of us)"
)
_ODD_AGE = r"\d\s*[/⁄]\s*\d|[½¼¾]|(?<![\w])[-−]\s*\d"
_DENIED_ADULTS = rf"\b(?:no|not|without|never)(?: an?| any)? (?:{_ADULTS})\b"


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
    if question != "bathers" and not _NONE.match(plain) and _TWO_WAYS.search(plain):
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
    words = (_WORD_NUMBERS.get(word, word) for word in text.split(" "))
    return " ".join(words)


def _understood(text: str, used: list[str], words: set[str]) -> bool:
    """Whether nothing is left of a text but small words once what was used is taken out."""
    rest = text
    for part in used:
        rest = rest.replace(part, " ", 1)
    left = re.findall(r"[^\W\d_][\w']*|\d+", rest)
    return all(word in _SMALL_WORDS or word in words for word in left)


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
    found = list(re.finditer(_VOLUME, text))
    if len(found) != 1 or len(re.findall(_NUMBER, text)) != 1:
        return None
    value = f"{found[0][1]} {found[0][2]}"
    q.volume_l(value, question)
    return value


def _tub(answers: Answers, text: str) -> str | None:
    if litres := _litres(text, "tub"):
        answers.tub = {"volume": quoted(litres)}
        return litres
    lengths = _lengths(text, "tub")
    if len(lengths) in (2, 3) and len(re.findall(_NUMBER, text)) == len(lengths):
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
    words = set(re.findall(r"[a-z']+", text))
    units = {"cm", "mm", "m", "in", "inch", "ft", "foot", "l", "litres", "liters", "gal", "gallons"}
    if words & _VAGUE or not words <= _SMALL_WORDS | _FILL_WORDS | units | {"imp"}:
        return None
    if (litres := _litres(text, "fill")) and not words & {"half", "full", "low"}:
        answers.tub = {"volume": quoted(litres)}
        return litres
    lengths = _lengths(text, "fill")
    if len(lengths) == 1 and len(re.findall(_NUMBER, text)) == 1:
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
        name = next((key for key, words in _READINGS if re.search(words, segment)), None)
        number = re.search(rf"{_NUMBER}\s*(.*)$", re.sub(r"hco3\S*|caco3", " ", segment))
        names = sum(bool(re.search(words, segment)) for _, words in _READINGS[:3])
        bare = re.sub(r"\bhco3\S*|\bcaco3\b", " ", segment)
        if len(re.findall(_NUMBER, bare)) > 1 or re.search(r"\bas (?:ca|mg)\b", segment):
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
    if len(found) != 1 or len(re.findall(_NUMBER, text)) != 1:
        return None
    matched = re.search(_MASS, text) or re.search(_VOLUME, text)
    assert matched is not None
    if not _understood(text, [matched[0]], _FOAM_WORDS):
        return None
    q.amount(found[0], question)
    return found[0]


def _colour(answers: Answers, text: str) -> str | None:
    if _NONE.match(text):
        answers.colour_wanted, answers.colour = False, {}
        return say("new.none")
    grams, volume = re.search(_MASS, text), re.search(_VOLUME, text)
    percent = re.search(rf"({_NUMBER})\s*%", text)
    used = [match[0] for match in (grams, volume, percent) if match is not None]
    if not _understood(text, used, _COLOUR_WORDS):
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
    said = re.sub(rf"\b(?:no|not|without|never)(?: an?| any)? (?:{_CHILDREN})\b", " ", text)
    if re.search(_DENIED_ADULTS, said) or re.search(
        r"\d\s*[/⁄]\s*\d|[½¼¾]|(?<![\w])[-−]\s*\d", said
    ):
        return None
    counted = re.sub(_COUNTS, " ", said)
    ages = [_years(match) for match in re.finditer(_AGE, counted)]
    grown = typical("grown_up_years").value
    young = [age for age in ages if age < grown]
    child = bool(re.search(rf"\b(?:{_CHILDREN})\b", said))
    little = bool(re.search(rf"\b(?:{_LITTLE_ONES})\b", said))
    adult = bool(re.search(rf"\b(?:{_ADULTS})\b", said)) or (bool(ages) and not young)
    nobody = bool(re.search(rf"\b(?:{_NOBODY})\b", said))
    if nobody and (adult or child):
        return None
    if child or young:
        return _youngest(answers, young, little=little)
    for name, told in (("nobody", nobody), ("adult", adult)):
        if told:
            answers.wish = {"bathers": quoted(name)}
            return say(f"new.{name}")
    if re.search(rf"\b(?:{_ANYONE})\b", said):
        answers.wish = {}
        return say("new.anyone")
    return None


def _years(match: re.Match[str]) -> float:
    """An age in years, checked."""
    number, unit = float(match[1].replace(",", ".")), match[2] or "years"
    spelled = "months" if unit.startswith("mo") else "weeks" if unit.startswith("w") else "years"
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
