"""``keep``: what is left of a bottle's colour after some time, and of a tub's after a soak."""

from __future__ import annotations

from pathlib import Path

from dosing.bath.assembled import assemble
from dosing.bottle.keeping import keep
from dosing.cli.given import recipe_of
from dosing.cli.output import show
from dosing.recipe.quantities import InputError, days, temperature_c
from dosing.recipe.quantities import ph as typed_ph
from dosing.words.bottle import keep_lines
from indicator.fading import fading_names
from indicator.notes import say
from indicator.pigments import colourant


def run_keep(
    *,
    recipe: Path | None,
    demo: str | None,
    time: str,
    temperature: str,
    ph: str | None,
    soak: str,
    as_json: bool,
) -> None:
    """Show what is left of the colour of a bottle after a time, and of a tub after a soak.

    Parameters
    ----------
    recipe : Path or None
        A recipe file.
    demo : str or None
        Name of a demo.
    time : str
        How long the bottle stands, with a unit.
    temperature : str
        Where it stands, with a unit.
    ph : str or None
        PH in the bottle; the usual one if not given.
    soak : str
        How long the soak takes, with a unit.
    as_json : bool
        Whether one document is printed.
    """
    long, warm = days(time, "time"), temperature_c(temperature, "temperature")
    acidity = None if ph is None else typed_ph(ph, "ph")
    soaking = days(soak, "soak")
    inputs = recipe_of(recipe, demo)
    kept = keep(
        inputs,
        assemble(inputs),
        days=long,
        temperature_c=warm,
        ph=acidity,
        soak_days=soaking,
    )
    if kept is None:
        names = ", ".join(colourant(name).label for name in fading_names())
        raise InputError(say("keep.none", {"names": names}), "colour")
    show(kept, keep_lines(inputs.title, kept), as_json=as_json)
