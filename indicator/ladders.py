"""Ladders: colours of a liquid along the pH, with its spectra, and how far each may be off."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from itertools import groupby

import numpy as np
from numpy.typing import ArrayLike, NDArray

from indicator.absorbance import form_spectra, mixture_absorbance
from indicator.appearance import SeenColour, seen
from indicator.colourants import Colourant, Strengths
from indicator.optics import View
from indicator.pigments import by_record, dye_molarity, infusion_strength
from indicator.spread import DRAWS, spread_delta_e

Array = NDArray[np.float64]

FINE_NM: Array = np.arange(380.0, 780.5, 1.0)
"""Wavelengths of a spectrum that is told [nm]: finer than those that colours are summed over."""
FINE_NM.setflags(write=False)
LEAST_SHARE = 0.05
"""A maximum lower than this share of the highest absorbance is a ripple, not a band."""
MOST_DRAWN, LEAST_DRAWS = 4000, 50
"""Colours that are drawn for the spread of one ladder, and draws of each at least."""
SHOWN_ABSORBANCE = 0.8
"""Strength times path at which a ladder is drawn if no strength is given: clear, not dark."""


@dataclass(frozen=True)
class Swatch:
    """One colour of a ladder."""

    ph: float
    hex: str
    lab: tuple[float, float, float]
    """CIELAB relative to the light's white."""
    hue_deg: float
    word: str
    phrase: str
    """The word with pale, deep or dark before it where that says more."""
    name: str
    """Nearest published colour name that goes with the word (ISCC-NBS)."""
    in_gamut: bool
    visibility_delta_e: float
    """CIEDE2000 against the same vessel without colourants."""
    visibility: str
    maxima: tuple[tuple[float, float], ...]
    """Wavelength [nm] and absorbance [1/cm] of every maximum, the shortest wave first."""
    spread_delta_e: float
    """How far it may be off by what is not known of the colourants [CIEDE2000]."""

    @property
    def lambda_max_nm(self) -> float | None:
        """Wavelength of the highest maximum [nm]; None if the curve only rises, falls or is 0."""
        return max(self.maxima, key=lambda peak: peak[1])[0] if self.maxima else None


@dataclass(frozen=True)
class WordSpan:
    """A stretch of the pH in which a colour has one word."""

    word: str
    from_ph: float
    to_ph: float


@dataclass(frozen=True)
class Ladder:
    """Colours of one liquid in one view along the pH."""

    strengths: Mapping[Colourant, float]
    """Colourant to strength: pH-1 absorbance per cm, or mol/L for a dye."""
    looked: View = field(metadata={"working": True})
    """Vessel, light and observer."""
    ph: Array = field(metadata={"working": True})
    """The rungs, shape (rungs,)."""
    colours: SeenColour = field(metadata={"working": True})
    """Of each rung."""

    @property
    def pigment(self) -> str:
        """Keys of its colourants, joined by +."""
        return "+".join(which.name for which in self.strengths)

    @property
    def view(self) -> str:
        """Vessel: one of `indicator.optics.VIEWS`."""
        return self.looked.kind

    @property
    def path_cm(self) -> float:
        """Depth of the tub, or inner width of the vessel [cm]."""
        return self.looked.path_cm

    @property
    def light(self) -> str:
        """Light that it is seen by."""
        return self.looked.light

    @property
    def observer_deg(self) -> int:
        """Standard observer: 2 or 10 [degrees]."""
        return self.looked.observer_deg

    @cached_property
    def absorbance(self) -> Array:
        """Decadic absorbance on `FINE_NM`, shape (rungs, wavelengths) [1/cm]."""
        return mixture_absorbance(self.strengths, self.ph, wavelength_nm=FINE_NM)

    @cached_property
    def spread_delta_e(self) -> Array:
        """Error of each colour by what is not known of the colourants, shape (rungs,)."""
        draws = min(DRAWS, max(MOST_DRAWN // len(self.ph), LEAST_DRAWS))
        return spread_delta_e(self.strengths, self.ph, self.looked, self.colours.lab, draws)

    @property
    def swatches(self) -> tuple[Swatch, ...]:
        """Each rung by itself."""
        seen_as = {name: column.tolist() for name, column in vars(self.colours).items()}
        own = {
            "ph": self.ph.tolist(),
            "lab": [tuple(lab) for lab in seen_as["lab"]],
            "maxima": [
                tuple((float(FINE_NM[place]), float(curve[place])) for place in maxima(curve))
                for curve in self.absorbance
            ],
            "spread_delta_e": self.spread_delta_e.tolist(),
        }
        columns = [(own | seen_as | own)[name] for name in Swatch.__dataclass_fields__]
        return tuple(Swatch(*row) for row in zip(*columns, strict=True))

    @property
    def words(self) -> tuple[WordSpan, ...]:
        """Stretches of the pH with one colour word each."""
        rungs = zip(map(str, self.colours.word), self.ph.tolist(), strict=True)
        runs = ([*run] for _, run in groupby(rungs, key=lambda rung: rung[0]))
        return tuple(WordSpan(run[0][0], run[0][1], run[-1][1]) for run in runs)


def ladder(strengths: Strengths, ph_values: Sequence[float] | Array, view: View) -> Ladder:
    """Colours of a liquid along the pH.

    Parameters
    ----------
    strengths : mapping of Colourant or str to float
        Colourant, or the name of a shipped one, to its strength in this liquid: pH-1 absorbance
        per cm, or mol/L for a dye.
    ph_values : sequence of float
        The rungs, in the order they are shown.
    view : View
        Vessel, light and observer.

    Returns
    -------
    Ladder

    Raises
    ------
    ValueError
        If a colourant is unknown, a strength is negative or the light is unknown.

    Examples
    --------
    >>> from indicator.optics import jar_view
    >>> pea = ladder({"butterfly-pea": 0.1}, [3.0, 7.0, 9.0], jar_view())
    >>> [rung.word for rung in pea.swatches]
    ['violet', 'blue', 'teal']
    """
    known = {which: float(value) for which, value in by_record(strengths).items()}
    rungs = np.asarray(ph_values, dtype=np.float64).reshape(-1)
    return Ladder(known, view, rungs, seen(mixture_absorbance(known, rungs), view).steady())


def shown_strength(which: Colourant, view: View) -> float:
    """Strength at which a colourant shows: its own maximum times the way the light goes.

    Parameters
    ----------
    which : Colourant
        Pigment or dye.
    view : View
        How it is looked at.

    Returns
    -------
    float
        PH-1 absorbance per cm, or mol/L of a dye.
    """
    passes = 2.0 if view.kind == "tub" else 1.0
    return SHOWN_ABSORBANCE / (_height(which) * view.path_cm * passes)


def typed_strength(which: Colourant, kind: str, number: float) -> float:
    """Strength of a colourant in a vessel, as a person states it.

    Parameters
    ----------
    which : Colourant
        Pigment or dye.
    kind : str
        ``"absorbance"`` (per cm, of a pigment at pH 1) or ``"percent"`` (g per 100 mL of dried
        petals brewed, or of dye).
    number : float
        [1/cm] or [% w/v].

    Returns
    -------
    float
        pH-1 absorbance per cm, or mol/L of a dye.
    """
    if kind == "percent" and which.kind == "dye":
        return float(dye_molarity(which, 10.0 * number))
    if kind == "percent":
        return float(infusion_strength(which, number))
    return number / _height(which)


def _height(which: Colourant) -> float:
    """Absorbance per cm at the maximum of strength 1; a pigment's strength is its own."""
    return 1.0 if which.kind == "pigment" else float(form_spectra(which).max())


def maxima(absorbance: ArrayLike) -> list[int]:
    """Places of the maxima of one spectrum; the two ends are none, nor is a ripple.

    Parameters
    ----------
    absorbance : array_like
        Shape (wavelengths,).
    """
    heights = np.asarray(absorbance, dtype=np.float64)
    rising = np.diff(heights) > 0.0
    tops = np.flatnonzero(rising[:-1] & ~rising[1:]) + 1
    return [int(top) for top in tops if heights[top] >= LEAST_SHARE * heights.max()]
