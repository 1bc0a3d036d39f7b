"""The foam bath as a buffer: what a spoon of it brings into the tub besides foam.

Whatever a foam bath takes up between its own pH and the end of a titration is carried by one
weak acid, ``product_buffer``; an inert ion makes the product electroneutral at its own pH.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from dosing.equilibrium import Array, solve
from dosing.ingredients.told import Told
from dosing.ingredients.trade_values import middle, typical
from indicator.notes import Note

# Below this the titration lies so far from the buffer's pK that it says nothing about it.
_LEAST_CHARGE_SWING = 0.02
_FIXED_POINT_ROUNDS = 4
TITRATED_TO_PH = 4.5
"""Where the titration of an alkalinity ends."""


@dataclass(frozen=True)
class FoamBath:
    """Moles and surfactants that an amount of foam bath adds to the tub."""

    totals: Mapping[str, Array]
    """Component to amount [mol] (not per kilogram of water)."""
    assumptions: tuple[Note, ...]
    """What was assumed because nobody measured it."""


def foam_bath_totals(
    amount_g: ArrayLike,
    ph: ArrayLike | None = None,
    titratable_meq_kg: ArrayLike | None = None,
) -> FoamBath:
    """Buffer that an amount of foam bath brings into the tub.

    The titration is read as done on a 10 % solution of the product in pure water, so that the
    acid which this water itself takes up on the way counts as part of the reading.

    Parameters
    ----------
    amount_g : array_like
        Foam bath in the tub [g].
    ph : array_like, optional
        pH of the product; a usual one if not given.
    titratable_meq_kg : array_like, optional
        Acid (positive) or base (negative) per kilogram of product that takes it from its own
        pH to `TITRATED_TO_PH` at 25 °C [meq/kg]; a usual capacity if not given.

    Returns
    -------
    FoamBath

    Raises
    ------
    ValueError
        If the sign of the reading contradicts its end point, or the
        titration spans too little for any capacity to follow from it.
    """
    amount_kg = np.asarray(amount_g, dtype=float) / 1000
    told = Told()
    if ph is None:
        ph = typical("foam_bath_ph").value
        told.add("assume.product.ph", "foam_bath.ph", ph=ph)
    own_ph = np.asarray(ph, dtype=float)
    if titratable_meq_kg is None:
        usual = typical("foam_bath_titratable")
        start, end = (
            np.asarray(typical(f"foam_bath_titratable_{way}_ph").value) for way in ("from", "to")
        )
        taken = np.asarray(usual.value)
        # Bases differ more than the value that is taken.
        low, high = typical("base_titratable").ends
        code = "assume.product.titratable"
        told.add(code, "foam_bath.titratable", meq_kg=usual.value, low=low, high=high)
    else:
        start, end = own_ph, np.asarray(TITRATED_TO_PH)
        taken = np.asarray(titratable_meq_kg, dtype=float)
        _check_direction(taken, start, end)
    capacity = _capacity(taken, start, end)
    # Net charge of the diluted product at its own pH, per kilogram of product [mol/kg].
    charge = _charge(capacity, own_ph) * 1e-3
    per_kg = {
        "product_buffer": capacity * 1e-3,
        "cation": np.maximum(-charge, 0.0),
        "anion": np.maximum(charge, 0.0),
    }
    totals = {name: amount_kg * moles for name, moles in per_kg.items()}
    return FoamBath(totals, tuple(told.assumptions))


def _check_direction(taken: Array, start: Array, end: Array) -> None:
    direction = np.sign(taken) * np.sign(start - end)
    wrong = (direction < 0) | ((direction == 0) & (taken != 0))
    if np.any(wrong):
        raise ValueError(
            f"titratable_meq_kg is {middle(taken):g}, but its titration runs from pH "
            f"{middle(start):g} to {middle(end):g}; acid that lowers the pH counts positive, "
            "base that raises it negative"
        )


def _capacity(taken: Array, start: Array, end: Array) -> Array:
    """Buffer [meq/kg of product] that takes up ``taken`` between two pH values."""
    capacity = np.abs(taken)
    for _ in range(_FIXED_POINT_ROUNDS):
        # Nearly linear in the capacity; the rest is the ionic strength of the solution itself.
        blank = _charge(np.zeros(()), end) - _charge(np.zeros(()), start)
        probe = np.maximum(capacity, 1e-3)
        swing = _charge(probe, end) - _charge(probe, start) - blank
        if np.any((taken != 0) & (np.abs(swing / probe) < _LEAST_CHARGE_SWING)):
            raise ValueError(
                f"titratable_meq_kg spans only pH {middle(start):g} to {middle(end):g}, too "
                "little to tell the capacity; titrate across pH 5 to 7"
            )
        with np.errstate(divide="ignore", invalid="ignore"):
            ratio = np.where(taken == 0, 0.0, (taken - blank) / swing)
        capacity = np.maximum(probe * ratio, 0.0)
    return capacity


def _charge(capacity: Array, ph: Array) -> Array:
    """Net charge of the buffer and water of the diluted product [meq/kg of product]."""
    dilution = typical("foam_bath_titration_strength").value
    molality = np.asarray(capacity * 1e-3 * dilution, dtype=float)
    counter = molality
    charge = -molality
    for _ in range(2):
        # The counter-ion is there for the ionic strength; its own charge is taken out again.
        totals: dict[str, ArrayLike] = {"product_buffer": molality, "cation": counter}
        charge = np.asarray(solve(totals, ph=ph).charge_error) - counter
        counter = np.maximum(-charge, 0.0)
    return charge / dilution * 1e3
