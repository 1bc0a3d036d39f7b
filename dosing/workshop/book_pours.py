"""Pours of the book, and what they teach the next plan of the same water and tub."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from pathlib import Path
from typing import Any

from dosing.jar.learnt import Learnt
from dosing.plan.answer import make_plan
from dosing.recipe import recipe_from
from dosing.recipe.own_waters import own_water, own_water_names
from dosing.recipe.quantities import refuse
from dosing.workshop.book import LEARNT, home_key, standing
from dosing.workshop.book_file import BookFile, Entry
from dosing.workshop.keeping_paper import ph_may_move, pull_weeks
from dosing.workshop.learning import HomeLearnt, learn, write_water
from dosing.workshop.records import UNCHANGED, LoggedPour
from dosing.workshop.trouble import tells_of_hurt
from indicator.notes import Note
from indicator.pigments import Pigments
from indicator.words import plain_word

OF_ANY_FILL = ("floor_area", "floor", "cloud", "foam_cover")
"""Keys of a recipe's tub that hold whatever is in it."""
BETWEEN_LOTS = "[,;+&]"
MOST_KNOWN = 3
"""Batches, lots or products that are told where one is not known."""
TOWNS = {"soft": "soft", "middling": "medium", "hard": "hard"}
"""Waters of a town as a dose card calls them, and as a recipe does."""


@dataclass(frozen=True)
class Lesson:
    """Lesson of the pours of one home: its water and its colours."""

    home: str
    on: str
    """Day of the last pour."""
    pours: int
    """Pours that told something."""
    metered_days: int
    """Days with a metered pH among them."""
    alkalinity_meq_l: Learnt
    """Before and after; ends hold nine cases of ten."""
    strength: Learnt
    """Of the colours over the stated one, before and after."""
    contradicts: bool
    """Whether the pours do not agree with the reading or with each other."""
    check: tuple[Note, ...]
    """What to check then, the likeliest first."""
    raises_maximum: bool
    """Whether a grown-up's own maximum may rise by it."""
    file: str
    """Where it was saved; empty if it was not."""

    @classmethod
    def of(cls, learnt: HomeLearnt, file: Path | None = None) -> Lesson:
        """Lesson as it is told.

        Parameters
        ----------
        learnt : HomeLearnt
            Of `dosing.workshop.learning.learn`.
        file : Path, optional
            Where it was saved.

        Returns
        -------
        Lesson
        """
        return cls(
            learnt.home, learnt.on.isoformat(), learnt.pours, learnt.metered_days,
            learnt.alkalinity, learnt.strength, learnt.contradicts, learnt.check,
            learnt.raises_maximum, str(file or ""),
        )  # fmt: skip


def lesson_of(
    entries: Sequence[Entry], entry: Entry, today: date, pigments: Pigments | None = None
) -> Lesson | None:
    """Lesson of the pours of an entry's home.

    Parameters
    ----------
    entries : sequence of Entry
        Of the book.
    entry : Entry
        One of them.
    today : datetime.date
        When it is asked.
    pigments : Pigments, optional
        As in `dosing.workshop.book.add`.

    Returns
    -------
    Lesson or None
        None if it is no pour that teaches.
    """
    if not _teaches(entry):
        return None
    try:
        return Lesson.of(learn(pours(entries, entry.fields["home"]), today, pigments))
    except ValueError:
        # Too old, or a strip's pH in coloured water: it is in the book all the same.
        return None


def cautions_of(
    entries: Sequence[Entry], entry: Entry, pigments: Pigments | None = None
) -> tuple[Note, ...]:
    """Cautions on an entry that stands all the same.

    Parameters
    ----------
    entries : sequence of Entry
        Of the book.
    entry : Entry
        One of them.
    pigments : Pigments, optional
        As in `dosing.workshop.book.add`.

    Returns
    -------
    tuple of Note
        Of a batch: lots past their use-by date or that no entry names, and a number that another
        batch has; of a reading: a pH that has moved further than in a keeping test that is passed,
        and a week that is not that of its day; of a complaint: that it speaks of skin or eyes; of
        a pour: more grams than the plan of its recipe allows; of any: a batch, lot or product that
        no entry names.
    """
    counting = standing(entries)
    if entry.kind == "batch":
        return _of_batch(counting, entry)
    if entry.kind == "reading":
        return _of_reading(counting, entry)
    unnamed = tuple(_unnamed(counting, entry))
    if entry.kind == "complaint" and tells_of_hurt(entry.fields["what"]):
        return (Note("book.caution.adverse", {"number": entry.number}), *unnamed)
    return (*_beyond_its_plan(entry, pigments), *unnamed)


def _unnamed(counting: Sequence[Entry], entry: Entry) -> Iterator[Note]:
    """Batch, lot and product of an entry that no batch or lot has."""
    batches = [each.fields for each in counting if each.kind == "batch"]
    if entry.kind == "lot" or (entry.kind == "pour" and not batches):
        # Whoever bought a bottle keeps no batches.
        return
    numbers = [told["batch"] for told in batches]
    lots = [each.fields["lot"] for each in counting if each.kind == "lot"]
    known = {"batch": numbers, "lot": numbers + lots}
    known["product"] = [told["product"] for told in batches]
    for name, there in known.items():
        value = entry.fields.get(name)
        if value is not None and home_key(value) not in map(home_key, there):
            some = ", ".join(list(dict.fromkeys(there))[-MOST_KNOWN:])
            told = {"field": name, "value": value, "known": some}
            code = "unnamed" if some else "unnamed-first"
            yield Note(f"book.caution.{code}", told | {"kind": entry.kind, "number": entry.number})


def _beyond_its_plan(entry: Entry, pigments: Pigments | None) -> tuple[Note, ...]:
    if entry.kind != "pour" or "recipe" not in entry.fields:
        return ()
    try:
        recipe = recipe_from(_recipe_at_home(entry.fields), entry.fields["home"], pigments)
        most = make_plan(recipe).maximum_g
    except ValueError:
        # Of no plan there is no most; the pour is in the book all the same.
        return ()
    grams = entry.fields["grams"]
    too_much = Note("book.caution.too-much", {"grams": grams, "most": most})
    return (too_much,) if grams > most else ()


def _of_batch(counting: Sequence[Entry], batch: Entry) -> tuple[Note, ...]:
    used = f" {_apart(batch.fields.get('lots', ''))} "
    over = [
        Note("book.caution.lot-over", {name: each.fields[name] for name in ("lot", "use_by")})
        for each in counting
        if each.kind == "lot"
        and f" {_apart(each.fields['lot'])} " in used
        and each.fields.get("use_by", batch.day) < batch.day
    ]
    named = batch.fields["batch"]
    same = [
        Note("book.caution.batch-there", {"batch": named, "number": each.number})
        for each in counting
        if each.kind == "batch"
        and each.number != batch.number
        and home_key(each.fields["batch"]) == home_key(named)
    ]
    lots = [f" {_apart(each.fields['lot'])} " for each in counting if each.kind == "lot"]
    unknown = [
        part.strip()
        for part in re.split(BETWEEN_LOTS, batch.fields.get("lots", ""))
        if part.strip() and not any(lot in f" {_apart(part)} " for lot in lots)
    ]
    unnamed = [Note("book.caution.unnamed-lots", {"lots": ", ".join(unknown)})] if unknown else []
    return (*over, *same, *unnamed)


def _of_reading(counting: Sequence[Entry], reading: Entry) -> tuple[Note, ...]:
    of = next((each for each in counting if each.uuid == reading.fields["of"]), None)
    if of is None:
        return ()
    return (*_ph_moved(counting, of, reading), *_another_week(of, reading))


def _ph_moved(counting: Sequence[Entry], of: Entry, reading: Entry) -> Iterator[Note]:
    """A pH too far from that of the batch, which a keeping test names."""
    batch = of.fields.get("batch")
    start = next(
        (
            each
            for each in (of, *counting)
            if "ph" in each.fields and each.fields.get("batch") == batch
        ),
        of,
    )
    first, now = start.fields.get("ph"), reading.fields.get("ph")
    if first is not None and now is not None and abs(now - first) > ph_may_move() + 1e-9:
        yield Note("book.caution.ph-moved", {"ph": now, "first": first, "number": start.number})


def _another_week(of: Entry, reading: Entry) -> Iterator[Note]:
    """A week whose day is so far off that another pull is nearer."""
    week = reading.fields.get("week")
    if week is None:
        return
    begun = date.fromisoformat(of.day)
    gone = (date.fromisoformat(reading.day) - begun).days / 7
    near = min((week, *pull_weeks()), key=lambda each: abs(each - gone))
    if near != week:
        told = {"week": week, "of": of.number, "day": reading.day, "number": reading.number}
        due = (begun + timedelta(weeks=week)).isoformat()
        # A day still to come is refused.
        fix = due if due <= reading.day else f"week={near}"
        yield Note("book.caution.another-week", told | {"due": due, "near": near, "fix": fix})


def _apart(lots: str) -> str:
    """Lots as they are compared: whatever stands between them is a blank."""
    return home_key(re.sub("[:=/()]", " ", re.sub(BETWEEN_LOTS, " ", lots)))


def learn_home(
    book: BookFile, home: str, today: date, pigments: Pigments | None = None
) -> HomeLearnt:
    """Weigh what the pours of a home taught.

    Parameters
    ----------
    book : BookFile
        The book.
    home : str
        Its name.
    today, pigments
        As in `lesson_of`.

    Returns
    -------
    HomeLearnt

    Raises
    ------
    InputError, ValueError
        If no pour of that home tells anything.
    """
    entries = book.entries()
    of_home = pours(entries, home)
    if not of_home:
        raise refuse("book.error.no-pours", "home", home, ", ".join(homes(entries)) or "-")
    return learn(of_home, today, pigments)


def save_lesson(book: BookFile, learnt: HomeLearnt, name: str, folder: Path | None = None) -> Path:
    """Save a learnt water under a name, and enter that, so that it is asked about again.

    Parameters
    ----------
    book : BookFile
        The book.
    learnt : HomeLearnt
        Of `learn_home`.
    name : str
        For ``[water] like = "NAME"``.
    folder : Path, optional
        The maker's own folder; the usual one if not given.

    Returns
    -------
    Path
        The file.

    Raises
    ------
    InputError, ValueError, OSError
        If it contradicts, the name is that of another home or cannot be used, or nothing can be
        written.
    """
    if name in own_water_names(folder):
        other = own_water(name, folder).learnt.place
        if home_key(other) != home_key(learnt.home):
            raise refuse("book.error.water-of-another", "save", name, "", other=other)
    draft = Entry(LEARNT, learnt.on.isoformat(), {"home": learnt.home, "name": name})
    with book.writing():
        file = write_water(learnt, name, folder)
        there = [(each.day, each.fields) for each in standing(book.entries())]
        if (draft.day, draft.fields) not in there:
            book.append([draft])
    return file


def pours(entries: Sequence[Entry], home: str) -> list[LoggedPour]:
    """Pours of a home from which the next plan can learn.

    Parameters
    ----------
    entries : sequence of Entry
        Of the book.
    home : str
        Its name.

    Returns
    -------
    list of LoggedPour
        In the order of their days.
    """
    of_home = [
        entry
        for entry in standing(entries)
        if _teaches(entry) and home_key(entry.fields["home"]) == home_key(home)
    ]
    name = of_home[0].fields["home"] if of_home else home
    return [_pour(entry, name) for entry in sorted(of_home, key=lambda entry: entry.day)]


def homes(entries: Sequence[Entry]) -> tuple[str, ...]:
    """Homes that pours name, as they were first written."""
    named = {
        home_key(entry.fields["home"]): entry.fields["home"]
        for entry in reversed(standing(entries))
        if entry.kind == "pour"
    }
    return tuple(reversed(named.values()))


def _teaches(entry: Entry) -> bool:
    told = entry.fields
    return entry.kind == "pour" and "recipe" in told and ("ph" in told or "came" in told)


def _pour(entry: Entry, home: str) -> LoggedPour:
    told = entry.fields
    came = str(told.get("came", ""))
    hexes = came if came.startswith("#") else None
    # A pH without its instrument counts for as little as it can be worth.
    read_with = told.get("ph_read_with", "strip") if "ph" in told else None
    return LoggedPour(
        on=date.fromisoformat(entry.day),
        home=home,
        recipe=_recipe_at_home(told),
        grams=told["grams"],
        ph=told.get("ph"),
        ph_read_with=read_with,
        colour_hex=hexes,
        colour_word=came if came == UNCHANGED else plain_word(came),
        eye=told.get("came_by", "eye") == "eye",
    )


def _recipe_at_home(told: Mapping[str, Any]) -> dict[str, Any]:
    """The recipe with the litres and the reading that the card was set to."""
    recipe = dict(told["recipe"])
    if "litres" in told:
        tub = recipe.get("tub", {})
        kept = {key: tub[key] for key in OF_ANY_FILL if key in tub}
        recipe["tub"] = kept | {"volume": f"{told['litres']:g} L"}
    water: dict[str, Any] = {}
    if "pad" in told:
        water = {"alkalinity": f"{told['pad']:g} ppm", "instrument": "strip"}
    elif "drops" in told and "drop_ppm" in told:
        counted = {"alkalinity": f"{told['drops'] * told['drop_ppm']:g} ppm"}
        step = {"instrument": "drop kit", "drop_step": f"{told['drop_ppm']:g} ppm"}
        water = counted | step
    elif "town" in told:
        water = {"like": TOWNS[told["town"]]}
    if water:
        # The rest of the recipe's water is that of another tap.
        warm = recipe.get("water", {}).get("temperature")
        recipe["water"] = water | ({"temperature": warm} if warm else {})
    return recipe
