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
class Told:
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
            What is said where the language has no word of its own.
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
        own = read_toml(self.catalogue)["card"]["caution"]
        if caution.code in own:
            return str(own[caution.code])
        return say(f"caution.{caution.code}", caution.values, self.catalogue)

    def first_in(self, inputs: RecipeInputs) -> tuple[str, ...]:
        """What goes in before the activator, a line for each."""
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
