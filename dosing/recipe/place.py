"""A table of the recipe as it is written: where refusals and assumptions point."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from dosing.recipe.quantities import InputError, refuse
from indicator.notes import Note, Value


@dataclass(frozen=True)
class Place:
    """One table of a recipe."""

    name: str
    """For instance ``"water"`` or ``"colour[2]"``."""
    written: Mapping[str, Any]
    """Its keys and values as they are written."""
    notes: list[Note]
    """What reading the recipe assumed; it grows."""

    def refuse(self, code: str, key: str, accepted: str = "", **values: Value) -> InputError:
        """Error about what a key says, to be raised.

        Parameters
        ----------
        code : str
            Sentence of the catalogue.
        key : str
            Of this table.
        accepted : str
            What is accepted, in words.
        **values : str, float or int
            What the sentence quotes besides.

        Returns
        -------
        InputError
        """
        return refuse(code, self.at(key), self.written.get(key), accepted, **values)

    def assume(self, code: str, key: str, **values: Value) -> None:
        """Note what is assumed about a key.

        Parameters
        ----------
        code : str
            Sentence of the catalogue.
        key : str
            Of this table.
        **values : str, float or int
            What the sentence quotes.
        """
        self.notes.append(Note(code, values, self.at(key)))

    def at(self, key: str) -> str:
        """Where a key stands; the table itself for an empty one."""
        return f"{self.name}.{key}" if key else self.name
