"""The case: a recipe with its tub, its path of colours and its possible twins, worked out once."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from functools import cached_property, lru_cache, partial

import numpy as np
from numpy.typing import NDArray

from dosing.bath.assembled import Setting, assemble
from dosing.bath.inputs import RecipeInputs
from dosing.bath.mixed import Bath, colour_at
from dosing.bath.possible_tubs import READ_ROWS, Possible, possible_tubs
from dosing.bath.spreads import Spreads, reading_spreads
from dosing.ingredients.water import WaterReadings, check_one_water
from dosing.plan.allowed import Allowed
from dosing.plan.brewing import TintAmount, tint_amounts
from dosing.plan.cautions import GIVEN
from dosing.plan.curves import Curves
from dosing.plan.households import stated_homes
from dosing.plan.levels import LEVELS, bath_level, judged_bathers
from dosing.plan.look import METER, NOTHING
from dosing.plan.next_reading import better_readings
from dosing.plan.odds import obvious_share
from dosing.plan.path import Path, colour_path, path_through
from dosing.plan.records import ColourAmount, Ribbon, Sight
from dosing.plan.ribbon import ribbon_to
from dosing.plan.strength import to_be_seen
from indicator.accepted import of_kind, reason
from indicator.optics import bottle_view

OK, MIND, JUSTIFY = (LEVELS.index(name) for name in ("ok", "mind", "justify"))
CHANCES = 25
"""Doses, in equal steps of pH, at which the chance of an obvious change is worked out."""


@dataclass(frozen=True)
class Basis:
    """Tub, path and possible tubs that a plan stands on; worked out when first asked for."""

    inputs: RecipeInputs
    setting: Setting
    """The tub as read."""
    possible: Possible
    path: Path
    """In equal steps of pH."""

    @cached_property
    def curves(self) -> Curves:
        """The possible tubs along the dose."""
        return Curves.along(self.possible, self.path, self.setting)

    @cached_property
    def after(self) -> Callable[[float], Bath]:
        """The tub as read after a dose [g]; it is kept, so that nothing is solved twice."""
        return lru_cache(maxsize=8)(
            lambda grams: self.setting.bath.with_activator(grams, self.setting.per_gram)
        )

    @cached_property
    def path_level(self) -> NDArray[np.int_]:
        """Caution level of the tub as read along its path, by pH and acid reserve."""
        bath = self.setting.bath.with_activator(self.path.grams, self.setting.per_gram)
        return bath_level(self.path.ph, bath.acid_reserve_meq_l(), self.bathers)

    @property
    def bathers(self) -> str:
        """Whom the bath is judged for."""
        return judged_bathers(self.inputs.wish.bathers)

    @cached_property
    def allowed(self) -> Allowed:
        """Doses that may be poured, by caution level."""
        water = self.inputs.water
        unread = self.bathers == "child" and water.instrument != METER and not read_itself(water)
        instrument = NOTHING if unread else instrument_of(water)
        return Allowed(self.curves, self.path, self.path_level, self.bathers, instrument)

    @cached_property
    def chances(self) -> NDArray[np.float64]:
        """Share of the possible tubs whose change is obvious, at each step of the path, 0 to 1.

        By the curves, at `CHANCES` doses poured at once: to find a place. What is told is solved.
        """
        within = np.flatnonzero(self.allowed.steps(self.path, MIND))
        last = int(within[-1]) if len(within) else 0
        nodes = self.path.grams[np.linspace(0, last, min(CHANCES, last + 1)).round().astype(int)]
        ending_ph = self.curves.judged(nodes[:, None]).ph[:, :-READ_ROWS]
        return np.interp(self.path.grams, nodes, obvious_share(self.possible, ending_ph.T))

    @cached_property
    def ribbon(self) -> Callable[[float], Ribbon]:
        """The doses up to an end [g]; the latest ones are kept."""
        return lru_cache(maxsize=8)(partial(ribbon_to, self))

    @cached_property
    def bottle(self) -> Sight | None:
        """The product that carries the colour; None where nothing coloured stands in a bottle."""
        held = self.setting.bottle
        if held is None:
            return None
        view = bottle_view(light=self.inputs.wish.light)
        colour = colour_at(held.strengths, held.ph, view, held.surfactants_g_l)
        return Sight("bottle", held.ph, colour)

    @cached_property
    def to_be_seen(self) -> tuple[ColourAmount, ...]:
        """Colour that would tint the tub visibly."""
        return to_be_seen(self.inputs, self.setting)

    @cached_property
    def homes(self) -> Setting:
        """The stated homes that the same grams may be given to, a batch."""
        return stated_homes(self.inputs)

    @cached_property
    def tints(self) -> tuple[TintAmount, ...]:
        """Colour for each tint of this tub."""
        return tint_amounts(self.inputs, self.setting, self.possible)

    @cached_property
    def spreads(self) -> Spreads:
        """Errors of the readings."""
        return reading_spreads(self.inputs)

    @cached_property
    def surer(self) -> Mapping[str, Possible]:
        """The possible tubs by each reading that would be better."""
        unlearnt = self.inputs.as_read
        return {
            code: possible_tubs(unlearnt, spreads=spreads, read=self.setting)
            for code, spreads in better_readings(self.spreads).items()
        }


@dataclass(frozen=True)
class Case:
    """A recipe that wishes and doses are put to."""

    basis: Basis
    path: Path
    """That of the basis, perhaps with a step at a wished pH."""
    accept_ph: str | None = None
    accept_pouring: str | None = None

    @property
    def inputs(self) -> RecipeInputs:
        """The recipe in core units."""
        return self.basis.inputs

    @property
    def setting(self) -> Setting:
        """The tub as read."""
        return self.basis.setting

    @property
    def possible(self) -> Possible:
        """The tubs that agree with the readings."""
        return self.basis.possible

    @property
    def bathers(self) -> str:
        """Whom the bath is judged for."""
        return self.basis.bathers

    @property
    def accepted(self) -> int:
        """The caution level that pH may reach in a plan that counts as reached."""
        own = self.inputs.wish.purpose not in GIVEN
        return JUSTIFY if self.accept_ph and own else MIND

    @property
    def limit_ph(self) -> float:
        """The last pH of the path at which the tub as read keeps the accepted level."""
        within = np.flatnonzero(self.basis.path_level <= self.accepted)
        return float(self.basis.path.ph[within[-1] if len(within) else 0])

    def for_bathers(self, bathers: str) -> Case:
        """Case of the same tub with others in it; what is worked out of the tub is shared.

        Parameters
        ----------
        bathers : str
            As in a recipe's wish; of no known age.

        Returns
        -------
        Case
        """
        wish = replace(self.inputs.wish, bathers=bathers, child_age_years=None)
        basis = replace(self.basis, inputs=replace(self.inputs, wish=wish))
        vars(basis)["curves"] = self.basis.curves
        return replace(self, basis=basis)

    def asked(
        self, through_ph: float | None, accept_ph: str | None, accept_pouring: str | None
    ) -> Case:
        """Case with a step of its path at a pH, and with what its maker accepts.

        Parameters
        ----------
        through_ph : float or None
            The wished pH; left out where the path does not pass it.
        accept_ph, accept_pouring : str or None
            Written reasons, as `dosing.plan.answer.make_plan` takes them.

        Returns
        -------
        Case
            It shares all that is worked out with this one.
        """
        return Case(
            self.basis,
            path_through(self.basis.path, through_ph, self.setting),
            reason("accept_ph", accept_ph),
            reason("accept_pouring", accept_pouring),
        )


def case(inputs: RecipeInputs) -> Case:
    """Work a recipe out once, to ask it many times by `dosing.plan.answer.answer`.

    Raises
    ------
    TypeError, ValueError
        If a name in the recipe is unknown, or the water is not one known water.
    """
    of_kind("inputs", inputs, RecipeInputs)
    return _recent(_Same(inputs))


def instrument_of(water: WaterReadings) -> str:
    """Instrument that the maker has at hand: the water was read with it, as far as it was read."""
    return water.instrument or ("strip" if read_itself(water) else "none")


def read_itself(water: WaterReadings) -> bool:
    """Whether the alkalinity was read, and not only the hardness or a name for the water."""
    known = water.alkalinity_meq_l is not None or water.carbonate_hardness_meq_l is not None
    return known and not water.typical


class _Same:
    """Inputs that are looked up as the very same object: comparing numbers would take longer."""

    def __init__(self, inputs: RecipeInputs) -> None:
        self.inputs = inputs

    def __hash__(self) -> int:
        return id(self.inputs)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, _Same) and self.inputs is other.inputs


@lru_cache(maxsize=4)
def _recent(same: _Same) -> Case:
    inputs = same.inputs
    check_one_water(inputs.water)
    setting = assemble(inputs)
    path = colour_path(setting.bath, setting.per_gram, setting.view)
    possible = possible_tubs(inputs, read=setting)
    return Case(Basis(inputs, setting, possible, path), path)
