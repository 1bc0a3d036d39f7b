"""Titration curves of many homes: grams to a pH, and pH after grams, without solving each anew.

At a given pH the grams that lead there are nearly linear in what a water holds. Some hundred homes,
titrated in full, give that law at every pH of a grid; a few doses solved in every home then shift
its own curve into place. Grams and pH are read off the curve, between its points in straight lines.
A home whose curve had to be shifted by more than a little is told, so that it can be solved.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from dosing.bath.mixed import Bath, SolvedBath
from dosing.equilibrium import solve

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]

TITRATED = 240
"""Homes that are titrated in full."""
TITRATED_STEP_PH = 0.1
STEP_PH = 0.5 * TITRATED_STEP_PH
LOWEST_PH, HIGHEST_PH = 2.8, 8.8
NODES_PH = (6.3, 5.8, 5.2, 4.6, 3.8)
"""Where in about each home is solved."""
SURE_PH = 0.013
"""Curves that are shifted by more than this much more at one node than at the next are unsure."""
MOST_G_L = 5.0
"""A pH that takes more is none that a sachet leads to."""
_FIRST_G_L, _LEAST_G_L = 0.3, 1e-3
_SECANTS = 4
_FROM_END_PH = 0.2
_ROWS = 4096
"""Homes at a time: their part of the table stays in the processor's cache."""


@dataclass(frozen=True)
class TitrationCurves:
    """Curves of homes; what lies beyond the ends of a curve is NaN."""

    ph: Array
    """Rising and evenly spaced, shape (points,)."""
    grams: Array
    """To each pH, falling, shape (homes, points) [g]; negative beyond the pH of the tub before."""
    sure: Mask
    """Whether a home's curve hardly had to be shifted, shape (homes,)."""

    def grams_to(self, ph: Array) -> Array:
        """Grams that bring each home to a pH [g].

        Parameters
        ----------
        ph : numpy.ndarray
            One for each home, or one for all; NaN where none is wished.

        Returns
        -------
        numpy.ndarray
            Shape (homes,); NaN beyond the curve.
        """
        place = np.broadcast_to((ph - self.ph[0]) / STEP_PH, len(self.grams))
        inside = (place >= 0.0) & (place <= len(self.ph) - 1)
        return np.where(inside, _between(self.grams, np.where(inside, place, 0.0)), np.nan)

    def ph_after(self, grams: Array) -> Array:
        """PH of each home after grams.

        Parameters
        ----------
        grams : numpy.ndarray
            One for each home, or one for all [g].

        Returns
        -------
        numpy.ndarray
            Shape (homes,); NaN beyond the curve.
        """
        table, homes = self.grams, np.arange(len(self.grams))
        below = np.zeros(len(table), dtype=np.intp)
        above = np.full(len(table), len(self.ph) - 1)
        while (above - below).max() > 1:
            middle = (below + above) // 2
            more = table[homes, middle] >= grams
            below, above = np.where(more, middle, below), np.where(more, above, middle)
        left, right = table[homes, below], table[homes, below + 1]
        with np.errstate(divide="ignore", invalid="ignore"):
            share = (left - grams) / (left - right)
        inside = (share >= 0.0) & (share <= 1.0)
        return np.where(inside, self.ph[below] + STEP_PH * share, np.nan)


def titration_curves(
    bath: Bath, per_gram: Mapping[str, Array], start: SolvedBath
) -> TitrationCurves:
    """Titration curves of many homes, from six solves of each.

    Parameters
    ----------
    bath : Bath
        The tubs before, batch shape (homes,).
    per_gram : mapping of str to numpy.ndarray
        What a gram of the activator adds [mol/g].
    start : SolvedBath
        The same tubs, solved.

    Returns
    -------
    TitrationCurves
        Where sure, within 0.01 pH of a solve (tests/dosing/test_titration.py).
    """
    holds = _features(bath, start)
    order = np.argsort(bath.totals["C"], kind="stable")
    spread = np.linspace(0, len(order) - 1, min(TITRATED, len(order)))
    titrated = order[spread.round().astype(int)]
    ph, law = _law(tubs_at(bath, titrated), per_gram, holds[titrated])
    doses, solved = [np.zeros(len(order))], [start.ph]
    for node in NODES_PH:
        # The end of a curve may lie a little below, or above, what the law says.
        place = np.maximum(node - ph[0], _FROM_END_PH) / STEP_PH
        at_node = _between(law, np.full(len(law), place))
        doses.append(np.maximum(holds @ at_node, 0.0))
        solved.append(bath.with_activator(doses[-1] * bath.water_kg, per_gram).solve().ph)
    nodes, node_ph = np.stack(doses, axis=1), np.stack(solved, axis=1)
    grams = np.empty((len(order), len(ph)))
    sure = np.empty(len(order), dtype=bool)
    for first in range(0, len(order), _ROWS):
        rows = slice(first, first + _ROWS)
        per_kg, sure[rows] = _shifted(ph, holds[rows] @ law, nodes[rows], node_ph[rows])
        grams[rows] = per_kg * bath.water_kg[rows, None]
    return TitrationCurves(ph, grams, sure)


def _features(bath: Bath, start: SolvedBath) -> Array:
    """What the doses are linear in: totals, also with ionic strength and warmth, (homes, terms)."""
    held = np.stack([*bath.totals.values(), np.full(bath.volume_l.shape, 1e-3)], axis=1)
    strength = np.sqrt(start.equilibrium.ionic_strength)[:, None]
    warmer = (bath.temperature_c - np.mean(bath.temperature_c))[:, None]
    return np.hstack([held, held * strength, held * warmer])


def _law(bath: Bath, per_gram: Mapping[str, Array], holds: Array) -> tuple[Array, Array]:
    """Points of pH, and grams per kg of water to each by each term, shape (terms, points).

    Least squares in the pH that the doses are wrong by.
    """
    ph = np.arange(LOWEST_PH, HIGHEST_PH, TITRATED_STEP_PH)
    doses = _titrated(bath, per_gram, ph)
    lowest = int(np.flatnonzero(~np.isfinite(doses).all(axis=0)).max(initial=-1)) + 1
    ph, doses = ph[lowest:], doses[:, lowest:]
    weights = 1.0 / np.maximum(-np.gradient(doses, ph, axis=1), 1e-12)
    sizes = np.maximum(np.abs(holds).max(axis=0), 1e-30)
    law = np.stack(
        [
            np.linalg.lstsq(holds / sizes * weight[:, None], dose * weight, rcond=1e-9)[0]
            for dose, weight in zip(doses.T, weights.T, strict=True)
        ],
        axis=1,
    )
    return _halved(ph), _halved(law / sizes[:, None])


def _halved(rows: Array) -> Array:
    """Rows with the cubic through the nearest four points half way between each two."""
    before, after = (2 * rows[..., a] - rows[..., b] for a, b in ((0, 1), (-1, -2)))
    wide = np.concatenate([before[..., None], rows, after[..., None]], axis=-1)
    halfway = (9.0 * (rows[..., :-1] + rows[..., 1:]) - wide[..., :-3] - wide[..., 3:]) / 16.0
    halves = np.empty((*rows.shape[:-1], 2 * rows.shape[-1] - 1))
    halves[..., ::2], halves[..., 1::2] = rows, halfway
    return halves


def _titrated(bath: Bath, per_gram: Mapping[str, Array], ph: Array) -> Array:
    """Grams per kg of water to each pH, (homes, points); infinite where none lead there.

    By secants through the charge that is left over at a pH, which is nearly linear in the grams.
    Before the pH of the tub itself the grams are negative: as many as would be taken out.
    """
    wide = replace(
        bath,
        totals={name: total[:, None] for name, total in bath.totals.items()},
        volume_l=bath.volume_l[:, None],
        water_kg=bath.water_kg[:, None],
        temperature_c=bath.temperature_c[:, None],
    )
    left = charge_mol(wide, ph)
    grams = np.broadcast_to(_FIRST_G_L * wide.volume_l, left.shape)
    for _ in range(_SECANTS):
        taken = left - charge_mol(wide.with_activator(grams, per_gram), ph)
        with np.errstate(divide="ignore"):
            needed = np.where(taken > 0.0, left / taken * grams, np.inf)
        tried = np.clip(needed, _LEAST_G_L * wide.volume_l, MOST_G_L * wide.volume_l)
        grams = np.where(needed > 0.0, tried, grams)
    return np.where(needed < MOST_G_L * wide.volume_l, needed, np.inf) / wide.water_kg


def _shifted(ph: Array, grams: Array, nodes: Array, node_ph: Array) -> tuple[Array, Mask]:
    """Curves moved along the pH so that they go through the nodes, and which hardly needed it.

    Parameters
    ----------
    ph : numpy.ndarray
        Rising, shape (points,).
    grams : numpy.ndarray
        As the law has them, shape (homes, points).
    nodes, node_ph : numpy.ndarray
        Doses and the pH solved with them, falling, shape (homes, nodes).
    """
    curves = TitrationCurves(ph, np.minimum.accumulate(grams, axis=1), np.empty(0, dtype=bool))
    off = node_ph - np.stack([curves.ph_after(dose) for dose in nodes.T], axis=1)
    shift = np.repeat(off[:, :1], len(ph), axis=1)
    for node in range(1, off.shape[1]):
        gap = np.maximum(node_ph[:, node - 1] - node_ph[:, node], 1e-9)[:, None]
        gone = np.clip((node_ph[:, node - 1 : node] - ph) / gap, 0.0, 1.0)
        shift += gone * (off[:, node] - off[:, node - 1])[:, None]
    place = np.clip((ph - shift - ph[0]) / STEP_PH, 0.0, len(ph) - 1.0)
    moved = _between(curves.grams, np.nan_to_num(place))
    return np.minimum.accumulate(moved, axis=1), np.abs(np.diff(off, axis=1)).max(axis=1) <= SURE_PH


def tubs_at(bath: Bath, rows: slice | NDArray[np.int_]) -> Bath:
    """Some of the tubs of a batch, without their colours.

    Parameters
    ----------
    bath : Bath
        Batch shape (tubs,).
    rows : slice or numpy.ndarray
        Which of them.

    Returns
    -------
    Bath
        Batch shape (rows,).
    """
    return replace(
        bath,
        totals={name: np.array(total[rows]) for name, total in bath.totals.items()},
        volume_l=np.array(bath.volume_l[rows]),
        water_kg=np.array(bath.water_kg[rows]),
        temperature_c=np.array(bath.temperature_c[rows]),
        strengths={},
        surfactants_g_l={},
    )


def charge_mol(bath: Bath, ph: Array) -> Array:
    """Charge that tubs held at a pH have left over [mol].

    Parameters
    ----------
    bath : Bath
        The tubs.
    ph : numpy.ndarray
        pH; broadcasts with the batch.

    Returns
    -------
    numpy.ndarray
        [mol].
    """
    return np.asarray(solve(bath.totals, bath.temperature_c, ph=ph).charge_error * bath.water_kg)


def _between(table: Array, place: Array) -> Array:
    """Entries of each row between two places of it, in a straight line.

    The places are one for each row, or some, shape (rows, places).
    """
    places = place.reshape(len(place), -1)
    below = np.minimum(places.astype(np.intp), table.shape[1] - 2)
    share = places - below
    left, right = (np.take_along_axis(table, at, axis=1) for at in (below, below + 1))
    return np.asarray((left + share * (right - left)).reshape(place.shape))
