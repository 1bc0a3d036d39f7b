"""Cautions: what may go wrong on skin, near eyes and in a shop, each with its level and source.

What they look at, what they say, and what follows from them; when each applies, `dosing.plan.rules`
knows.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from functools import cache

from dosing.bath.inputs import RecipeInputs
from dosing.bath.jugs import Jugs
from dosing.ingredients.powders import Powder, powder
from dosing.ingredients.water import Contradiction, contradicted
from dosing.plan.levels import LEVELS, judged_bathers
from indicator.accepted import reason
from indicator.notes import Note, Value, say
from indicator.tables import DataError, Sourced, citation, read_table

GIVEN = ("gift", "sale")
"""Purposes in which somebody else pours."""


@dataclass(frozen=True)
class Caution:
    """One caution of a plan."""

    level: str
    """One of `LEVELS`."""
    code: str
    """Key of the sentence in the catalogue's table ``[caution]``."""
    source: str
    """Where the rule was published, in words."""
    confidence: str
    """How far the source was seen."""
    values: Mapping[str, Value] = field(default_factory=dict)
    """What the sentence quotes."""
    about: str = "pour"
    """``pour`` (what happens in the tub), ``give`` (somebody else has it) or ``sell``."""
    special: bool = True
    """Whether it is of this plan, and not of every bath."""

    @property
    def message(self) -> str:
        """The sentence a person reads."""
        return say(f"caution.{self.code}", self.values)


@dataclass(frozen=True)
class Moment:
    """A moment of the bath, with the pH of the possible tubs."""

    name: str
    """``before``, ``first-pour``, ``after`` or ``after-airing``."""
    ph_acid_side: float
    ph_alkaline_side: float
    reserve_meq_l: float
    """Acid reserve on its high side: strong base to pH 7, closed to air [meq/L]."""


@dataclass(frozen=True)
class Situation:
    """Everything that cautions depend on: a recipe, and what became of it."""

    inputs: RecipeInputs
    moments: tuple[Moment, ...]
    """The pH of the possible tubs, moment by moment."""
    accept_ph: str | None = None
    """Why a pH that needs a written reason is accepted."""
    accept_pouring: str | None = None
    """Why dry powder is tipped in beside an adult."""
    whose_tap: bool = True
    """Whether the tub is filled from the tap that the recipe has the readings of."""
    elsewhere: tuple[Caution, ...] = ()
    """What stated homes say of giving the same grams away."""
    jugs: tuple[Jugs, ...] = ()
    """What is dissolved before it is poured, the strongest portion of each powder."""
    chalk: bool = False
    """Whether chalk may fall out of the bath."""
    also_poured: tuple[str, ...] = ()
    """Keys of powders that are poured from a pack of their own."""
    most_g: float = 0.0
    """All that may be poured at once, where that is more than what the moments are of [g]."""
    at_most: tuple[float, ...] = ()
    """Ends of the pH with that in the tub; none where there is no more."""

    def __post_init__(self) -> None:
        reason("accept_ph", self.accept_ph)
        reason("accept_pouring", self.accept_pouring)

    @property
    def bathers(self) -> str:
        """Whom it is judged for."""
        return judged_bathers(self.inputs.wish.bathers)

    @property
    def purpose(self) -> str:
        """Purpose of the recipe."""
        return self.inputs.wish.purpose

    @property
    def contradiction(self) -> Contradiction | None:
        """Readings of the tap water of which one must be wrong."""
        return contradicted(self.inputs.water) if self.whose_tap else None

    @property
    def powders(self) -> list[Powder]:
        """Powders of the activator."""
        return [powder(name) for name in self.inputs.activator.parts]

    def meant_for(self, purpose: str) -> Situation:
        """Situation of this bath made for another purpose."""
        wish = replace(self.inputs.wish, purpose=purpose)
        return replace(self, inputs=replace(self.inputs, wish=wish))


@dataclass(frozen=True)
class Verdict:
    """Whether a bath may be poured, given or sold."""

    level: str
    """The heaviest of its cautions, one of `LEVELS`."""
    allowed: bool
    """Whether none of them is a stop, nor needs a reason that nobody wrote down."""
    because: str
    """Code of that heaviest caution."""


@dataclass(frozen=True)
class Verdicts:
    """Three questions that are never one."""

    pour: Verdict
    """Into this tub, for those who bathe in it."""
    give: Verdict
    """To somebody else, into other homes."""
    sell: Verdict
    """On the market of the recipe."""

    def of(self, purpose: str) -> Verdict:
        """The verdict that a purpose depends on."""
        return {"gift": self.give, "sale": self.sell}.get(purpose, self.pour)


@dataclass(frozen=True)
class _CautionRow:
    code: str
    level: str
    about: str
    special: bool
    source: str
    confidence: str


def bather_assumptions(bathers: str | None, child_age_years: float | None) -> tuple[Note, ...]:
    """Notes on what had to be assumed about who bathes.

    Parameters
    ----------
    bathers : str or None
        One of `BATHERS`; None if nobody said.
    child_age_years : float or None
        Age of the youngest child [years].

    Returns
    -------
    tuple of Note
        Empty where both are known.
    """
    if bathers is None:
        return (Note("assume.cautions.bathers", {}, "wish.bathers"),)
    if bathers == "child" and child_age_years is None:
        return (Note("assume.cautions.child-age", {}, "wish.child_age"),)
    return ()


def heaviest_first(cautions: Iterable[Caution]) -> tuple[Caution, ...]:
    """Cautions in the order of their levels, ``stop`` first."""
    return tuple(sorted(cautions, key=lambda caution: -LEVELS.index(caution.level)))


def exit_code(cautions: tuple[Caution, ...]) -> int:
    """0 where nothing forbids the plan; 3 for a stop, or a reason that was not written down."""
    for caution in cautions:
        if caution.level == "stop":
            return 3
        if caution.level == "justify" and not caution.values.get("reason"):
            return 3
    return 0


def pour_forbidden(cautions: tuple[Caution, ...]) -> bool:
    """Whether what happens in the tub forbids it, whatever may be given or sold."""
    return exit_code(tuple(caution for caution in cautions if caution.about == "pour")) != 0


def not_for_bathing(situation: Situation) -> bool:
    """Whether every picture and paper must say that this is not for bathing."""
    return situation.bathers == "nobody"


def caution_of(
    code: str,
    values: Mapping[str, Value] | None = None,
    *,
    text: str | None = None,
    rests_on: Sourced | None = None,
) -> Caution:
    """A caution of the table.

    Parameters
    ----------
    code : str
        Key of a row of ``data/trade/cautions.csv``.
    values : mapping, optional
        What its sentence quotes.
    text : str, optional
        Key of another sentence of the same caution.
    rests_on : Sourced, optional
        Row whose source and confidence count, in place of the caution's own.

    Returns
    -------
    Caution
        With the level of its row.

    Raises
    ------
    DataError
        If there is no such row.
    """
    row = _rows().get(code)
    if row is None:
        raise DataError(f"data/trade/cautions.csv has no row {code!r}")
    return Caution(
        level=row.level,
        code=text or code,
        source=citation((rests_on or row).source),
        confidence=(rests_on or row).confidence,
        values=dict(values or {}),
        about=row.about,
        special=row.special,
    )


@cache
def _rows() -> dict[str, _CautionRow]:
    return {row.code: row for row in read_table("trade/cautions.csv", _CautionRow)}
