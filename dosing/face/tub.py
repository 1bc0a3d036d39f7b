"""A tub that answers: from a recipe to plans, with other readings in a word or two."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from io import BytesIO
from os import PathLike
from pathlib import Path
from typing import Any

from dosing.bath.inputs import RecipeInputs
from dosing.plan.answer import make_plan, preview
from dosing.plan.records import Plan
from dosing.recipe import demo_tables, load_tables, measured_dose, recipe_from
from dosing.recipe.models import keys_of
from dosing.words.documents import document
from dosing.words.marks import plain
from dosing.words.templates import render
from indicator.notes import say
from indicator.pigments import Pigments


@dataclass(frozen=True)
class Tub:
    """A recipe that can be asked.

    Examples
    --------
    >>> soak = Tub.demo()
    >>> soak.with_(volume="200 L", alkalinity="240 ppm").inputs.tub.volume_l
    200.0
    >>> round(soak.plan(target=5.8).plan.after.ph, 1)
    5.8
    """

    tables: Mapping[str, Any]
    """The recipe as a file would have it: tables of text with units."""
    name: str = "My bath"
    """What to call it in messages, and its title if it has none."""
    pigments: Pigments | None = None
    """What its maker can name; the shipped ones and those of the usual own folder if not given."""

    @classmethod
    def demo(cls, which: int | str = 1) -> Tub:
        """An embedded demo (its numbers are invented); raises InputError if there is none such."""
        return cls(demo_tables(which), "demo")

    @classmethod
    def load(cls, path: str | PathLike[str], pigments: Pigments | None = None) -> Tub:
        """The recipe in a file.

        Parameters
        ----------
        path : str or PathLike
            A TOML file.
        pigments : Pigments, optional
            What its maker can name, of `indicator.pigments.own_pigments`.

        Returns
        -------
        Tub

        Raises
        ------
        InputError
            If it cannot be used.
        """
        tub = cls(load_tables(Path(path)), str(path), pigments)
        return tub.with_()

    def with_(self, **readings: Any) -> Tub:
        """Tub with other readings.

        Parameters
        ----------
        **readings
            Keys of the recipe with what it would have, such as ``volume="200 L"``. What stands in
            two tables is given with its own: ``water={"ph": 7.2}``. None takes a reading away.

        Returns
        -------
        Tub
            Already checked.

        Raises
        ------
        ValueError
            If a key is unknown or stands in two tables, or a value cannot be used; one sentence.
        """
        tables = {
            key: dict(of) if isinstance(of, Mapping) else of for key, of in self.tables.items()
        }
        for key, value in readings.items():
            if key in keys_of("recipe"):
                old = tables.get(key)
                if isinstance(value, Mapping) and isinstance(old, Mapping):
                    value = {**old, **value}
                _set(tables, key, value)
            else:
                _set(tables.setdefault(_table_of(key), {}), key, value)
        changed = Tub(tables, self.name, self.pigments)
        _ = changed.inputs
        return changed

    @cached_property
    def inputs(self) -> RecipeInputs:
        """The recipe in plain numbers, as the functions of `dosing.plan` take it."""
        return recipe_from(self.tables, self.name, self.pigments)

    def plan(self, target: object = None, **reasons: str | None) -> Answer:
        """The dose for a wish.

        Parameters
        ----------
        target : float or str, optional
            A pH, a colour word or a hex colour; the recipe's own wish if not given.
        **reasons
            ``accept_ph``, ``accept_pouring``: as `dosing.make_plan` takes them.

        Returns
        -------
        Answer
            With the plan in it, whether or not the wish can be met.
        """
        wish = None if target is None else str(target)
        return Answer(make_plan(self.inputs, target=wish, **reasons))

    def pour(self, dose: str | float, **reasons: str | None) -> Answer:
        """Plan of a given dose.

        Parameters
        ----------
        dose : str or float
            With its unit, such as ``"12 g"`` or ``"2 tsp"``, or in grams.
        **reasons
            As in `plan`.

        Returns
        -------
        Answer
            With the preview in it.
        """
        if not isinstance(dose, str):
            return Answer(preview(self.inputs, dose, **reasons))
        inputs, grams = measured_dose(self.inputs, dose)
        return Answer(preview(inputs, grams, **reasons))

    def __repr__(self) -> str:
        """Its title and water."""
        title = self.tables.get("title", self.name)
        return f"Tub({title!r}, {self.inputs.tub.volume_l or '?'} L)"


@dataclass(frozen=True, repr=False)
class Answer:
    """A plan or a preview, to be read, drawn or worked with."""

    plan: Plan

    def __repr__(self) -> str:
        """The answer in a dozen lines."""
        return plain(
            render("plan", plan=self.plan, instead=(), more=False, cautions=False, bare=True)
        )

    def text(self) -> str:
        """Everything that ``huedose plan`` says."""
        return plain(
            render("plan", plan=self.plan, instead=(), more=True, cautions=True, bare=True)
        )

    def to_dict(self) -> dict[str, Any]:
        """Document of ``huedose plan --json``, as a dict."""
        return document(self.plan)

    def to_frame(self) -> Any:
        """The ribbon as a `pandas.DataFrame`, a row per dose; needs pandas."""
        import pandas

        return pandas.DataFrame(self.to_dict()["ribbon"])

    def _repr_png_(self) -> bytes:
        """The plan's picture, for a notebook."""
        from dosing.pictures.shop import draw_shop, shown_plan

        held = BytesIO()
        draw_shop(shown_plan(self.plan)).savefig(held, format="png", dpi=50)
        return held.getvalue()


def _set(table: dict[str, Any], key: str, value: object) -> None:
    if value is None:
        table.pop(key, None)
    else:
        table[key] = value


def _table_of(key: str) -> str:
    """The one table of a recipe that has a key."""
    tables = [name for name in keys_of("recipe") if key in keys_of(name)]
    if len(tables) == 1:
        return tables[0]
    if tables:
        values = {"key": key, "tables": " and ".join(tables), "table": tables[0]}
        raise ValueError(say("face.two-tables", values))
    # The recipe itself refuses it, and names what is nearest.
    return "tub"
