"""Assumptions, and doubts about readings, that are noted while they are worked out."""

from __future__ import annotations

from dataclasses import dataclass, field

from indicator.notes import Note, Value


@dataclass(frozen=True)
class Told:
    """Notes gathered on the way."""

    assumptions: list[Note] = field(default_factory=list)
    warnings: list[Note] = field(default_factory=list)

    def add(self, code: str, about: str, **values: Value) -> None:
        """Note something.

        Parameters
        ----------
        code : str
            ``assume.…`` for an assumption, ``warn.…`` for a warning.
        about : str
            Recipe field, as in `indicator.notes.Note`.
        **values : str, float or int
            What the sentence quotes.
        """
        notes = self.assumptions if code.startswith("assume.") else self.warnings
        notes.append(Note(code, values, about))
