"""A programme in sentences: what terminal and paper say in the same words."""

from __future__ import annotations

import numpy as np

from dosing import wording
from dosing.cautions import LEVELS, rounded_outwards
from dosing.powders import kitchen_round_g, powder
from dosing.programme.stages import Programme, Stage
from dosing.programme.steps import BACK
from indicator.appearance import SeenColour
from indicator.notes import Value, say, sentence
from indicator.words import parse_target

LEAST_GAS_L = 0.1
"""Less gas than this is not told [L]."""


def heading(stage: Stage, number: int) -> str:
    """The name of a step."""
    wished = parse_target(stage.name).ph if not is_back(stage) else None
    name = stage.name if wished is None else say("figure.ph", {"ph": wished})
    return say("programme.step", {"number": number, "name": name})


def steps(programme: Programme, number: int) -> list[str]:
    """What to do at a step, what is seen, and what follows.

    Parameters
    ----------
    programme : Programme
        All of it.
    number : int
        Which step, from 1.
    """
    stage = programme.stages[number - 1]
    found = []
    if not stage.wish_met:
        found.append(say("programme.not-met", {"wish": stage.name}))
        found += [sentence(note) for note in stage.needed]
    found += _pour(programme, stage)
    seen: dict[str, Value] = {"ph": stage.ph, "name": name_of(stage.colour)}
    found.append(say("programme.see", seen))
    if abs(stage.ph_airing - stage.ph) > wording.LEAST_DRIFT_PH:
        later: dict[str, Value] = {"ph": stage.ph_airing, "name": name_of(stage.colour_airing)}
        found.append(say("programme.later-back" if is_back(stage) else "programme.later", later))
    found.append(_sides(stage))
    if stage.grams > 0:
        found.append(say("programme.change", {"change": stage.change_delta_e}))
    if stage.grams > 0 and stage.total_g > stage.grams * 1.001:
        total: dict[str, Value] = {"total": wording.grams(stage.total_g), "powder": _powder(stage)}
        found.append(say("programme.total", total))
    if stage.co2_litres >= LEAST_GAS_L:
        found.append(say("programme.gas", {"litres": _gas(stage.co2_litres)}))
    return found


def _pour(programme: Programme, stage: Stage) -> list[str]:
    if stage.grams <= 0:
        return [say("programme.nothing")] if stage.wish_met else []
    if LEVELS.index(stage.level) >= LEVELS.index("justify") and not stage.reached:
        return [say("programme.forbidden", {"level": wording.level(stage.level)})]
    remarks = [powder(name).remark for name, _ in stage.powder]
    slow = any(one is not None and one.code.endswith("slow-to-dissolve") for one in remarks)
    values: dict[str, Value] = {
        "grams": wording.grams(stage.grams),
        "powder": _powder(stage),
        "spoons": wording.spoons(stage.spoons.teaspoons),
        "stir": say("plan.stir-slow" if slow else "plan.stir"),
    }
    onwards = "pour-show" if programme.not_for_bathing else "pour"
    found = [say(f"programme.{onwards if stage.onwards else 'pour-back'}", values)]
    if stage.fizzes:
        found.append(say("programme.fizz"))
    if len(stage.portions_g) > 1:
        portions: dict[str, Value] = {
            "count": len(stage.portions_g),
            "portions": say("plan.comma").join(_rounded(stage)),
        }
        found.append(say("programme.portions", portions))
    return found


def _rounded(stage: Stage) -> list[str]:
    """The portions to the step of a scale, so that they add up to what the step is told as."""
    step = wording.scale_step(stage.grams)
    totals = kitchen_round_g(np.cumsum(stage.portions_g), step)
    return [wording.grams(float(g), step) for g in np.diff(totals, prepend=0.0)]


def _powder(stage: Stage) -> str:
    return say("plan.and").join(powder(name).label for name, _ in stage.powder)


def _sides(stage: Stage) -> str:
    values: dict[str, Value] = {
        "low": rounded_outwards(stage.ph_acid_side, down=True),
        "high": rounded_outwards(stage.ph_alkaline_side, down=False),
    }
    if stage.level == "ok":
        return say("programme.sides", values)
    level = f"{wording.MARKS[stage.level]} {wording.level(stage.level)}"
    return say("programme.sides-level", {**values, "level": level})


def name_of(colour: SeenColour) -> str:
    """The published name of a colour."""
    return str(colour.name)


def before(programme: Programme) -> str:
    """The tub before the first step."""
    values: dict[str, Value] = {"ph": programme.before_ph, "name": name_of(programme.before)}
    return say("programme.before", values)


def tub(programme: Programme) -> str:
    """How much water, how warm and how deep."""
    values: dict[str, Value] = {
        "volume": wording.litres(programme.volume_l),
        "temperature": programme.temperature_c,
        "depth": programme.depth_cm,
    }
    return say("time.tub", values)


def whole(programme: Programme) -> list[str]:
    """What holds for all steps: how to read the differences, and the gas."""
    found = [say("programme.change-note")]
    if programme.co2_litres >= LEAST_GAS_L:
        found.append(say("programme.whole", {"litres": _gas(programme.co2_litres)}))
    return found


def _gas(volume_l: float) -> str:
    """A volume of gas, in tenths of a litre below ten."""
    whole = volume_l >= 10
    return say("plan.litres-whole" if whole else "plan.litres-tenth", {"litres": volume_l})


def is_back(stage: Stage) -> bool:
    """Whether a step leads back to the colour of the start."""
    return stage.name.casefold() == BACK
