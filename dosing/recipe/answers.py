"""Answers: what a person writes to the questions of ``new``, read into tables of the recipe.

Everything is read generously but never guessed at: what could be meant in two ways is refused with
a sentence that shows how to say it. Colours and shelf are asked by whoever knows the effects
(`dosing.effects.proposal`).
"""

from __future__ import annotations

import re
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass, field
from functools import cache

from dosing.ingredients.trade_values import typical
from dosing.ingredients.tub import TubSize, tub_size, tub_size_names, tub_volume_l
from dosing.ingredients.water import typical_water_names
from dosing.recipe import quantities as q
from indicator.notes import listed, say
from indicator.tables import read_toml

QUESTIONS = ("people", "water", "tub", "foam")
MOST_LETTERS = 200
USUAL_TUB = "bath-tub"

Table = dict[str, str]


@dataclass
class Answers:
    """Answers that were given so far, as tables of the recipe."""

    tub: Table = field(default_factory=dict)
    water: Table = field(default_factory=dict)
    foam_bath: Table = field(default_factory=dict)
    wish: Table = field(default_factory=dict)


def plain(text: str, question: str) -> str:
    """An answer in small letters, with digits for numbers in words.

    Parameters
    ----------
    text : str
        As it was written.
    question : str
        What was asked, for the sentence of a refusal.

    Returns
    -------
    str

    Raises
    ------
    InputError
        If it is longer than any answer.
    """
    if len(text) > MOST_LETTERS:
        raise q.InputError(say("new.too-long", {"most": MOST_LETTERS}), question, text)
    words = text.replace("’", "'").casefold().split()
    return " ".join(_spelled("number", word) for word in words)


def not_known(answer: str) -> bool:
    """Whether a `plain` answer is that somebody does not know."""
    return not answer or _pattern("unknown").search(answer) is not None


def unclear(question: str, text: str) -> q.InputError:
    """Refusal of an answer, with what can be said: the sentence ``new.unclear.<question>``.

    Parameters
    ----------
    question : str
        What was asked.
    text : str
        The answer as it was written.

    Returns
    -------
    InputError
        For the caller to raise.
    """
    values = {"value": " ".join(text.split())}
    return q.InputError(say(f"new.unclear.{question}", values), question, text)


def take(answers: Answers, question: str, text: str) -> str:
    """Take one answer in.

    Parameters
    ----------
    answers : Answers
        What has been answered; changed only if the answer can be used.
    question : str
        One of `QUESTIONS`.
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
    answer = plain(text, question)
    if not_known(answer) and not (question == "water" and _kind_of("like", answer)):
        return _NOT_KNOWN[question](answers)
    if question in ("tub", "water") and _pattern("two_ways").search(answer):
        raise unclear(question, text)
    try:
        taken = _TAKE[question](answers, answer)
    except q.InputError as error:
        # A quantity that can be named says more than the question does.
        if not re.search(r"\d", answer) or error.value is None:
            raise unclear(question, text) from error
        raise
    if taken is None:
        raise unclear(question, text)
    told = say("new.taken", {"taken": taken})
    asked_of = question == "people" and _pattern("unwell").search(answer)
    return f"{told} {say('new.ask-doctor')}" if asked_of else told


def _usual_foam(answers: Answers) -> str:
    amount = f"{typical('foam_bath_amount').value:g} mL"
    answers.foam_bath = {"amount": amount}
    return say("new.decided.foam", {"amount": amount})


_NOT_KNOWN: dict[str, Callable[[Answers], str]] = {
    "people": lambda answers: say("new.decided.people"),
    "water": lambda answers: say("new.decided.water"),
    "tub": lambda answers: say("new.decided.tub", {"litres": tub_size(USUAL_TUB).volume_l}),
    "foam": _usual_foam,
}
"""What is done where somebody does not know; of people, water and tub the plan assumes."""


def _people(answers: Answers, text: str) -> str | None:
    """Who bathes, what for and where."""
    said = _pattern("denied_children").sub(" ", text)
    for place in _written("market").values():
        said = re.sub(place, " ", said)
    if _pattern("denied_adults").search(said) or _pattern("odd_age").search(said):
        return None
    ages = [_years(match) for match in _pattern("age").finditer(_pattern("counts").sub(" ", said))]
    young = [age for age in ages if age < typical("grown_up_years").value]
    if 0.0 in young:
        return None
    child, little, adult, nobody, anyone = (
        _pattern(name).search(said) is not None
        for name in ("children", "little_ones", "adults", "nobody", "anyone")
    )
    adult = adult or (bool(ages) and not young) or _pattern("pregnant").search(said) is not None
    purpose = _kind_of("purpose", text)
    known = child or young or adult or nobody or anyone or purpose
    if not known or (nobody and (adult or child)):
        return None
    places = {kind: re.search(how, text) for kind, how in _written("market").items()}
    markets = [kind for _, kind in sorted((at.end(), kind) for kind, at in places.items() if at)]
    kinds = {kind: _kind_of(kind, text) for kind in ("purpose", "view")}
    kinds["market"] = next(iter(markets), None)
    wish: Table = {kind: said for kind, said in kinds.items() if said}
    looked_at = nobody or (purpose in ("class", "show") and not (adult or anyone))
    who = "child" if child or young else "nobody" if looked_at else "adult" if adult else ""
    if who:
        wish["bathers"] = who
    age = min(young, default=99.0)
    if little and age > 1.0:
        # Under three no foam bath is right; nobody calls an older child so.
        age = 1.0
    if who == "child" and age < 99.0:
        wish["child_age"] = f"{age:g} years" if age >= 2 else f"{12 * age:.3g} months"
    answers.wish = wish
    told = [
        say("new.who.child-age", {"age": wish["child_age"]})
        if "child_age" in wish
        else say(f"new.who.{who or 'anyone'}"),
        say(f"new.where.{wish.get('purpose', 'own')}"),
    ]
    if "market" in wish:
        told.append(say(f"new.market.{wish['market']}"))
    told += [say("new.market.others", {"others": listed(markets[1:])})] if markets[1:] else []
    return say("plan.comma").join(told)


def bathers_said(text: str) -> Table:
    """Who bathes, and a child's age, by one's own words; empty where they say anything besides."""
    answers = Answers()
    with suppress(q.InputError):
        take(answers, "people", text)
    besides = answers.wish.keys() - {"bathers", "child_age"} or _pattern("unwell").search(text)
    return {} if besides else answers.wish


def _years(match: re.Match[str]) -> float:
    """An age in years, checked."""
    number, unit = float(match[1].replace(",", ".")), match[2] or "years"
    return q.age_years(f"{number:g} {_spelled('age_unit', unit[0])}", "people")


def _water(answers: Answers, text: str) -> str | None:
    """Readings of the water, or what it is like."""
    table: Table = {}
    instrument = _kind_of("instrument", text)
    for segment in _pattern("readings_apart").split(text):
        bare = _pattern("of_what").sub(" ", segment)
        name = _kind_of("what_was_read", segment)
        if _numbers_in(bare) > 1 or _pattern("as_metal").search(segment):
            return None
        if name is None and not _numbers_in(bare):
            continue
        if name is None and _pattern("bare_reading").fullmatch(bare.strip()):
            bare = f"{bare} ppm"
            # Strips and kits that name nothing mostly mean it; the spread allows for hardness.
            name, instrument = "alkalinity", "not named"
        elif name is None and _pattern("reading").fullmatch(bare.strip()):
            which = {"value": str(_reading("hardness", bare))}
            raise q.InputError(say("new.which-reading", which), "water", text)
        reading = None if name is None or name in table else _reading(name, bare)
        if name is None or reading is None:
            return None
        table[name] = reading
    if table:
        answers.water = table | ({} if instrument is None else {"instrument": instrument})
        told = [f"{key.replace('_', ' ')} {said}" for key, said in table.items()]
        named = {None: "", "not named": say("new.not-named")}
        return say("plan.comma").join(filter(None, [*told, named.get(instrument, instrument)]))
    like = _kind_of("like", text)
    if like is None or like not in typical_water_names():
        return None
    answers.water = {"like": like}
    return say("new.like", {"water": like.replace("-", " ")})


def _reading(name: str, bare: str) -> str | None:
    """The quantity of one reading, in a spelling that recipes know, checked."""
    typed = _pattern("number" if name == "ph" else "reading").search(bare)
    if typed is None:
        return None
    if name == "ph":
        reading = typed[0].replace(",", ".")
        q.ph(reading, "water")
        return reading
    reading = f"{typed[1]} {_spelled('unit', typed[2].replace(' ', ''))}"
    if name == "bicarbonate":
        q.ion_mmol_l(reading, name, "water")
    else:
        read = q.hardness_mmol_l if name == "hardness" else q.alkalinity_meq_l
        read(reading, "water")
    return reading


def _tub(answers: Answers, text: str) -> str | None:
    """Its water, its measures, or what kind it is and how full."""
    spoken = set(re.findall(r"[a-z']+", text))
    volumes = [f"{match[1]} {match[2]}" for match in _pattern("volume").finditer(text)]
    for volume in volumes:
        q.volume_l(volume, "tub")
    lengths = _lengths(text)
    counted = _numbers_in(text) == len(volumes) + len(lengths)
    if spoken & _words("vague") or not counted or len(volumes) > 1 or len(lengths) > 3:
        return None
    known = {name.replace("-", " "): name for name in tub_size_names()}
    kind = known.get(text) or _kind_of("tub", text.replace("deep", "") if lengths else text)
    level = _kind_of("level", text)
    unsaid = kind is None and level is None and not volumes and not lengths
    if kind == "" or unsaid or (level and volumes):
        return None
    size = tub_size(kind or USUAL_TUB)
    usual_l = {"low": size.low_l, "half": size.volume_l, "full": size.high_l}
    answers.tub = _measured(volumes, lengths, size, usual_l[level or "half"])
    if lengths or volumes:
        return say("plan.comma").join(
            f"{key.replace('_', ' ')} {said}" for key, said in answers.tub.items()
        )
    return say("new.tub", {"kind": size.name.replace("-", " "), "water": answers.tub["volume"]})


def _measured(volumes: list[str], lengths: list[str], size: TubSize, usual_l: float) -> Table:
    """Table of a tub from its volume or its measures; usual water where they leave it open."""
    usual_depth = f"{1000.0 * usual_l / size.area_cm2:.0f} cm"
    if len(lengths) > 1:
        sides = [*lengths, usual_depth][:3]
        held_l = float(tub_volume_l(*(q.length_cm(side, "tub") for side in sides)))
        q.volume_l(f"{held_l:.2f} L", "tub")
        return dict(zip(("length", "width", "fill"), sides, strict=True))
    area = size.area_cm2
    if volumes and not lengths:
        return {"volume": volumes[0]}
    if lengths:
        depth = q.length_cm(lengths[0], "tub")
        if volumes:
            area = 1000.0 * q.volume_l(volumes[0], "tub") / depth
        usual_l = area * depth / 1000.0
    table = {
        "volume": volumes[0] if volumes else f"{usual_l:.3g} L",
        "floor_area": f"{area:.0f} cm2",
    }
    q.area_cm2(table["floor_area"], "tub")
    q.volume_l(table["volume"], "tub")
    return table


def _lengths(text: str) -> list[str]:
    """All lengths of a text, also ``150 x 60 cm`` and ``5' x 2'``, checked."""
    sides = _pattern("sides").search(text)
    if sides is not None:
        pairs = [(number, sides[4]) for number in sides.group(1, 2, 3) if number]
        pairs += [(m[1], m[2]) for m in _pattern("length").finditer(text, sides.end()) if m[1]]
    else:
        matches = _pattern("length").finditer(text)
        pairs = [(m[1], m[2]) if m[1] else (m[3], m[4]) for m in matches]
    lengths = [f"{number} {_spelled('unit', unit)}" for number, unit in pairs]
    for length in lengths:
        q.length_cm(length, "tub")
    return lengths


def _foam(answers: Answers, text: str) -> str | None:
    """How much foam bath goes in."""
    if _pattern("none").match(text):
        answers.foam_bath = {}
        return say("new.none")
    filler = _words("small", "foam") - {"a", "an"}
    amount = " ".join(word for word in text.split() if word not in filler)
    q.amount(amount, "foam")
    answers.foam_bath = {"amount": amount}
    return amount


_TAKE: dict[str, Callable[[Answers, str], str | None]] = {
    "people": _people,
    "water": _water,
    "tub": _tub,
    "foam": _foam,
}


@cache
def _pattern(name: str) -> re.Pattern[str]:
    """Pattern of a name, with the patterns that it is built of."""

    def whole(part: str) -> str:
        return re.sub(r"\{(\w+)\}", lambda inner: whole(inner[1]), _written("pattern")[part])

    return re.compile(whole(name))


@cache
def _words(*names: str) -> frozenset[str]:
    return frozenset(word for name in names for word in _written("words")[name].split())


def _kind_of(table: str, text: str) -> str | None:
    """First kind of a table of ``data/text/answers.toml`` that is spoken of."""
    return next((kind for kind, how in _written(table).items() if re.search(how, text)), None)


def _spelled(table: str, word: str) -> str:
    """Our spelling of a number or a unit; the word itself where it is ours."""
    return _written(table).get(word, word)


def _numbers_in(text: str) -> int:
    return len(_pattern("number").findall(text))


def _written(table: str) -> Table:
    tables: dict[str, Table] = read_toml("text/answers.toml")
    return tables[table]
