"""The task of a search: a tub, its colours and two wishes, and what speaks against a mixture.

A liquid's spectrum is linear in the strengths of its colourants and depends on the pH, so that the
spectra of all colourants along the pH are worked out once and thousands of mixtures are seen at a
time. Nothing is known here of grams and litres.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from dosing.ingredients.trade_values import typical
from indicator.absorbance import WAVELENGTH_NM, mixture_absorbance
from indicator.appearance import delta_e, lab_of
from indicator.optics import View
from indicator.pigments import Colourant
from indicator.srgb import lab_from_hex, patch_lab
from indicator.words import (
    both_certainties,
    matches_word,
    threshold,
)

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]
Places = NDArray[np.intp]

PH_STEP = 0.01
"""Of the pH at the end: as fine as a recipe states it."""
SOUR_STEP = 0.02
"""Of the acid of sour infusions, over what the water takes up, for which a start is worked out."""
FAINTEST, DENSEST = 0.01, 8.0
"""Absorbance of one colourant, along the whole way of the light, between which is searched."""
FAINTEST_CERTAINTY = 1e-12

MUCH_ACID_PH = 4.0
"""Below it each step of the pH takes several times the acid of the one before."""

# What a design is judged by (DESIGN): ranks ten times apart, so that nothing of a lower rank makes
# up for as large a share of a higher one. Each share is 1 where all of it is missed.
CANNOT_BE = 100.0
"""What cannot be made: more infusion than the tub may take, a dye where it settles out."""
ASKED = 1.0
"""What was asked for: both colours, and a change that is seen."""
LIKED = 0.1
"""What people want beside it: vivid and clear colours, no caution to mind, one bottle."""
SPARED = 0.01
"""What decides between equals: acid, ingredients, litres and stains that can be spared."""


Votes = Callable[[Array, str], tuple[Array, Array]]
"""How surely colours have a word, and how surely people would use that very word."""


@dataclass(frozen=True)
class End:
    """A wished colour: a plain word or one exact colour."""

    text: str
    """As people read it."""
    word: str | None = None
    hex: str | None = None

    @property
    def faint(self) -> bool:
        """Whether the wish is a liquid without a tint."""
        return self.word == "colourless"


@dataclass(frozen=True)
class Field:
    """PH values at which a design may end in a tub, and what is judged at each."""

    ph_before: float
    ph: Array
    """pH values that may be aimed at, shape (steps,)."""
    acid_side: Array
    """5 % quantile of the pH over the possible tubs for each, shape (steps,)."""
    alkaline_side: Array
    """95 % quantile."""
    minded: Mask
    """Whether a caution asks to mind that pH."""
    sour_ph: Array = dataclasses.field(default_factory=lambda: np.zeros(0))
    """pH of the tub before, with sour infusions in it that bring none, one, two … times `SOUR_STEP`
    of the acid that its water takes up, shape (starts,); empty where none is sour."""

    @property
    def starts(self) -> Array:
        """Every pH at which a design may start, shape (starts,)."""
        return self.sour_ph if len(self.sour_ph) else np.array([self.ph_before])


@dataclass(frozen=True)
class Palette:
    """The colourants that may be taken, with their spectra in this tub."""

    colourants: tuple[Colourant, ...]
    before: Array
    """Spectrum at strength 1 at every start, shape (colourants, starts, wavelengths)."""
    after: Array
    """At every pH of the field and on both its sides, shape (colourants, steps, 3, wavelengths)."""
    low: Array
    """Least strength that is tried, shape (colourants,)."""
    high: Array
    """Most that is tried: as strong as the tub could take."""
    share: Array
    """Share of the tub that strength 1 takes up as infusion or solution, shape (colourants,)."""
    steady_from: Array
    """pH below which a dye is not relied on, shape (colourants,)."""
    stains: Array
    """1 where it stains strongly, else 0."""
    own_acid: Array
    """Acid that strength 1 brings into the start, over what the water takes up, by colourant."""


def palette(
    colourants: Sequence[Colourant],
    field_: Field,
    view: View,
    bottle_strength: Mapping[Colourant, float],
    own_acid: Mapping[Colourant, float],
    pka: Mapping[Colourant, ArrayLike] | None = None,
) -> Palette:
    """Spectra and bounds of the colourants in a tub.

    Parameters
    ----------
    colourants : sequence of Colourant
        What may be taken.
    field_ : Field
        The pH values in question.
    view : View
        How the tub is looked at.
    bottle_strength : mapping of Colourant to float
        Strength of the infusion or solution that each would be poured from, in the colourant's
        unit of strength.
    own_acid : mapping of Colourant to float
        Acid that each brings at strength 1, over what the water takes up; the tub before the
        activator has it in it.
    pka : mapping of Colourant to array_like, optional
        Other apparent pKa's, as `mixture_absorbance` takes them.

    Returns
    -------
    Palette
        Spectra at every start and end of the field, and the strengths between which is searched.
    """
    ends = np.stack([field_.ph, field_.acid_side, field_.alkaline_side], axis=-1)
    before = np.stack([mixture_absorbance({c: 1.0}, field_.starts, pka) for c in colourants])
    after = np.stack([mixture_absorbance({c: 1.0}, ends, pka) for c in colourants])
    way = view.way_cm
    peak = np.maximum(before.max(axis=(1, 2)), after.max(axis=(1, 2, 3))) * way
    share = 1.0 / np.array([bottle_strength[c] for c in colourants])
    most = typical("most_infusion_share").value / share
    high = np.minimum(DENSEST / peak, most)
    return Palette(
        colourants=tuple(colourants),
        before=before,
        after=after,
        low=np.minimum(FAINTEST / peak, 0.5 * high),
        high=high,
        share=share,
        steady_from=np.array([c.steady_from_ph or 0.0 for c in colourants]),
        stains=np.array([float(c.stains == "strongly") for c in colourants]),
        own_acid=np.array([own_acid[c] for c in colourants]),
    )


@dataclass(frozen=True)
class Task:
    """Search for an effect: tub, colours, two wishes, and everything that judges a mixture."""

    start: End
    end: End
    field: Field
    palette: Palette
    view: View
    bottles: float = 0.0
    """Usual bottles that the tub would fill; 0 where they do not count."""
    both_sides: bool = True
    """Whether the end is judged on the sides of the possible tubs too, or at the aim alone."""
    clear_lab: Array = dataclasses.field(init=False)
    """The vessel without colour, shape (3,)."""

    def __post_init__(self) -> None:
        object.__setattr__(self, "clear_lab", lab_of(np.zeros(len(WAVELENGTH_NM)), self.view))

    def labs(self, places: Places, strengths: Array, step: Places) -> tuple[Array, Array]:
        """CIELAB before, shape (n, 3), and after, shape (n, 3, 3): at the aim and on both sides.

        Of the aim alone, shape (n, 1, 3), where the sides are not judged.

        Parameters
        ----------
        places : ndarray
            Colourants of each mixture, shape (n, members).
        strengths : ndarray
            Shape (n, members); 0 where there is none.
        step : ndarray
            Place of the pH in the field, shape (n,).

        Returns
        -------
        tuple of ndarray
            Before and after.
        """
        inks = self.palette
        start = self.start_place(places, strengths)[:, None]
        before = np.einsum("nm,nmw->nw", strengths, inks.before[places, start])
        ends = inks.after if self.both_sides else inks.after[:, :, :1]
        after = np.zeros((len(step), *ends.shape[2:]))
        for member in range(places.shape[1]):
            after += strengths[:, member, None, None] * ends[places[:, member], step]
        return lab_of(before, self.view), lab_of(after, self.view)

    def start_place(self, places: Places, strengths: Array) -> Places:
        """Place of the start among those of the field, by the acid of the mixture.

        Parameters
        ----------
        places, strengths : ndarray
            As in `labs`.

        Returns
        -------
        ndarray
            Shape (n,).
        """
        sour = (strengths * self.palette.own_acid[places]).sum(axis=1)
        last = len(self.field.starts) - 1
        return np.asarray(np.minimum(np.rint(sour / SOUR_STEP), last), dtype=np.intp)

    def cost(
        self, places: Places, strengths: Array, step: Places, votes: Votes = both_certainties
    ) -> Array:
        """Penalty of each mixture: how far it is from both wishes and what is wrong with its looks.

        Parameters
        ----------
        places, strengths, step
            As in `labs`.
        votes : Votes
            How surely a colour has a word.

        Returns
        -------
        ndarray
            Shape (n,); one plain miss of one end is `ASKED`.
        """
        before, after = self.labs(places, strengths, step)
        used = (strengths > 0).astype(np.float64)
        infusion = (strengths * self.palette.share[places]).sum(axis=1)
        bottles = np.maximum(infusion * self.bottles - 1.0, 0.0)
        infusion = infusion / typical("most_infusion_share").value
        own_acid = (strengths * self.palette.own_acid[places]).sum(axis=1)
        start = self.field.starts[self.start_place(places, strengths)]
        aim = self.field.ph[step]
        # An acid leads no way up from a start that the infusion has made sour already.
        backwards = np.where(aim < self.field.ph_before, np.maximum(aim - start, 0.0), 0.0)
        members = used.sum(axis=1)
        # The dye must hold where the tub ends, on its acid side too.
        steady = (used * self.palette.steady_from[places]).max(axis=1)
        too_acid = np.maximum(steady - self.field.acid_side[step], 0.0)
        missed = miss(self.start, before, votes) + self._missed_end(after, votes)
        aimed, clear = after[:, 0], np.broadcast_to(self.clear_lab, before.shape)
        # One call for all three: for a few mixtures the call itself takes most of the time.
        seen_before, seen_after, change = delta_e(
            np.stack([clear, clear, before]), np.stack([before, aimed, aimed])
        )
        return np.asarray(
            missed
            + looks(self.start, before, seen_before)
            + looks(self.end, aimed, seen_after)
            + ASKED * no_change(change)
            + CANNOT_BE * (np.maximum(infusion - 1.0, 0.0) + too_acid + backwards)
            + LIKED * (bottles + self.field.minded[step])
            + SPARED * (infusion + own_acid + np.abs(start - aim))
            + SPARED * np.maximum(MUCH_ACID_PH - aim, 0.0)
            + SPARED * (used * self.palette.stains[places]).sum(axis=1)
            + SPARED * (members - 1.0)
        )

    def _missed_end(self, after: Array, votes: Votes) -> Array:
        """The miss at the aim, and for a word half of it on the sides of the possible tubs."""
        if self.end.word is None or not self.both_sides:
            return miss(self.end, after[:, 0], votes)
        aim, acid, alkaline = np.moveaxis(miss(self.end, after, votes), -1, 0)
        return np.asarray(0.5 * aim + 0.25 * (acid + alkaline))


def miss(end: End, lab: Array, votes: Votes = both_certainties) -> Array:
    """Distance of colours from a wish: 1 is a plain miss.

    Parameters
    ----------
    end : End
        The wish.
    lab : ndarray
        CIELAB colours, shape (..., 3).
    votes : Votes
        How surely a colour has a word.

    Returns
    -------
    ndarray
        Shape (...).
    """
    if end.hex is not None:
        same = typical("same_colour_delta_e").value
        return np.asarray(delta_e(lab_from_hex(end.hex), patch_lab(lab)) / same)
    word = str(end.word)
    lightness, chroma = lab[..., 0], np.hypot(lab[..., 1], lab[..., 2])
    if end.faint:
        over = np.maximum(chroma / threshold("colourless_chroma") - 1.0, 0.0)
        return np.asarray(over + np.maximum(threshold("grey_lightness") - lightness, 0.0) / 10.0)
    if word == "grey":
        over = np.maximum(chroma / threshold("grey_chroma") - 1.0, 0.0)
        return np.asarray(over + np.maximum(lightness - threshold("grey_lightness"), 0.0) / 10.0)
    sure, called = votes(lab, word)
    sure = np.maximum(sure, FAINTEST_CERTAINTY)
    doubt = np.maximum(np.log(typical("sure_word_share").value / sure), 0.0)
    # Votes fall off with the square of the distance; far away the distance itself counts.
    doubt = np.where(doubt > 1.0, 2.0 * np.sqrt(doubt) - 1.0, doubt)
    dull = np.maximum(1.0 - chroma / threshold("grey_chroma"), 0.0)
    uncalled = LIKED * (1.0 - called)
    return np.asarray(ASKED * (doubt + (1.0 - sure) + dull) + uncalled)


def meets(end: End, lab: ArrayLike) -> Mask:
    """Whether colours are what was wished.

    Parameters
    ----------
    end : End
        The wish.
    lab : array_like
        CIELAB colours, shape (..., 3).

    Returns
    -------
    ndarray of bool
        Shape (...).
    """
    colours = np.asarray(lab, dtype=np.float64)
    if end.word is not None:
        return matches_word(colours, end.word)
    away = delta_e(lab_from_hex(str(end.hex)), colours)
    return np.asarray(away <= typical("same_colour_delta_e").value)


def looks(end: End, lab: Array, seen: Array) -> Array:
    """Penalty of a colour to look at: too faint to be seen, too dark to be one, dull.

    Parameters
    ----------
    end : End
        The wish.
    lab : ndarray
        CIELAB of each colour, shape (n, 3).
    seen : ndarray
        Its CIEDE2000 from the vessel without colour.

    Returns
    -------
    ndarray
        Shape (n,); 0 for a vivid and clear colour, and for an exact wish.
    """
    if end.faint or end.hex is not None:
        # Who names one exact colour has chosen how pale or dark it is.
        return np.zeros(len(lab))
    lightness, chroma = lab[:, 0], np.hypot(lab[:, 1], lab[:, 2])
    unseen = np.maximum(1.0 - seen / threshold("visible"), 0.0)
    pale = np.maximum(1.0 - seen / threshold("strong"), 0.0)
    deep, black = threshold("deep_lightness"), threshold("black_lightness")
    dull = 0.0 if end.word == "grey" else np.maximum(1.0 - chroma / threshold("vivid_chroma"), 0.0)
    depth = np.maximum((deep - lightness) / (deep - black), 0.0)
    return np.asarray(ASKED * (unseen + (lightness < black)) + LIKED * (pale + dull + depth))


def no_change(change: Array) -> Array:
    """Distance of a change [CIEDE2000] from an obvious one: 0 to 1."""
    return np.asarray(np.maximum(1.0 - change / threshold("change_obvious"), 0.0))
