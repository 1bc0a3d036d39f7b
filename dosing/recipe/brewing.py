"""Brews as a maker asks for them: what is steeped, its bottle, and how dark it was measured."""

from __future__ import annotations

from dosing.bottle.steeping import steepable
from dosing.recipe.quantities import InputError, absorbance_per_cm, amount
from indicator.colourants import Colourant
from indicator.notes import say
from indicator.pigments import Pigments


def bottle_ml(written: str) -> float:
    """Size of a bottle [mL]; raises InputError for what is no volume."""
    size = amount(written, "bottle")
    if size.kind != "volume" or size.value <= 0:
        raise InputError(say("cli.bottle", {"value": written}), "bottle", written)
    return size.value


def steeped(name: str, pigments: Pigments) -> Colourant:
    """The pigment that is steeped.

    Parameters
    ----------
    name : str
        As typed.
    pigments : Pigments
        What the maker can name.

    Returns
    -------
    Colourant

    Raises
    ------
    InputError
        If it is not known, or none that is brewed from petals.
    """
    colourant = pigments.find(name)
    if not steepable(colourant):
        code = "cli.steep-dye" if colourant.kind != "pigment" else "cli.steep-no-strength"
        raise InputError(say(code, {"value": name}), "pigment", name)
    return colourant


def measured_per_cm(written: str) -> float:
    """Absorbance of a brew [1/cm]; raises InputError for what is none, or zero."""
    per_cm = absorbance_per_cm(written, "measured")
    if per_cm == 0:
        raise InputError(say("cli.measured-nothing", {"value": written}), "measured", written)
    return per_cm
