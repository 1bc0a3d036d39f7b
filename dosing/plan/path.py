"""The planner: which dose gives the wished colour or pH in one known tub.

It searches over bath → solved bath → seen bath and holds no chemistry of its own. What the
readings leave open is the business of `dosing.bath.possible_tubs`.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

from dosing.bath.assembled import Setting
from dosing.bath.mixed import Bath, colour_at
from dosing.ingredients.trade_values import typical
from dosing.plan.records import Wish
from indicator.appearance import SeenColour, delta_e, lab_from_hex
from indicator.optics import View
from indicator.words import change_level, matches_word, word_certainty

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]

PATH_STEP_PH = 0.01
"""Fine enough that a colour along the path changes by far less than the eye can tell."""


@dataclass(frozen=True)
class Path:
    """PH and colour of one tub along the dose, from nothing to as far as it is worth looking."""

    ph: Array
    """Shape (steps,), the first is the tub before."""
    grams: Array
    """Activator for each pH [g], shape (steps,)."""
    colours: SeenColour
    """Batch shape (steps,)."""
    change_delta_e: Array
    """CIEDE2000 against the tub before, shape (steps,)."""
    limiting_ph: float
    """The pH that this activator does not pass, however much is used; NaN if not met."""

    @property
    def acid(self) -> bool:
        """Whether the activator lowers the pH."""
        return bool(self.ph[-1] < self.ph[0])


def colour_path(
    bath: Bath,
    per_gram: Mapping[str, ArrayLike],
    view: View,
) -> Path:
    """Colours and doses along the pH that an activator can give a single tub.

    Parameters
    ----------
    bath : Bath
        One tub, batch shape ().
    per_gram : mapping of str to array_like
        What a gram of the activator adds [mol/g].
    view : View
        How the tub is looked at.

    Returns
    -------
    Path
        In equal steps of pH; a single step if the activator does not move the pH.
    """
    plenty = float(bath.volume_l) * typical("plenty_of_activator").value
    start, with_plenty = (float(ph) for ph in (bath.ph, bath.with_activator(plenty, per_gram).ph))
    key = "lowest_ph_of_interest" if with_plenty < start else "highest_ph_of_interest"
    wanted_end = typical(key).value
    end = max(with_plenty, wanted_end) if with_plenty < start else min(with_plenty, wanted_end)
    steps = max(int(np.ceil(abs(end - start) / PATH_STEP_PH)), 1)
    ph = np.linspace(start, end, steps + 1)
    grams, reached, limit = bath.grams_for_ph(ph, per_gram)
    # The start needs nothing; the solver may call a hair less than nothing unreachable.
    reached[0], grams[0] = True, 0.0
    last = int(np.flatnonzero(reached)[-1]) + 1
    ph, grams = ph[:last], np.where(reached, grams, np.nan)[:last]
    good = np.isfinite(grams)
    ph, grams = ph[good], grams[good]
    colours = colour_at(bath.strengths, ph, view, bath.surfactants_g_l)
    change = delta_e(colours.lab[0], colours.lab)
    missed = limit[~reached]
    return Path(ph, grams, colours, change, float(missed[-1]) if len(missed) else float("nan"))


def path_through(path: Path, ph: float | None, setting: Setting) -> Path:
    """Path of colours with a step of its own at a pH, if it comes past it.

    Parameters
    ----------
    path : Path
        Of `colour_path`.
    ph : float or None
        The wished pH, if one is wished.
    setting : Setting
        The tub that the path belongs to.

    Returns
    -------
    Path
        One step longer, or the same.
    """
    low, high = sorted((path.ph[0], path.ph[-1]))
    if ph is None or not low < ph < high or ph in path.ph:
        return path
    bath = setting.bath
    place = int(np.searchsorted(path.ph if not path.acid else -path.ph, -ph if path.acid else ph))
    grams, _, _ = bath.grams_for_ph(ph, setting.per_gram)
    colour = colour_at(bath.strengths, ph, setting.view, bath.surfactants_g_l)
    colours = {
        name: np.insert(steps, place, getattr(colour, name), axis=0)
        for name, steps in vars(path.colours).items()
    }
    change = delta_e(path.colours.lab[0], colour.lab)
    return replace(
        path,
        ph=np.insert(path.ph, place, ph),
        grams=np.insert(path.grams, place, float(grams)),
        colours=SeenColour(**colours),
        change_delta_e=np.insert(path.change_delta_e, place, change),
    )


def turns(path: Path) -> bool:
    """Whether the activator moves the pH enough to be worth pouring at all."""
    return abs(float(path.ph[-1] - path.ph[0])) >= typical("least_turn_ph").value


@dataclass(frozen=True)
class Match:
    """Where along a path a wish is met, or comes nearest."""

    step: int
    """Index into the path."""
    met: bool
    distance: float
    """CIEDE2000 from the wished colour, pH units from a wished pH, 0 where a word holds."""


def step_for(path: Path, wish: Wish, allowed: Mask) -> Match:
    """Step of the path, of those allowed, at which a wish is met or comes nearest.

    Parameters
    ----------
    path : Path
        Where the activator leads.
    wish : Wish
        A pH, a colour, or nothing but an obvious change.
    allowed : numpy.ndarray
        Steps that may be chosen, shape (steps,).

    Returns
    -------
    Match
        The step, whether the wish is met there, and how far it is from it.
    """
    if wish.ph is not None:
        match = step_for_ph(path, wish.ph)
        if allowed[match.step]:
            return match
        steps = np.flatnonzero(allowed)
        nearest = int(steps[np.argmin(np.abs(steps - match.step))])
        distance = abs(float(path.ph[nearest]) - wish.ph)
        return Match(nearest, distance < typical("same_ph").value, distance)
    if wish.word is not None:
        return step_for_word(path, wish.word, allowed)
    if wish.hex is not None:
        return step_for_hex(path, wish.hex, allowed)
    return step_for_show(path, allowed)


def step_for_ph(path: Path, ph: float) -> Match:
    """Step of the path at a pH; not met if the path does not go there.

    Parameters
    ----------
    path : Path
        Where the activator leads.
    ph : float
        The wished pH.

    Returns
    -------
    Match
        Its distance is in pH units.
    """
    low, high = sorted((path.ph[0], path.ph[-1]))
    step = int(np.argmin(np.abs(path.ph - ph)))
    met = bool(low - PATH_STEP_PH <= ph <= high + PATH_STEP_PH)
    return Match(step, met, abs(float(path.ph[step]) - ph))


def step_for_word(path: Path, word: str, allowed: Mask) -> Match:
    """Mildest allowed step whose colour surely has the name; else the nearest allowed one.

    Parameters
    ----------
    path : Path
        Where the activator leads.
    word : str
        The wished colour word.
    allowed : numpy.ndarray
        Steps that may be chosen, of bool, shape (steps,).

    Returns
    -------
    Match
        Its distance is the CIEDE2000 to the nearest step with that word, NaN where there is none.

    Raises
    ------
    ValueError
        If nothing is allowed; the tub before always is.
    """
    named = matches_word(path.colours.patch, word)
    steps = np.flatnonzero(named & allowed)
    if len(steps):
        certainty = word_certainty(path.colours.patch[steps], word)
        enough = min(typical("sure_word_share").value, float(certainty.max()))
        return Match(int(steps[np.argmax(certainty >= enough)]), True, 0.0)
    anywhere = np.flatnonzero(named)
    if len(anywhere):
        to_there = delta_e(path.colours.lab[anywhere[0]], path.colours.lab)
        step = int(np.argmin(np.where(allowed, to_there, np.inf)))
        return Match(step, False, float(to_there[step]))
    return Match(_most_like(path, word, allowed), False, float("nan"))


def step_for_hex(path: Path, wished: str, allowed: Mask) -> Match:
    """Allowed step nearest to a colour; met if the eye would call the two the same.

    Parameters
    ----------
    path : Path
        Where the activator leads.
    wished : str
        ``#rrggbb``.
    allowed : numpy.ndarray
        Steps that may be chosen, of bool, shape (steps,).

    Returns
    -------
    Match
        Its distance is a CIEDE2000.
    """
    distance = delta_e(lab_from_hex(wished), path.colours.lab)
    step = int(np.argmin(np.where(allowed, distance, np.inf)))
    met = float(distance[step]) <= typical("same_colour_delta_e").value
    return Match(step, met, float(distance[step]))


def step_for_show(path: Path, allowed: Mask) -> Match:
    """Mildest allowed step whose change is obvious; else the one with most of the change.

    Parameters
    ----------
    path : Path
        Where the activator leads.
    allowed : numpy.ndarray
        Steps that may be chosen, of bool, shape (steps,).

    Returns
    -------
    Match
        Met where the change is obvious.
    """
    obvious = change_level(path.change_delta_e) == "obvious"
    steps = np.flatnonzero(obvious & allowed)
    if len(steps):
        return Match(int(steps[0]), True, 0.0)
    return Match(_most_of_the_change(path, allowed), False, float("nan"))


def _most_like(path: Path, word: str, allowed: Mask) -> int:
    """The mildest allowed step nearly as likely to be called so as any; never away from it."""
    votes = np.where(allowed, word_certainty(path.colours.patch, word), -1.0)
    if votes.max() <= 0.0:
        return _most_of_the_change(path, allowed)
    return int(np.argmax(votes >= typical("worthwhile_share_of_change").value * votes.max()))


def _most_of_the_change(path: Path, allowed: Mask) -> int:
    """The mildest allowed step with nearly all the change that the allowed steps can give."""
    change = np.where(allowed, path.change_delta_e, -1.0)
    share = typical("worthwhile_share_of_change").value
    return int(np.argmax(change >= share * change.max()))
