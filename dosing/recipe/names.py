"""Names that people write in a recipe: powders, colours, lights and targets, read into ours."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Literal

from dosing.ingredients.trade_values import typical
from dosing.recipe import quantities as q
from dosing.recipe.answers import plain
from indicator.notes import say
from indicator.pigments import Colourant, Pigments
from indicator.srgb import lab_from_hex
from indicator.tables import DataError

LEAST_CONTRAST = 3.0
"""Of an accent against white paper."""
_HEX = re.compile("#[0-9A-Fa-f]{6}")
_ADDRESS = re.compile(r"(?:https?://|mailto:)[^\s\"'<>`\\{}]{3,}", re.ASCII)
_DAY = re.compile(r"\d{4}-\d\d-\d\d")
_LARGEST_PART = 1e6
_PART = re.compile(r"(\d+(?:[.,]\d+)?)\s*(%|percent|per cent|parts?|g)?")


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


@dataclass(frozen=True)
class PowderParts:
    """Powders of a blend and their parts by mass."""

    by_powder: dict[str, float]
    """Key of each powder to its part by mass."""
    spread: float = 0.0
    """Largest relative standard deviation of a powder's share; 0 unless spoons measured it."""


def parts_by_powder(written: Mapping[str, float | str], field: str) -> PowderParts:
    """Parts by mass of each powder, under our names for the powders.

    Parameters
    ----------
    written : mapping of str to float or str
        Name of a powder to its part: a number, or text such as ``"2 parts"``, ``"60 %"``, or
        ``"2 tsp"`` for all of them.
    field : str
        Where it was written.

    Returns
    -------
    PowderParts

    Raises
    ------
    InputError
        If a powder is not known, a part is no such number, or there is nothing of any powder.
    """
    from dosing.ingredients.powders import powder, powder_names

    parts: dict[str, float] = {}
    spreads: dict[str, float] = {}
    counted = ""
    for name, part in written.items():
        try:
            key = powder(re.sub(r"[\s_]+", "-", name.strip().casefold())).name
        except ValueError as error:
            raise _unknown(field, name, powder_names(), error) from None
        match = _PART.fullmatch(str(part).strip().casefold())
        if isinstance(part, float) or match is not None:
            number = float(match[1].replace(",", ".")) if match else part
            counted = counted or ("" if match and match[2] == "g" else name)
        else:
            mass = q.powder_mass(part, {key: 1.0}, f"{field}.{name}", "part")
            number, spreads[key] = mass.value, mass.spread
        if not 0 <= float(number) <= _LARGEST_PART:
            raise q.refuse("error.part", f"{field}.{name}", part, f"0 to {_LARGEST_PART:.0f}")
        parts[key] = parts.get(key, 0.0) + float(number)
    if not sum(parts.values()) > 0:
        raise q.refuse("error.no-powder", field, dict(written), "")
    if any(spreads.values()) and counted:
        raise q.refuse("error.parts-and-spoons", f"{field}.{counted}", written[counted], "")
    return PowderParts(parts, _share_spread(parts, spreads))


def _share_spread(parts: Mapping[str, float], spreads: Mapping[str, float]) -> float:
    """Largest relative standard deviation of a share, where each mass is off by its own."""
    total = sum(parts.values())
    off = {name: spreads.get(name, 0.0) * part / total for name, part in parts.items()}
    return max(
        math.hypot(
            spreads.get(name, 0.0) * (1.0 - part / total),
            *(other for key, other in off.items() if key != name),
        )
        for name, part in parts.items()
    )


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
    from indicator.appearance import light_name

    try:
        return light_name(written)
    except ValueError as error:
        accepted = str(error).partition("; accepted are ")[2].removesuffix(".")
        raise q.refuse("error.choice", field, written, accepted, hint="") from None


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
    said = plain(written, field)
    age = q.age_years(f"{said} years" if said.isdigit() else said, field)
    if age >= typical("grown_up_years").value:
        raise q.refuse("error.age-of-an-adult", field, written, "")
    return age


def _unknown(field: str, written: str, known: Sequence[str], error: ValueError) -> q.InputError:
    near = re.search(r"did you mean '([^']+)'", str(error))
    hint = say("error.near", {"name": near[1]}) if near else ""
    return q.refuse("error.name", field, written, ", ".join(known), hint=hint)


def accent_hex(written: str, field: str) -> str:
    """A colour ``#rrggbb`` that stands out from white paper.

    Parameters
    ----------
    written : str
        As it stands in the recipe.
    field : str
        Where it was written.

    Returns
    -------
    str
        In small letters.

    Raises
    ------
    InputError
        If it is none, or paler than WCAG 2.2 has it of what is no text (criterion 1.4.11).
    """
    if not _HEX.fullmatch(written.strip()):
        raise q.refuse("error.unreadable", field, written, '"#1f6f78"')
    luminance = ((float(lab_from_hex(written.strip())[0]) + 16.0) / 116.0) ** 3
    if 1.05 / (luminance + 0.05) < LEAST_CONTRAST:
        raise q.refuse("error.pale", field, written, '"#1f6f78"')
    return written.strip().lower()


def web_address(written: str, field: str) -> str:
    """Address of a page, or to write to.

    Parameters
    ----------
    written : str
        As it stands in the recipe.
    field : str
        Where it was written.

    Returns
    -------
    str

    Raises
    ------
    InputError
        If it begins with none of https://, http:// and mailto:, or has blanks or quotes in it.
    """
    if not _ADDRESS.fullmatch(written) or not written.isprintable():
        raise q.refuse("error.unreadable", field, written, '"https://..." or "mailto:..."')
    return written


def plain_line(written: str, field: str) -> str:
    """A lot or an edition, which a card is asked for letter by letter.

    Parameters
    ----------
    written : str
        As it stands in the recipe.
    field : str
        Where it was written.

    Returns
    -------
    str
        Without spaces around it.

    Raises
    ------
    InputError
        If it holds a line break or a sign that shows nothing or turns the text.
    """
    line = written.strip()
    if not line.isprintable():
        raise q.refuse("error.hidden-signs", field, written, 'one plain line such as "A17"')
    return line


def calendar_day(written: date | str, field: str, example: str = '"2027-05-31"') -> str:
    """A day, as ``YYYY-MM-DD``.

    Parameters
    ----------
    written : date or str
        As it stands in the recipe.
    field : str
        Where it was written.
    example : str
        Of a day, for who wrote none.

    Returns
    -------
    str

    Raises
    ------
    InputError
        If it is no day.
    """
    text = str(written).strip()
    try:
        return date.fromisoformat(text).isoformat()
    except ValueError:
        code = "error.no-such-day" if _DAY.fullmatch(text) else "error.unreadable"
        raise q.refuse(code, field, text, example) from None


def check_to_come(day: str, field: str) -> None:
    """Refuse a last day of use that has passed.

    Parameters
    ----------
    day : str
        ``YYYY-MM-DD``.
    field : str
        Where it was written.

    Raises
    ------
    InputError
        If it is before today.
    """
    today = date.today().isoformat()
    if day < today:
        raise q.refuse("error.past", field, day, f"{today} or a later day")
