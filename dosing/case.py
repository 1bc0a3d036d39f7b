"""The case: a recipe with its tub, its path of colours and its possible twins, worked out once."""

from __future__ import annotations

from dataclasses import dataclass

from dosing.assembly import Setting, assemble
from dosing.cautions import LEVELS, judged_bathers
from dosing.inputs import RecipeInputs
from dosing.planner import Path, colour_path
from dosing.uncertainty import Possible, possible_tubs

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
        return JUSTIFY if self.accept_ph else MIND


def case_for(
    inputs: RecipeInputs,
    accept_ph: str | None,
    accept_pouring: str | None,
    through_ph: float | None = None,
) -> Case:
    """The case of a recipe; `through_ph` becomes a step of its path where the path passes it."""
    setting = assemble(inputs)
    return Case(
        inputs=inputs,
        setting=setting,
        path=colour_path(setting.bath, setting.per_gram, setting.view, through_ph=through_ph),
        possible=possible_tubs(inputs),
        bathers=judged_bathers(inputs.wish.bathers),
        accept_ph=accept_ph,
        accept_pouring=accept_pouring,
    )
