"""Colourants as records: what is known of a pigment or a pH-stable dye, wherever it was read."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import ArrayLike, NDArray

from indicator.tables import Sourced

Array = NDArray[np.float64]


@dataclass(frozen=True)
class FormRow(Sourced):
    """One form of a colourant, and how it comes from another by losing protons."""

    colourant: str
    group: str
    form: str
    from_form: str
    protons: int
    pka: float | None
    pka_sd: float | None


@dataclass(frozen=True)
class BandRow(Sourced):
    """One absorption band of a form."""

    colourant: str
    form: str
    shape: str
    centre_nm: float
    width_nm: float
    height: float


@dataclass(frozen=True)
class FormSpectrum:
    """The spectrum of a form as a table; it adds to the form's bands."""

    form: str
    wavelength_nm: tuple[float, ...]
    """Rising."""
    height: tuple[float, ...]
    """In the unit of the bands' heights; the ends are held beyond the table."""


@dataclass(frozen=True)
class Range:
    """A number and the ends between which about nine cases in ten lie, in one unit."""

    best: float
    low: float
    high: float


@dataclass(frozen=True)
class Colourant:
    """A pigment whose colour follows the pH, or a dye whose colour does not.

    Records of equal content are the same colourant, wherever they were read.
    """

    name: str
    """Key in recipes and tables."""
    kind: str
    """``"pigment"`` (strength: pH-1 absorbance per cm) or ``"dye"`` (strength: mol/L)."""
    label: str
    forms: tuple[FormRow, ...]
    bands: tuple[BandRow, ...]
    strength_sd: float
    """Relative standard deviation of a strength judged from the recipe."""
    per_percent: Range | None
    """pH-1 absorbance per cm of an infusion of 1 % w/v dried petals; None for a dye."""
    molar_mass: float | None
    """[g/mol]; None for a pigment mixture."""
    content: Range | None
    """Share of pure dye in the powder as sold; None for a pigment."""
    steady_from_ph: float | None
    """Below this pH a dye loses some of its strength, which is not modelled."""
    stains: str
    """``"little"`` or ``"strongly"``: cloth, skin and scratched acrylic."""
    source: str
    confidence: str
    aliases: tuple[str, ...] = ()
    """Other names that people use."""
    spectra: tuple[FormSpectrum, ...] = ()
    """Spectra of forms that are tables rather than bands."""
    below_steady: str = "weakens"
    """What it does below `steady_from_ph`: ``"weakens"`` or ``"settles"``."""
    based_on: str = ""
    """The colourant whose fading, stains and market notes it shares, if it is a maker's own."""
    height_sds: tuple[tuple[str, float], ...] = ()
    """Relative standard deviation of the height of some forms' spectra, where it was fitted."""
    micelle_shift: Range | None = None
    """Measured shift of its first constant in a foam bath [pH]; None where nobody measured it."""
    file: str = field(default="", compare=False)
    """Where a maker's own was read, as a recipe in another folder would name it; else empty."""

    def __hash__(self) -> int:
        # A key of many mappings: the name tells nearly all apart, equality the rest.
        return hash(self.name)

    @property
    def own(self) -> bool:
        """Whether it comes from a maker's own file."""
        return self.confidence == "OWN"

    @property
    def unrelated(self) -> bool:
        """Whether nothing but its colour is known: an own file that names no shipped pigment."""
        return self.own and not self.based_on

    @property
    def family(self) -> str:
        """Key under which the tables of fading and of markets know it."""
        return self.based_on or self.name

    @property
    def pka(self) -> Array:
        """Apparent pKa of each form, shape (forms,); NaN for the first form of a group."""
        return np.array([np.nan if row.pka is None else row.pka for row in self.forms])


ColourantLike = Colourant | str
"""A colourant, or the name of a shipped one."""
Strengths = Mapping[Colourant, ArrayLike] | Mapping[str, ArrayLike]
"""Colourants of a liquid to their strengths: pH-1 absorbance per cm, or mol/L of a dye."""
Constants = Mapping[Colourant, ArrayLike] | Mapping[str, ArrayLike]
"""Colourants, named as among the strengths, to other apparent pKa's, shape (..., forms)."""


def trust(which: Colourant) -> str:
    """Confidence in a colourant's forecast, by the weakest of its numbers.

    Returns
    -------
    str
        ``"published"`` (all numbers seen or worked out from seen ones), ``"recalled"`` (some from
        memory), ``"estimated"`` (some are this project's own judgement), ``"reported"`` (fitted to
        what the trade says, against published spectra) or ``"own"`` (a maker's file in which more
        than the strength is the maker's).
    """
    confidences = {row.confidence for row in which.forms}
    confidences |= {row.confidence for row in which.bands}
    if which.own and (not which.based_on or "OWN" in confidences):
        return "own"
    confidences |= {which.confidence} - {"OWN"}
    if which.source == "trade-reports":
        return "reported"
    return weakest(confidences)


def weakest(confidences: Collection[str]) -> str:
    """Trust in what rests on several numbers, by the weakest of their confidences: as `trust`."""
    if {"GUESS", "DESIGN"} & {*confidences}:
        return "estimated"
    return "recalled" if "MEMORY" in confidences else "published"
