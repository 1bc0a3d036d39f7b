"""From a recipe to what its cautions look at."""

from __future__ import annotations

from dosing.bath.inputs import RecipeInputs
from dosing.bath.jugs import Jugs
from dosing.ingredients.powders import Blend
from dosing.ingredients.water import contradicted
from dosing.plan.cautions import BathColour, Caution, Moment, Situation


def situation_of(
    inputs: RecipeInputs,
    moments: tuple[Moment, ...],
    *,
    accept_ph: str | None = None,
    accept_pouring: str | None = None,
    whose_tap: bool = True,
    elsewhere: tuple[Caution, ...] = (),
    jugs: tuple[Jugs, ...] = (),
    chalk: bool = False,
) -> Situation:
    """Facts of a recipe that its cautions depend on: bathers, market, pH, powders and colours.

    Parameters
    ----------
    inputs : RecipeInputs
        The recipe in core units.
    moments : tuple of Moment
        The pH of the possible tubs, moment by moment.
    accept_ph, accept_pouring : str, optional
        Why a pH, or a way to pour, that needs a written reason is accepted.
    whose_tap : bool
        Whether the tub is filled from the tap that the recipe has the readings of.
    elsewhere : tuple of Caution
        What stated homes say of giving the same grams away.
    jugs : tuple of Jugs
        What is dissolved before it is poured.
    chalk : bool
        Whether chalk may fall out of the bath.

    Returns
    -------
    Situation
        What `dosing.plan.cautions.judge` takes.
    """
    return Situation(
        bathers=inputs.wish.bathers,
        child_age_years=inputs.wish.child_age_years,
        foam_bath_present=inputs.foam_bath is not None,
        moments=moments,
        pouring=inputs.activator.pouring,
        poured=inputs.activator.poured,
        purpose=inputs.wish.purpose,
        market=inputs.wish.market,
        colours=tuple(BathColour(colour.colourant, colour.preserved) for colour in inputs.colours),
        water_temperature_c=inputs.water_temperature_c,
        powders=tuple(Blend(inputs.activator.parts).parts),
        accept_ph_reason=accept_ph,
        accept_pouring_reason=accept_pouring,
        contradiction=contradicted(inputs.water) if whose_tap else None,
        elsewhere=elsewhere,
        jugs=jugs,
        chalk=chalk,
    )
