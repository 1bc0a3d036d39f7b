"""Pigments and pH-stable dyes: the shipped ones, and those of the maker's own files."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from difflib import get_close_matches
from functools import cache, lru_cache
from pathlib import Path

import numpy as np
from numpy.typing import ArrayLike, NDArray

from indicator.accepted import as_text
from indicator.colourants import BandRow as BandRow
from indicator.colourants import Colourant as Colourant
from indicator.colourants import FormRow as FormRow
from indicator.colourants import Strength as Strength
from indicator.colourants import trust as trust
from indicator.files import was_read
from indicator.notes import Note, say
from indicator.own import OPENED, at_home, pigment_files
from indicator.pigment_file import read_pigment_file
from indicator.tables import DataError, read_table

Array = NDArray[np.float64]


@dataclass(frozen=True)
class _ColourantRow:
    name: str
    kind: str
    label: str
    aliases: str
    strength_per_percent: float | None
    strength_low: float | None
    strength_high: float | None
    molar_mass: float | None
    dye_content: float | None
    content_low: float | None
    content_high: float | None
    strength_sd: float
    steady_from_ph: float | None
    below_steady: str
    stains: str
    source: str
    confidence: str
    based_on: str = ""


@dataclass(frozen=True)
class _SourceRow:
    key: str
    citation: str


def colour_citation(key: str) -> str:
    """What a source key of the colour tables stands for.

    Raises
    ------
    DataError
        If there is no such source.
    """
    for row in read_table("colour/sources.csv", _SourceRow):
        if row.key == key:
            return row.citation
    raise DataError(f"data/colour/sources.csv has no source {key!r}")


def colourant_names() -> tuple[str, ...]:
    """Keys of all shipped colourants."""
    return tuple(_colourants())


def own_colourants() -> tuple[tuple[Colourant, ...], tuple[str, ...]]:
    """The maker's own colourants, and a sentence for each file that cannot be used."""
    found: dict[str, Colourant] = {}
    refused: list[str] = []
    for path in pigment_files():
        try:
            one = _checked(path)
        except DataError as error:
            refused.append(str(error))
        else:
            found.setdefault(one.name, one)
    return tuple(found.values()), tuple(refused)


def open_pigment_file(path: Path) -> Colourant:
    """Read a pigment file and know its colourant by name from now on.

    Parameters
    ----------
    path : Path
        Anywhere; the files of the own folder are found without being opened.

    Raises
    ------
    DataError
        If it cannot be read, or has the name of a shipped colourant.
    """
    was_read(path)
    found = _checked(path)
    other = OPENED.get(found.name)
    if other is not None and other is not found:
        raise DataError(say("pigment-file.twice", {"file": str(path), "name": found.name}))
    OPENED[found.name] = found
    return found


def name_free(name: str, file: Path) -> bool:
    """Whether a pigment file may have that name, so that every command finds it by the name."""
    spellings = _spellings(name)
    if set(spellings) & set(_by_alias()):
        return False
    others = [path for path in pigment_files() if path.absolute() != file.absolute()]
    for path in others:
        try:
            one = _checked(path)
        except DataError:
            continue
        if set(spellings) & {alias.casefold() for alias in (one.name, one.label, *one.aliases)}:
            return False
    return True


def colourant(name: str) -> Colourant:
    """Colourant of that key, label or alias, or of that pigment file.

    Parameters
    ----------
    name : str
        Of a shipped colourant, of one of the maker's own, or the path of a pigment file.

    Raises
    ------
    ValueError
        If there is none, the sentence offers the nearest name; or its file cannot be used.
    """
    spellings = _spellings(name)
    wanted = spellings[0]
    known = _by_alias()
    for spelling in spellings:
        if spelling in known:
            return _colourants()[known[spelling]]
    if wanted.endswith(".toml"):
        return open_pigment_file(at_home(name.strip()))
    own, refused = own_colourants()
    opened: tuple[Colourant, ...] = tuple(OPENED.values())
    for one in (*opened, *own):
        if set(spellings) & {alias.casefold() for alias in (one.name, one.label, *one.aliases)}:
            return one
    names = (*colourant_names(), *(one.name for one in own))
    close = get_close_matches(wanted, (*known, *(one.name for one in own)), n=1, cutoff=0.5)
    hints = [f"; did you mean {close[0]!r}?"] if close else []
    hints += [f"; {reason}" for reason in refused]
    raise ValueError(f"colourant is {name!r}; accepted are {', '.join(names)}{''.join(hints)}")


def _spellings(name: str) -> tuple[str, str, str]:
    wanted = as_text("colourant", name).strip().casefold().replace("_", "-")
    return (wanted, wanted.replace(" ", "-"), wanted.replace("-", " "))


def unsteady(names: Iterable[str], ph: float) -> tuple[Note, ...]:
    """Which of these colours weaken or settle out at a pH; the forecast does not follow that.

    Raises
    ------
    ValueError
        If there is no such colourant.
    """
    return tuple(
        Note(
            f"warn.bath.dye-{which.below_steady}",
            {"colour": which.label, "ph": which.steady_from_ph},
            "colour",
        )
        for which in map(colourant, dict.fromkeys(names))
        if which.steady_from_ph is not None and ph < which.steady_from_ph
    )


def infusion_strength(name: str, petals_percent: ArrayLike) -> Array:
    """Strength of an infusion: pH-1 absorbance per cm.

    Parameters
    ----------
    name : str
        Pigment.
    petals_percent : array_like
        Dried petals [% w/v].

    Raises
    ------
    ValueError
        If the colourant is not a pigment.
    """
    found = colourant(name)
    if found.per_percent is None:
        raise ValueError(f"{found.label} is a dye; give its strength as a mass or a percentage")
    return np.asarray(petals_percent, dtype=np.float64) * found.per_percent.best


def dye_molarity(name: str, grams_per_l: ArrayLike, content: float | None = None) -> Array:
    """Molarity of a dye dissolved as the powder that is sold.

    Parameters
    ----------
    name : str
        Dye.
    grams_per_l : array_like
        Powder [g/L].
    content : float, optional
        Share of pure dye; the usual one if not given.

    Raises
    ------
    ValueError
        If the colourant is not a dye.
    """
    found = colourant(name)
    if found.molar_mass is None or found.content is None:
        raise ValueError(f"{found.label} is a pigment; give its strength as petals or absorbance")
    share = found.content.best if content is None else content
    return np.asarray(grams_per_l, dtype=np.float64) * share / found.molar_mass


@cache
def _colourants() -> dict[str, Colourant]:
    forms = read_table("colour/forms.csv", FormRow)
    bands = read_table("colour/bands.csv", BandRow)
    made = {
        row.name: Colourant(
            name=row.name,
            kind=row.kind,
            label=row.label,
            forms=tuple(form for form in forms if form.colourant == row.name),
            bands=tuple(band for band in bands if band.colourant == (row.based_on or row.name)),
            strength_sd=row.strength_sd,
            per_percent=_strength(row.strength_per_percent, row.strength_low, row.strength_high),
            molar_mass=row.molar_mass,
            content=_strength(row.dye_content, row.content_low, row.content_high),
            steady_from_ph=row.steady_from_ph,
            below_steady=row.below_steady or "weakens",
            stains=row.stains,
            source=row.source,
            confidence=row.confidence,
            aliases=tuple(alias for alias in row.aliases.split("|") if alias),
            based_on=row.based_on,
        )
        for row in read_table("colour/colourants.csv", _ColourantRow)
    }
    _check(made, forms, bands)
    return made


def _strength(best: float | None, low: float | None, high: float | None) -> Strength | None:
    return None if best is None or low is None or high is None else Strength(best, low, high)


def _check(
    made: dict[str, Colourant], forms: tuple[FormRow, ...], bands: tuple[BandRow, ...]
) -> None:
    known = {(form.colourant, form.form) for form in forms}
    for band in bands:
        if (band.colourant, band.form) not in known:
            raise DataError(f"data/colour/bands.csv: {band.colourant} has no form {band.form!r}")
        if band.shape not in ("gaussian", "exponential"):
            raise DataError(f"data/colour/bands.csv: unknown shape {band.shape!r}")
    for form in forms:
        if form.colourant not in made:
            raise DataError(f"data/colour/forms.csv: no colourant {form.colourant!r}")
        if form.from_form and (form.colourant, form.from_form) not in known:
            raise DataError(f"data/colour/forms.csv: {form.form!r} comes from no known form")


@cache
def _by_alias() -> dict[str, str]:
    return {
        alias.casefold(): found.name
        for found in _colourants().values()
        for alias in (found.name, found.label, *found.aliases)
    }


def _checked(path: Path) -> Colourant:
    """The colourant of a file, read once as long as the file stays the same."""
    try:
        state = path.stat()
    except (OSError, ValueError):
        return read_pigment_file(path)
    found = _read(path.absolute(), state.st_mtime_ns, state.st_size)
    if found.name in _by_alias():
        raise DataError(say("pigment-file.taken", {"file": str(path), "name": found.name}))
    if found.based_on and found.based_on not in _colourants():
        values = {"file": str(path), "name": found.based_on}
        raise DataError(say("pigment-file.no-base", values))
    return found


@lru_cache(maxsize=256)
def _read(path: Path, _changed_ns: int, _size: int) -> Colourant:
    return read_pigment_file(path)
