"""Odds: how many of the possible tubs come out as wished, and what keeps that from more."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import partial
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from dosing.bath.assembled import Setting
from dosing.bath.inputs import RecipeInputs
from dosing.bath.mixed import surfactant_pka
from dosing.bath.possible_tubs import ACID_SIDE, ALKALINE_SIDE, QUANTITIES, Possible
from dosing.bath.spreads import relative_spreads
from dosing.ingredients.trade_values import typical
from dosing.plan.levels import bath_level
from dosing.plan.pouring import Pouring
from dosing.plan.records import Odds, VarianceShare, Wish
from indicator.appearance import delta_e, lab_from_hex, lab_of
from indicator.spread import DRAWS, SEED, drawn_absorbance, drawn_labs
from indicator.threads import one_thread
from indicator.words import (
    colour_family,
    colour_word,
    matches_word,
    published_name,
    threshold,
)

if TYPE_CHECKING:
    from dosing.plan.case import Case

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]

OF_THE_DOSE = ("alkalinity", "volume", "hardness", "tap_ph", "gas_lost", "purity", "constants")
"""What the needed dose hangs on; the others act after it is chosen."""
CLEAR = Wish("none", "")
"""An obvious change, to whatever colour."""
WEIGHING = "weighing"
"""What is poured hangs on it: spoons may be off by more than the water."""


def odds(case: Case, wish: Wish, pouring: Pouring) -> Odds:
    """Share of the possible tubs in which the wish comes true, and in which the limit is passed.

    Parameters
    ----------
    case : Case
        The recipe worked out.
    wish : Wish
        What was asked for.
    pouring : Pouring
        How it is poured, and where that ends in each possible tub.

    Returns
    -------
    Odds
        The shares, 0 to 1.
    """
    past = bath_level(pouring.ending_ph, pouring.ending_reserve, case.bathers) > case.accepted
    clear = clear_share(case.possible, pouring)
    plain = wish.kind in ("none", "dose")
    reached = clear if plain else _share(pouring, partial(_true, case.possible, wish))
    return Odds(reached, float(np.mean(past)), clear)


def clear_share(possible: Possible, pouring: Pouring) -> float:
    """Share of the possible tubs whose change is obvious, to whatever colour.

    Parameters
    ----------
    possible : Possible
        The tubs that agree with the readings, each with a pigment of its own.
    pouring : Pouring
        How it is poured, and where that ends in each of them.

    Returns
    -------
    float
        0 to 1.
    """
    return _share(pouring, partial(_true, possible, CLEAR))


@one_thread()
def named_share(possible: Possible, word: str, pouring: Pouring) -> float | None:
    """Share of the possible tubs that end in a colour which people count to a word.

    Parameters
    ----------
    possible : Possible
        The tubs that agree with the readings, each with a pigment of its own.
    word : str
        One of `indicator.words.colour_words`.
    pouring : Pouring
        How it is poured, and where that ends in each of them.

    Returns
    -------
    float or None
        0 to 1; None where the recipe has no colour.
    """
    if not possible.read.bath.strengths:
        return None
    return _share(pouring, partial(_named, possible, word))


@one_thread()
def named_odds(odds: Odds, possible: Possible, word: str, pouring: Pouring) -> Odds:
    """Odds with how many tubs end in the plan's colour word, and in which most do if hardly any.

    Parameters
    ----------
    odds : Odds
        Of that pour.
    possible, word, pouring
        As in `named_share`.

    Returns
    -------
    Odds
    """
    share = named_share(possible, word, pouring)
    if share is None or share >= typical("hardly_named").value:
        return replace(odds, named_share=share)
    after = _labs(possible, pouring.ending_ph[:, None])[1][:, 0]
    words, counts = np.unique(colour_word(after), return_counts=True)
    return replace(odds, named_share=share, commonest_word=str(words[np.argmax(counts)]))


def _share(pouring: Pouring, true: Callable[[Array], Mask]) -> float:
    """Share of the possible tubs in which something is true at the end, and stays with chalk out.

    Parameters
    ----------
    pouring : Pouring
        How it is poured.
    true : callable
        From the end pH of each tub, shape (tubs,), to whether it is so there.

    Returns
    -------
    float
        0 to 1.
    """
    holds = true(pouring.ending_ph)
    if pouring.settled_ph is not None:
        holds = holds & true(pouring.settled_ph)
    return float(np.mean(holds))


def obvious_share(possible: Possible, ending_ph: Array) -> Array:
    """Share of the possible tubs whose change is obvious, each with a pigment of its own, 0 to 1.

    Parameters
    ----------
    possible : Possible
        The tubs that agree with the readings.
    ending_ph : numpy.ndarray
        pH of each when pouring ends, shape (tubs, ...).

    Returns
    -------
    numpy.ndarray
        Shape (...); nothing where the recipe has no colour.
    """
    if not possible.read.bath.strengths:
        return np.zeros(ending_ph.shape[1:])
    before, after = _labs(possible, ending_ph)
    return np.asarray(np.mean(delta_e(before, after) >= threshold("change_obvious"), axis=0))


def change_range(
    inputs: RecipeInputs, setting: Setting, ph_before: float, ph_after: float
) -> tuple[float, float]:
    """5 % and 95 % quantile of the change between two pH values of one tub.

    Parameters
    ----------
    inputs : RecipeInputs
        The recipe; its instruments tell how far the strength is known.
    setting : Setting
        The tub as read.
    ph_before, ph_after : float
        pH of the two moments.

    Returns
    -------
    tuple of float
        CIEDE2000; nothing at all where the recipe has no colour.
    """
    if not setting.bath.strengths:
        return (0.0, 0.0)
    labs = possible_labs(inputs, setting, np.array([ph_before, ph_after]))
    low, high = np.quantile(delta_e(labs[:, 0], labs[:, 1]), (ACID_SIDE, ALKALINE_SIDE))
    return (float(low), float(high))


def possible_labs(inputs: RecipeInputs, setting: Setting, ph: Array, count: int = DRAWS) -> Array:
    """Colours of one tub with each of the pigments that the maker's may be, of their strength too.

    Parameters
    ----------
    inputs : RecipeInputs
        The recipe; its instruments tell how far the strength is known.
    setting : Setting
        The tub as read.
    ph : numpy.ndarray
        pH, shape (n,).
    count : int
        Number of pigments.

    Returns
    -------
    numpy.ndarray
        CIELAB, shape (count, n, 3); the same pigments for every tub.
    """
    *_, strength_sd = relative_spreads(inputs)
    sigma = np.sqrt(np.log1p(strength_sd**2))
    factor = np.exp(sigma * np.random.default_rng(SEED - 1).standard_normal((count, 1)))
    strengths = {
        name: np.asarray(strength) * factor for name, strength in setting.bath.strengths.items()
    }
    pka = surfactant_pka(strengths, setting.bath.surfactants_g_l)
    return drawn_labs(strengths, ph, setting.view, count, pka)


def variance_shares(possible: Possible, ph: float) -> tuple[VarianceShare, ...]:
    """Shares of what keeps the pour from being what is needed for a pH, the largest first.

    The logarithm of the needed dose is nearly linear in what is drawn; what a straight line does
    not explain is spread over all in proportion. How the dose is weighed or spooned adds to that.

    Parameters
    ----------
    possible : Possible
        The tubs that agree with the readings.
    ph : float
        pH that the dose leads to.

    Returns
    -------
    tuple of VarianceShare
        They sum to 1; empty where no dose leads there or nothing varies.
    """
    grams = possible.grams_for_ph(ph)
    known = np.isfinite(grams) & (grams > 0)
    columns = [QUANTITIES.index(name) for name in OF_THE_DOSE]
    if known.sum() <= 2 * len(columns):
        return ()
    drawn = possible.drawn[known][:, columns]
    lines = np.column_stack([np.ones(len(drawn)), drawn])
    slopes = np.linalg.lstsq(lines, np.log(grams[known]), rcond=None)[0][1:]
    middle = float(np.median(grams[known]))
    parts = np.append(slopes, possible.weighing.sd(middle) / middle) ** 2
    if not parts.sum() > 0:
        return ()
    shares = [
        VarianceShare(name, float(part))
        for name, part in zip((*OF_THE_DOSE, WEIGHING), parts / parts.sum(), strict=True)
    ]
    return tuple(sorted(shares, key=lambda part: -part.share))


def _true(possible: Possible, wish: Wish, ending_ph: Array) -> Mask:
    if wish.ph is not None:
        return np.asarray(np.abs(ending_ph - wish.ph) <= typical("wished_ph_within").value)
    if not possible.read.bath.strengths:
        return np.zeros(len(ending_ph), dtype=bool)
    before, after = (lab[:, 0] for lab in _labs(possible, ending_ph[:, None]))
    if wish.word is not None:
        return matches_word(after, wish.word)
    if wish.hex is not None:
        away = delta_e(after, lab_from_hex(wish.hex))
        return np.asarray(away <= threshold("change_obvious"))
    return np.asarray(delta_e(before, after) >= threshold("change_obvious"))


def _named(possible: Possible, word: str, ending_ph: Array) -> Mask:
    after = _labs(possible, ending_ph[:, None])[1][:, 0]
    named = matches_word(after, word)
    others = after[~named]
    words = colour_word(others)
    named[~named] = colour_family(words, published_name(others, words)) == word
    return named


def _labs(possible: Possible, ending_ph: Array) -> tuple[Array, Array]:
    """Colours of the possible tubs before, shape (tubs, 1, 3), and after, (tubs, endings, 3)."""
    bath, tubs = possible.setting.bath, len(ending_ph)
    start = np.broadcast_to(bath.solve().ph, tubs)[:, None]
    ph = np.concatenate([start, ending_ph], axis=1)
    strengths = {
        name: np.broadcast_to(value, tubs)[:, None] for name, value in bath.strengths.items()
    }
    pka = surfactant_pka(strengths, possible.read.bath.surfactants_g_l)
    labs = lab_of(drawn_absorbance(strengths, ph, pka), possible.read.view)
    return labs[:, :1], labs[:, 1:]
