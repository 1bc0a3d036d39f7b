"""Pigments and pH-stable dyes: what is known of each colourant, as records."""

from __future__ import annotations

from dataclasses import dataclass
from difflib import get_close_matches
from functools import cache

import numpy as np
from numpy.typing import ArrayLike, NDArray

from indicator.tables import DataError, read_table

Array = NDArray[np.float64]


@dataclass(frozen=True)
class FormRow:
    """One form of a colourant, and how it comes from another by losing protons."""

    colourant: str
    group: str
    form: str
    from_form: str
    protons: int
    pka: float | None
    pka_sd: float | None
    source: str
    confidence: str


@dataclass(frozen=True)
class BandRow:
    """One absorption band of a form."""

    colourant: str
    form: str
    shape: str
    centre_nm: float
    width_nm: float
    height: float
    source: str
    confidence: str


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
    stains: str
    source: str
    confidence: str


@dataclass(frozen=True)
class _SourceRow:
    key: str
    citation: str


@dataclass(frozen=True)
class Strength:
    """A strength with its usual range, in the unit of the colourant."""

    best: float
    low: float
    high: float


@dataclass(frozen=True)
class Colourant:
    """A pigment whose colour follows the pH, or a dye whose colour does not."""

    name: str
    """Key in recipes and tables."""
    kind: str
    """``"pigment"`` (strength: pH-1 absorbance per cm) or ``"dye"`` (strength: mol/L)."""
    label: str
    forms: tuple[FormRow, ...]
    bands: tuple[BandRow, ...]
    strength_sd: float
    """Relative standard deviation of a strength judged from the recipe."""
    per_percent: Strength | None
    """pH-1 absorbance per cm of an infusion of 1 % w/v dried petals; None for a dye."""
    molar_mass: float | None
    """[g/mol]; None for a pigment mixture."""
    content: Strength | None
    """Share of pure dye in the powder as sold; None for a pigment."""
    steady_from_ph: float | None
    """Below this pH a dye loses some of its strength, which is not modelled."""
    stains: str
    """``"little"`` or ``"strongly"``: cloth, skin and scratched acrylic."""
    source: str
    confidence: str

    @property
    def partly_guessed(self) -> bool:
        """Whether some of its constants or bands are this project's own judgement."""
        confidences = {row.confidence for row in self.forms} | {
            row.confidence for row in self.bands
        }
        return "GUESS" in confidences


def trust(found: Colourant) -> str:
    """How far a colourant's forecast can be trusted, by the weakest of its numbers.

    Returns
    -------
    str
        ``"published"`` (all numbers seen or worked out from seen ones), ``"recalled"`` (some from
        memory) or ``"estimated"`` (some are this project's own judgement).
    """
    confidences = {row.confidence for row in (*found.forms,)}
    confidences |= {row.confidence for row in found.bands} | {found.confidence}
    if confidences & {"GUESS", "DESIGN"}:
        return "estimated"
    return "recalled" if "MEMORY" in confidences else "published"


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
    """Keys of all colourants."""
    return tuple(_colourants())


def colourant(name: str) -> Colourant:
    """Colourant of that key, label or alias.

    Raises
    ------
    ValueError
        If there is none; the sentence offers the nearest name.
    """
    wanted = name.strip().casefold().replace("_", "-")
    known = _by_alias()
    for spelling in (wanted, wanted.replace(" ", "-"), wanted.replace("-", " ")):
        if spelling in known:
            return _colourants()[known[spelling]]
    close = get_close_matches(wanted, known, n=1, cutoff=0.5)
    hint = f"did you mean {known[close[0]]!r}?" if close else ""
    accepted = ", ".join(colourant_names())
    raise ValueError(f"colourant is {name!r}; accepted are {accepted}{'; ' if hint else ''}{hint}")


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
            bands=tuple(band for band in bands if band.colourant == row.name),
            strength_sd=row.strength_sd,
            per_percent=_strength(row.strength_per_percent, row.strength_low, row.strength_high),
            molar_mass=row.molar_mass,
            content=_strength(row.dye_content, row.content_low, row.content_high),
            steady_from_ph=row.steady_from_ph,
            stains=row.stains,
            source=row.source,
            confidence=row.confidence,
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
    rows = read_table("colour/colourants.csv", _ColourantRow)
    return {
        alias.casefold(): row.name
        for row in rows
        for alias in (row.name, row.label, *row.aliases.split("|"))
    }
