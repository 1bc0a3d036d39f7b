"""Own waters: homes as their pours taught them, kept as ``waters/NAME.toml``, named by `like`."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from difflib import get_close_matches
from pathlib import Path
from typing import Any

import numpy as np

from dosing.bath.assembled import Truth
from dosing.bath.learnt_home import LearntHome
from dosing.bath.possible_tubs import QUANTITIES
from dosing.ingredients.water import typical_water_names
from dosing.recipe.files import text_of
from dosing.recipe.quantities import InputError, refuse
from indicator.notes import say
from indicator.own import own_folder
from indicator.tables import value_of

LARGEST_BYTES = 100_000
KEYS = ("home", "on", "pours", "metered")
"""That stand at the top of its file; whether a maximum may rise follows from them."""
TUB_KEYS = ("volume", "length", "width", "fill", "volume_measured", "bathers_in_tub")
"""Of a recipe's tub: what its volume hangs on."""


@dataclass(frozen=True)
class OwnWater:
    """A saved water: its reading and its tub as the recipe had them, and what was learnt."""

    water: Mapping[str, Any]
    """Table of the recipe, as it was written."""
    tub: Mapping[str, Any]
    """What the volume hangs on, as it was written."""
    learnt: LearntHome

    def why_not(self, water: Mapping[str, Any], tub: Mapping[str, Any], today: date) -> str | None:
        """Why a recipe cannot use what was learnt: ``fresh``, ``tub`` or ``old``; None if it can.

        Parameters
        ----------
        water, tub : mapping
            Tables of the recipe, as they are written.
        today : date
            When it is read.

        Returns
        -------
        str or None
        """
        if set(water) - {"like", "temperature"}:
            # A reading taken since goes before what was learnt.
            return "fresh"
        if self.tub != of_volume(tub):
            return "tub"
        return "old" if today > date.fromisoformat(self.learnt.on) + learnt_for() else None


def of_volume(tub: Mapping[str, Any]) -> dict[str, Any]:
    """Keys of a recipe's tub that its volume hangs on, as they are written."""
    return {key: tub[key] for key in TUB_KEYS if key in tub}


def learnt_for() -> timedelta:
    """Time for which a learnt water may be used."""
    return timedelta(days=value_of("trade/learning.csv", "learnt_for"))


def water_folder(chosen: Path | None = None) -> Path:
    """Where own waters stand, in the maker's own folder; it need not exist."""
    return own_folder(chosen) / "waters"


def own_water_names(folder: Path | None = None) -> tuple[str, ...]:
    """Names of the waters in the maker's own folder."""
    try:
        return tuple(sorted(path.stem for path in water_folder(folder).glob("*.toml")))
    except OSError:
        return ()


def own_water(name: str, folder: Path | None = None) -> OwnWater:
    """Own water of a name.

    Parameters
    ----------
    name : str
        As in ``[water] like``.
    folder : Path, optional
        The maker's own folder; the usual one if not given.

    Returns
    -------
    OwnWater

    Raises
    ------
    InputError
        If there is none of that name, or its file cannot be used.
    """
    known = {each.casefold(): each for each in own_water_names(folder)}
    if name.strip().casefold() not in known:
        shipped = tuple(each.replace("-", " ") for each in typical_water_names())
        accepted = ", ".join((*shipped, *known.values()))
        near = get_close_matches(name.casefold(), (*shipped, *known), n=1)
        hint = say("error.near", {"name": near[0]}) if near else ""
        raise refuse("error.choice", "water.like", name, accepted, hint=hint)
    path = water_folder(folder) / f"{known[name.strip().casefold()]}.toml"
    return water_from(text_of(path, "water.like", LARGEST_BYTES, rewritten=True), path)


def water_from(text: str, path: Path) -> OwnWater:
    """Own water in the text of its file.

    Parameters
    ----------
    text : str
        TOML, as `dosing.workshop.learning.write_water` writes it.
    path : Path
        Its file, whose stem is the water's name.

    Returns
    -------
    OwnWater

    Raises
    ------
    InputError
        If it is no such file.
    """
    try:
        saved = tomllib.loads(text)
        if set(saved) != {*KEYS, "water", "tub", "learnt"}:
            raise KeyError(*saved)
        told = saved["learnt"]
        learnt = LearntHome(
            name=path.stem,
            place=str(saved["home"]),
            on=date.fromisoformat(str(saved["on"])).isoformat(),
            pours=int(saved["pours"]),
            metered=_metered(saved),
            middle={str(key): float(value) for key, value in told["middle"].items()},
            quantities=tuple(map(str, told["quantities"])),
            scores=tuple(map(float, told["scores"])),
            covariance=tuple(tuple(map(float, row)) for row in told["covariance"]),
        )
        # Tubs can be drawn by it, and the middle one filled.
        learnt.moved(np.zeros((1, len(QUANTITIES))), QUANTITIES)
        Truth(**learnt.middle)
        return OwnWater(dict(saved["water"]), dict(saved["tub"]), learnt)
    except (KeyError, TypeError, ValueError, AttributeError) as error:
        raise InputError(
            str(refuse("error.own-water", "water.like", path, "")), "water.like", path
        ) from error


def _metered(saved: Mapping[str, Any]) -> tuple[str, ...]:
    """Days with a metered pH: never more of them than pours, and none after the last pour."""
    last = date.fromisoformat(saved["on"])
    days = {date.fromisoformat(day) for day in saved["metered"]}
    if len(days) > saved["pours"] or any(not _used_still(day, last) for day in days):
        raise ValueError("metered")
    return tuple(sorted(day.isoformat() for day in days))


def _used_still(day: date, last: date) -> bool:
    return day <= last <= day + learnt_for()
