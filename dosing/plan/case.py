"""The case: a recipe with its tub, its path of colours and its possible twins, worked out once."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from dosing.bath.assembled import Setting, assemble
from dosing.bath.inputs import RecipeInputs
from dosing.bath.possible_tubs import Possible, possible_tubs
from dosing.ingredients.water import check_one_water
from dosing.plan.cautions import GIVEN, LEVELS, bath_level, judged_bathers
from dosing.plan.path import Path, colour_path
from indicator.accepted import reason

OK, MIND, JUSTIFY = (LEVELS.index(name) for name in ("ok", "mind", "justify"))


@dataclass(frozen=True)
class Case:
    """Everything a plan looks at, worked out once."""

    inputs: RecipeInputs
    setting: Setting
    path: Path
    possible: Possible
    bathers: str
    accept_ph: str | None
    accept_pouring: str | None

    @property
    def accepted(self) -> int:
        """The caution level that pH may reach in a plan that counts as reached."""
        own = self.inputs.wish.purpose not in GIVEN
        return JUSTIFY if self.accept_ph and own else MIND

    @cached_property
    def path_level(self) -> NDArray[np.int_]:
        """Caution level of the tub as read along its path, by pH and acid reserve."""
        bath = self.setting.bath.with_activator(self.path.grams, self.setting.per_gram)
        return bath_level(self.path.ph, bath.acid_reserve_meq_l(), self.bathers)

    @property
    def limit_ph(self) -> float:
        """The last pH of the path at which the tub as read keeps the accepted level."""
        within = np.flatnonzero(self.path_level <= self.accepted)
        return float(self.path.ph[within[-1] if len(within) else 0])


def case_for(
    inputs: RecipeInputs,
    accept_ph: str | None,
    accept_pouring: str | None,
    through_ph: float | None = None,
) -> Case:
    """The case of a recipe; `through_ph` becomes a step of its path where the path passes it."""
    why_ph, why_pouring = reason("accept_ph", accept_ph), reason("accept_pouring", accept_pouring)
    check_one_water(inputs.water)
    setting = assemble(inputs)
    return Case(
        inputs=inputs,
        setting=setting,
        path=colour_path(setting.bath, setting.per_gram, setting.view, through_ph=through_ph),
        possible=possible_tubs(inputs),
        bathers=judged_bathers(inputs.wish.bathers),
        accept_ph=why_ph,
        accept_pouring=why_pouring,
    )
