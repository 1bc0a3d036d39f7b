"""Words of a card in its language: from the one catalogue of that language."""

from __future__ import annotations

from dataclasses import dataclass

from dosing.bath.inputs import ColourInputs, RecipeInputs
from dosing.ingredients.powders import powder
from dosing.plan.cautions import Caution
from dosing.words.filters import two_figures
from indicator.notes import Value, say
from indicator.tables import read_toml

LANGUAGES = ("en", "de")


@dataclass(frozen=True)
class CardWords:
    """The catalogue of a language; English stands in for names that only the data have."""

    language: str

    @property
    def catalogue(self) -> str:
        """File of the language."""
        return f"text/{self.language}.toml"

    def say(self, code: str, **values: Value) -> str:
        """A sentence of the table ``[card]``.

        Parameters
        ----------
        code : str
            Below ``card.``.
        **values
            What it quotes.

        Returns
        -------
        str
        """
        return say(f"card.{code}", values, self.catalogue)

    def named(self, kind: str, key: str, otherwise: str) -> str:
        """Name of a thing, or what the data call it.

        Parameters
        ----------
        kind : str
            Table below ``card``.
        key : str
            Of the thing.
        otherwise : str
            Word that stands in where the language has none of its own.

        Returns
        -------
        str
        """
        names = read_toml(self.catalogue)["card"].get(kind, {})
        return str(names.get(key, otherwise))

    def powder(self, name: str) -> str:
        """Name of a powder."""
        return self.named("powder", name, powder(name).label)

    def phrase(self, english: str) -> str:
        """A colour word with pale, deep or nothing before it."""
        words = (self.named("colour-word", word, word) for word in english.split(" "))
        return " ".join(words)

    def caution(self, caution: Caution) -> str:
        """Sentence of a caution: the card's own, which quotes no numbers, or the plan's."""
        if caution.code in read_toml(self.catalogue)["card"]["caution"]:
            return self.say(f"caution.{caution.code}", **caution.values)
        return caution.message

    def first_in(self, inputs: RecipeInputs) -> tuple[str, ...]:
        """Lines on the colours and foam bath that go in before the activator."""
        lines = [self._colour(colour) for colour in inputs.colours]
        if inputs.foam_bath is not None:
            lines.append(self.say("first.foam", amount=two_figures(inputs.foam_bath.amount_ml)))
        return tuple(lines)

    def _colour(self, colour: ColourInputs) -> str:
        which = colour.colourant
        kind = "liquid" if colour.amount_unit == "mL" else colour.amount_unit
        code = f"first.{which.kind}-{kind}" if kind == "liquid" else f"first.{kind}"
        name = self.named("colourant", which.name, which.label)
        return self.say(code, amount=two_figures(colour.amount), colour=name)
