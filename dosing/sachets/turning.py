"""Turning: at which pH a tub has turned, by the pH it starts from and the water in it.

Whether a change is obvious, or a colour has a name, depends on the start, the end and the fill
alone, so a small table serves any number of homes.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

from dosing.bath.assembled import assemble
from dosing.bath.inputs import RecipeInputs
from dosing.bath.mixed import colour_at
from dosing.ingredients.trade_values import typical
from dosing.plan.households import in_tub
from indicator.appearance import delta_e, lab_from_hex
from indicator.words import Wish, change_level, matches_word, threshold

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]

START_STEP_PH = 0.05
END_STEP_PH = 0.01
FILLS = 12
"""Volumes of the table: between kinds of tub the depth of a volume jumps."""
STARTS_PH = (4.0, 10.0)
"""Tubs before the activator lie well within."""
LOOK_SPAN_PH = 0.25


@dataclass(frozen=True)
class Turning:
    """The table; its fields after the first two have the shape (fills, starts)."""

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
            One entry per home.

        Returns
        -------
        tuple of numpy.ndarray
            As the fields of the table. NaN where the nearest entry does not turn.
        """
        row, upper = _places(self.volume_l, volume_l)
        column, right = _places(self.start_ph, start_ph)
        at_homes = [
            _between(table, row, upper, column, right)
            for table in (self.turned_ph, self.passed_ph, self.look_sd_ph)
        ]
        # A tub that starts beyond the mildest turned pH needs nothing.
        return np.minimum(at_homes[0], start_ph), at_homes[1], at_homes[2]


def turning_table(inputs: RecipeInputs, wish: Wish | None, volumes_l: ArrayLike) -> Turning:
    """The table for a recipe's bottle and view.

    Parameters
    ----------
    inputs : RecipeInputs
        Whose colours, foam bath and view are kept.
    wish : Wish, optional
        A pH, a word or a hex colour; an obvious change if not given.
    volumes_l : array_like
        Water of the homes, at least the least and the most of it [L].

    Returns
    -------
    Turning
        By water [L] and pH before.

    Raises
    ------
    ValueError
        If there is no colour in the recipe and no pH is wished.
    """
    if not inputs.colours and (wish is None or wish.kind != "ph"):
        raise ValueError(
            "there is no colour in this recipe, so no home can turn; add one, or wish a pH"
        )
    low, high = typical("lowest_ph_of_interest").value, typical("highest_ph_of_interest").value
    ends = np.arange(high, low - 0.5 * END_STEP_PH, -END_STEP_PH)
    starts = np.arange(STARTS_PH[0], STARTS_PH[1] + 0.5 * START_STEP_PH, START_STEP_PH)
    volumes = np.unique(np.linspace(np.min(volumes_l), np.max(volumes_l), FILLS))
    tub = in_tub(inputs, float(volumes[0]))
    rows = [
        _row(replace(tub, tub=replace(tub.tub, volume_l=float(volume))), wish, starts, ends)
        for volume in volumes
    ]
    turned, passed, look = (np.stack(tables) for tables in zip(*rows, strict=True))
    return Turning(volumes, starts, turned, passed, look)


def _row(
    inputs: RecipeInputs, wish: Wish | None, starts: Array, ends: Array
) -> tuple[Array, Array, Array]:
    """One fill: for each start the run of turned pH values that pouring first comes to."""
    setting = assemble(inputs)
    bath = setting.bath
    lab = colour_at(bath.strengths, ends, setting.view, bath.surfactants_g_l).lab
    begin = np.clip(np.round((ends[0] - starts) / END_STEP_PH).astype(int), 0, len(ends) - 1)
    has_turned = _turned(lab, begin, wish, ends)
    has_turned &= np.arange(len(ends)) >= begin[:, None]
    first = np.argmax(has_turned, axis=1)
    ever = has_turned.any(axis=1)
    left = ~has_turned & (np.arange(len(ends)) > first[:, None])
    last = np.where(left.any(axis=1), np.argmax(left, axis=1) - 1, len(ends) - 1)
    turned = np.where(ever, ends[first], np.nan)
    # Where it stays turned to the end of the path, it does so beyond.
    passed = np.where(last == len(ends) - 1, 0.0, ends[last])
    return turned, np.where(ever, passed, np.nan), _look_sd(lab, first)


def _turned(lab: Array, begin: NDArray[np.int_], wish: Wish | None, ends: Array) -> Mask:
    """Whether a tub that began at each start has turned at each end, shape (starts, ends)."""
    if wish is None:
        change = delta_e(lab[begin][:, None, :], lab[None, :, :])
        return np.asarray(change_level(change) == "obvious")
    if wish.ph is not None:
        named = ends <= wish.ph + 1e-9
    elif wish.word is not None:
        named = matches_word(lab, wish.word)
    else:
        away = delta_e(lab_from_hex(str(wish.hex)), lab)
        named = away <= typical("same_colour_delta_e").value
    return np.array(np.broadcast_to(named, (len(begin), len(ends))))


def _look_sd(lab: Array, at: NDArray[np.int_]) -> Array:
    """The pH by which the colour must move before an eye sees it."""
    reach = round(LOOK_SPAN_PH / END_STEP_PH)
    before, after = np.maximum(at - reach, 0), np.minimum(at + reach, len(lab) - 1)
    span = (after - before) * END_STEP_PH
    seen = delta_e(lab[before], lab[after])
    worst = typical("eye_worst_ph").value
    return np.minimum(threshold("change_subtle") * span / np.maximum(seen, 1e-9), worst)


def _places(grid: Array, values: Array) -> tuple[NDArray[np.int_], Array]:
    """Index of the entry below, and the share of the way to the next."""
    if len(grid) == 1:
        return np.zeros(len(values), dtype=int), np.zeros(len(values))
    below = np.clip(np.searchsorted(grid, values, side="right") - 1, 0, len(grid) - 2)
    share = (values - grid[below]) / (grid[below + 1] - grid[below])
    return below, np.clip(share, 0.0, 1.0)


def _between(
    table: Array, row: NDArray[np.int_], upper: Array, column: NDArray[np.int_], right: Array
) -> Array:
    """Bilinear; the nearest entry where the four do not all speak of the same run."""
    next_row = np.minimum(row + 1, len(table) - 1)
    corners = [table[row, column], table[row, column + 1]]
    corners += [table[next_row, column], table[next_row, column + 1]]
    smooth = (1 - upper) * ((1 - right) * corners[0] + right * corners[1])
    smooth = smooth + upper * ((1 - right) * corners[2] + right * corners[3])
    near = table[np.where(upper < 0.5, row, next_row), np.where(right < 0.5, column, column + 1)]
    together = np.max(corners, axis=0) - np.min(corners, axis=0) <= 4 * START_STEP_PH
    return np.where(together, smooth, near)
