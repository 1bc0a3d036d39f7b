"""Turning: at which pH a tub has turned, by its pigment, the pH it starts from and its water.

Whether a change is obvious, or a colour has a name, depends on the pigment, the start, the end and
the fill alone, so a table serves any number of homes. What the maker's pigment is, is known within
its spread only: each home has one of many that it may be.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

from dosing.bath.assembled import assemble
from dosing.bath.inputs import RecipeInputs
from dosing.ingredients.trade_values import typical
from dosing.plan.households import in_tub
from dosing.plan.odds import possible_labs
from indicator.appearance import delta_e, lab_from_hex
from indicator.words import Wish, change_level, matches_word, threshold

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]

PIGMENTS = 251
"""Pigments that the maker's may be. A prime that is no base of the homes' sequence
(`dosing.bath.draws`), so that homes in turn meet every pigment in every water."""
END_STEP_PH = 0.1
STARTS_BY = 2
"""Steps of the end in one of the start."""
FILLS = 12
"""Volumes of the table: between kinds of tub the depth of a volume jumps."""
LOOK_SPAN_PH = 0.2
SAME_RUN_PH = 0.8
"""Neighbours in the table that are further apart are of different runs."""
Places = tuple[NDArray[np.int_], NDArray[np.int_], Array]
"""Index of the entry below and of the next, and the share of the way to it."""


@dataclass(frozen=True)
class Turning:
    """The table; its fields after the first two have the shape (pigments, fills, starts)."""

    volume_l: Array
    """Rising, shape (fills,) [L]."""
    start_ph: Array
    """Rising, shape (starts,)."""
    turned_ph: Array
    """The mildest pH at which the tub has turned; NaN where none is reached."""
    passed_ph: Array
    """The last pH, going on, at which it still has."""
    look_sd_ph: Array
    """How far an eye's judgement of it may be off, as standard deviation of the pH."""

    def at(self, start_ph: Array, volume_l: Array) -> tuple[Array, Array, Array]:
        """Turned pH, passed pH and look for homes, between the entries of the table.

        Parameters
        ----------
        start_ph, volume_l : numpy.ndarray
            One entry per home; the homes have the pigments in turn.

        Returns
        -------
        tuple of numpy.ndarray
            As the fields of the table. NaN where the nearest entry does not turn.
        """
        pigment = np.arange(len(start_ph)) % len(self.turned_ph)
        fill, start = _places(self.volume_l, volume_l), _places(self.start_ph, start_ph)
        at_homes = [
            _between(table, pigment, fill, start)
            for table in (self.turned_ph, self.passed_ph, self.look_sd_ph)
        ]
        # A tub that starts beyond the mildest turned pH needs nothing.
        return np.minimum(at_homes[0], start_ph), at_homes[1], at_homes[2]


def turning_table(
    inputs: RecipeInputs,
    wish: Wish | None,
    start_ph: ArrayLike,
    volume_l: ArrayLike,
    pigments: int = PIGMENTS,
) -> Turning:
    """The table for a recipe's bottle and view.

    Parameters
    ----------
    inputs : RecipeInputs
        Whose colours, foam bath and view are kept.
    wish : Wish, optional
        A pH, a word or a hex colour; an obvious change if not given.
    start_ph, volume_l : array_like
        pH before and water of the homes, at least the least and the most of both [L].
    pigments : int
        Number of pigments that the maker's may be.

    Returns
    -------
    Turning
        By pigment, water [L] and pH before.

    Raises
    ------
    ValueError
        If there is no colour in the recipe and no pH is wished.
    """
    if not inputs.colours and (wish is None or wish.kind != "ph"):
        raise ValueError(
            "there is no colour in this recipe, so no home can turn; add one, or wish a pH"
        )
    lowest = typical("lowest_ph_of_interest").value
    highest = END_STEP_PH * np.ceil(np.max(start_ph) / END_STEP_PH)
    ends = np.arange(highest, lowest - 0.5 * END_STEP_PH, -END_STEP_PH)
    within = ends > np.min(start_ph) - STARTS_BY * END_STEP_PH
    begin = np.flatnonzero(within)[::STARTS_BY][::-1]
    volumes = np.unique(np.linspace(np.min(volume_l), np.max(volume_l), FILLS))
    tub = in_tub(inputs, float(volumes[0]))
    fills = [replace(tub, tub=replace(tub.tub, volume_l=float(volume))) for volume in volumes]
    labs = (possible_labs(inputs, assemble(fill), ends, pigments) for fill in fills)
    tables = zip(*(_row(lab, wish, begin, ends) for lab in labs), strict=True)
    return Turning(volumes, ends[begin], *(np.stack(table, axis=1) for table in tables))


def _row(
    lab: Array, wish: Wish | None, begin: NDArray[np.int_], ends: Array
) -> tuple[Array, Array, Array]:
    """One fill: for each pigment and start the run of turned pH that pouring first comes to."""
    places = np.arange(len(ends))
    has_turned = _turned(lab, begin, wish, ends) & (places >= begin[:, None])
    first = np.argmax(has_turned, axis=-1)
    ever = has_turned.any(axis=-1)
    left = ~has_turned & (places > first[..., None])
    last = np.where(left.any(axis=-1), np.argmax(left, axis=-1) - 1, len(ends) - 1)
    # It turned, and turned on, somewhere between two ends; a pH that is wished is exact.
    exact = None if wish is None else wish.ph
    turned = ends[first] + 0.5 * END_STEP_PH if exact is None else np.full(first.shape, exact)
    # Where it stays turned to the end of the path, it does so beyond.
    passed = np.where(last == len(ends) - 1, 0.0, ends[last] - 0.5 * END_STEP_PH)
    never = np.where(ever, 0.0, np.nan)
    return turned + never, passed + never, _look_sd(lab, first)


def _turned(lab: Array, begin: NDArray[np.int_], wish: Wish | None, ends: Array) -> Mask:
    """Whether a tub that began at each start has turned at each end, (pigments, starts, ends)."""
    if wish is None:
        change = delta_e(lab[:, begin, None, :], lab[:, None, :, :])
        return np.asarray(change_level(change) == "obvious")
    if wish.ph is not None:
        named = np.broadcast_to(ends <= wish.ph + 1e-9, lab.shape[:-1])
    elif wish.word is not None:
        named = _has_word(lab, wish.word)
    else:
        away = delta_e(lab_from_hex(str(wish.hex)), lab)
        named = away <= typical("same_colour_delta_e").value
    return np.repeat(named[:, None], len(begin), axis=1)


def _has_word(lab: Array, word: str) -> Mask:
    """Whether the colours along each path have a word, (pigments, ends).

    Naming takes most of the time, so where both neighbours have the word, or both lack it, the
    end between them is not named but counts as they do.
    """
    named = np.zeros(lab.shape[:-1], dtype=bool)
    named[:, ::2] = matches_word(lab[:, ::2], word)
    named[:, -1] = matches_word(lab[:, -1], word)
    before, between = named[:, :-2:2], named[:, 1:-1:2]
    unsure = before != named[:, 2::2]
    between[:] = before
    between[unsure] = matches_word(lab[:, 1:-1:2][unsure], word)
    return named


def _look_sd(lab: Array, at: NDArray[np.int_]) -> Array:
    """The pH by which the colour must move before an eye sees it."""
    reach = round(LOOK_SPAN_PH / END_STEP_PH)
    before, after = np.maximum(at - reach, 0), np.minimum(at + reach, lab.shape[1] - 1)
    span = (after - before) * END_STEP_PH
    pigment = np.arange(len(lab))[:, None]
    seen = delta_e(lab[pigment, before], lab[pigment, after])
    worst = typical("eye_worst_ph").value
    return np.asarray(np.minimum(threshold("change_subtle") * span / np.maximum(seen, 1e-9), worst))


def _places(grid: Array, values: Array) -> Places:
    position = np.interp(values, grid, np.arange(len(grid)))
    below = position.astype(int)
    return below, np.minimum(below + 1, len(grid) - 1), position - below


def _between(table: Array, pigment: NDArray[np.int_], fill: Places, start: Places) -> Array:
    """Bilinear; the nearest entry where the four do not all speak of the same run."""
    (*rows, upper), (*columns, right) = fill, start
    corners = [table[pigment, row, column] for row in rows for column in columns]
    smooth = (1 - upper) * ((1 - right) * corners[0] + right * corners[1])
    smooth = smooth + upper * ((1 - right) * corners[2] + right * corners[3])
    near = np.choose(2 * (upper >= 0.5) + (right >= 0.5), corners)
    together = np.max(corners, axis=0) - np.min(corners, axis=0) <= SAME_RUN_PH
    return np.where(together, smooth, near)
