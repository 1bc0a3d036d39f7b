"""Names that people write in a recipe: powders, colours, lights and targets, read into ours."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from typing import Literal

from dosing.recipe import quantities as q
from indicator.notes import say
from indicator.pigments import Colourant, Pigments
from indicator.tables import DataError

_LARGEST_PART = 1e6


def known_colourant(
    written: str, field: str, kind: Literal["pigment", "dye"], pigments: Pigments
) -> Colourant:
    """Pigment or dye of a name or a file.

    Parameters
    ----------
    written : str
        As it stands in the recipe.
    field : str
        Where it was written.
    kind : {"pigment", "dye"}
        Which of the two is accepted there.
    pigments : Pigments
        What the maker can name.

    Returns
    -------
    Colourant

    Raises
    ------
    InputError
        If it is not known or of the other kind.
    """
    try:
        known = pigments.find(written)
    except DataError as error:
        raise q.InputError(str(error), field, written) from None
    except ValueError as error:
        raise _unknown(field, written, pigments.names, error) from None
    if known.kind != kind:
        values = {"label": known.label, "kind": known.kind}
        raise q.refuse("error.other-kind", field, written, known.kind, **values)
    return known


def parts_by_powder(written: Mapping[str, float | str], field: str) -> dict[str, float]:
    """Parts by mass of each powder, under our names for the powders.

    Parameters
    ----------
    written : mapping of str to float or str
        Name of a powder to its part: a number, or text such as ``"2 parts"`` or ``"60 %"``.
    field : str
        Where it was written.

    Returns
    -------
    dict of str to float
        Key of each powder to its part.

    Raises
    ------
    InputError
        If a powder is not known, a part is no such number, or there is nothing of any powder.
    """
    from dosing.ingredients.powders import powder, powder_names

    parts: dict[str, float] = {}
    for name, part in written.items():
        try:
            key = powder(re.sub(r"[\s_]+", "-", name.strip().casefold())).name
        except ValueError as error:
            raise _unknown(field, name, powder_names(), error) from None
        parts[key] = parts.get(key, 0.0) + _part(part, f"{field}.{name}")
    if not sum(parts.values()) > 0:
        raise q.refuse("error.no-powder", field, dict(written), "")
    return parts


def _part(part: float | str, field: str) -> float:
    text = str(part).strip().casefold()
    match = re.fullmatch(r"(\d+(?:[.,]\d+)?)\s*(?:%|percent|per cent|parts?|g)?", text)
    number = float(match[1].replace(",", ".")) if match else float("nan")
    if isinstance(part, float):
        number = part
    if not 0 <= number <= _LARGEST_PART:
        raise q.refuse("error.part", field, part, f"0 to {_LARGEST_PART:.0f}")
    return number


def target_text(target: float | str, field: str) -> str:
    """A pH, a colour word or a hex colour, as text.

    Parameters
    ----------
    target : float or str
        As it was written.
    field : str
        Where it was written.

    Returns
    -------
    str

    Raises
    ------
    InputError
        If it is none of the three.
    """
    from indicator.words import colour_words, parse_target

    text = f"{target:g}" if isinstance(target, float) else target
    try:
        parse_target(text)
    except ValueError:
        raise q.refuse("error.target", field, target, ", ".join(colour_words())) from None
    return text


def light_key(written: str, field: str) -> str:
    """Key of a light.

    Parameters
    ----------
    written : str
        As it was written, for instance ``"warm white LED"`` or ``"2700 K"``.
    field : str
        Where it was written.

    Returns
    -------
    str

    Raises
    ------
    InputError
        If no light is called so.
    """
    from indicator.appearance import UnknownLightError, light_name

    try:
        return light_name(written)
    except UnknownLightError as error:
        hint = "" if error.nearest is None else say("error.near", {"name": error.nearest})
        raise q.refuse("error.choice", field, written, error.accepted, hint=hint) from None


def child_years(written: str, field: str) -> float:
    """Age of a child [years].

    Parameters
    ----------
    written : str
        As it was written, for instance ``"18 months"``.
    field : str
        Where it was written.

    Returns
    -------
    float
        [years], below 18.

    Raises
    ------
    InputError
        If it is no age, or an adult's.
    """
    age = q.age_years(written, field)
    if age >= 18:
        raise q.refuse("error.age-of-an-adult", field, written, "")
    return age


def _unknown(field: str, written: str, known: Sequence[str], error: ValueError) -> q.InputError:
    near = re.search(r"did you mean '([^']+)'", str(error))
    hint = say("error.near", {"name": near[1]}) if near else ""
    return q.refuse("error.choice", field, written, ", ".join(known), hint=hint)
