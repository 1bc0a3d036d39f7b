"""A programme in sentences: what terminal and paper say in the same words."""

from __future__ import annotations

from collections.abc import Iterator

from dosing.bath.chalk import chalk_note
from dosing.ingredients.powders import powder
from dosing.ingredients.trade_values import typical
from dosing.plan.levels import rounded_outwards
from dosing.plan.records import LEAST_DRIFT_PH
from dosing.soak.amounts import Printed, printed
from dosing.soak.moments import roughly
from dosing.soak.stages import Programme, Stage
from dosing.soak.steps import BACK
from dosing.soak.way_back import Return
from dosing.words import wording
from dosing.words.course import closing, level_mark, opening, sight
from dosing.words.lines import Line, swatch, under
from indicator.appearance import delta_e
from indicator.notes import Value, say, sentence
from indicator.words import parse_target

LEAST_GAS_L = 0.1
"""Less gas than this is not told [L]."""
LEAST_FOAM_CM = 0.2
"""Less foam than this would make is not told."""
_TINY_L = 1e-9


def heading(stage: Stage, number: int) -> str:
    """The name of a step.

    Parameters
    ----------
    stage : Stage
        The step.
    number : int
        Which, from 1.

    Returns
    -------
    str
        Number and wish.
    """
    wished = parse_target(stage.wish).ph if not is_back(stage) else None
    name = stage.wish if wished is None else say("figure.ph", {"ph": wished})
    return say("programme.step", {"number": number, "name": name})


def is_back(stage: Stage) -> bool:
    """Whether a step leads back to the colour of the start."""
    return stage.wish.casefold() == BACK


def company(programme: Programme) -> str | None:
    """Who is in the tub while it is poured; None where that goes without saying."""
    if programme.not_for_bathing or programme.forbidden:
        return None
    beside = any(caution.code.startswith("pour-jug-beside") for caution in programme.cautions)
    return say("programme.nobody-in-beside" if beside else "programme.nobody-in")


def steps(programme: Programme, number: int) -> list[str]:
    """Sentences on what to do at a step, what is seen, and what follows.

    Parameters
    ----------
    programme : Programme
        All of it.
    number : int
        Which step, from 1.

    Returns
    -------
    list of str
        One sentence each.
    """
    stage = programme.stages[number - 1]
    shown = printed(programme.stages)[number - 1]
    return [
        *_unmet(stage),
        *_pour(programme, stage, shown),
        *_colours(programme, stage),
        *_chalk(stage),
        _sides(stage),
        *_sums(programme, stage, shown),
    ]


def _unmet(stage: Stage) -> list[str]:
    """What a step cannot show, and what would have to change."""
    if stage.wish_met:
        return []
    # What a caution says stands above all steps already.
    notes = [sentence(note) for note in stage.needed if note.code != "needed.see-cautions"]
    if is_back(stage) and stage.grams <= 0:
        return notes
    return [say("programme.not-met", {"wish": stage.wish}), *notes]


# What is poured


def _pour(programme: Programme, stage: Stage, shown: Printed) -> list[str]:
    if stage.grams <= 0:
        return _nothing(stage)
    values: dict[str, Value] = {
        "grams": wording.grams(shown.grams, shown.step_g),
        "powder": _powder(stage),
        "spoons": _spoons(stage),
        "stir": wording.stirring(dict(stage.powder)),
    }
    several = len(stage.portions_g) > 1
    what = say("jug.each") if several else say("programme.portion", values)
    values["mix"] = wording.mixing(what, stage.jugs, "tub" if stage.onwards else "tap")
    if programme.forbidden:
        return [say("programme.would", values)]
    if several:
        return _in_portions(programme, stage, shown, values)
    sentences = [say("programme.pour" if stage.onwards else "programme.pour-back", values)]
    return [*sentences, say("programme.fizz")] if stage.fizzes else sentences


def _nothing(stage: Stage) -> list[str]:
    """Why nothing is poured."""
    if not stage.wish_met:
        return [say("programme.nothing-back")] if is_back(stage) else []
    later = stage.comes_back is not None and not _at_once(stage.comes_back)
    return [say("programme.nothing-yet" if later else "programme.nothing")]


def _in_portions(
    programme: Programme, stage: Stage, shown: Printed, values: dict[str, Value]
) -> list[str]:
    """All portions in one sentence, and when to stop."""
    each = (wording.grams(portion, shown.step_g) for portion in shown.portions_g)
    portions: dict[str, Value] = {
        **values,
        "count": len(stage.portions_g),
        "portions": say("plan.comma").join(each),
    }
    return [say("programme.pour-portions", portions), _stop(programme, stage)]


def _stop(programme: Programme, stage: Stage) -> str:
    """What tells between portions that it is enough."""
    if stage.look_by == "meter" and stage.stop_ph is not None:
        side = "acid" if stage.ph < programme.before_ph else "alkaline"
        return say(f"plan.stop.meter-{side}", {"ph": stage.stop_ph})
    values: dict[str, Value] = {
        "name": str(stage.colour.name),
        "hex": str(stage.colour.hex),
    }
    return say("programme.stop", values)


def _spoons(stage: Stage) -> str:
    return say("plan.weigh-it") if stage.weigh else wording.spoons(stage.spoons.teaspoons)


def _powder(stage: Stage) -> str:
    return say("plan.and").join(powder(name).label for name, _ in stage.powder)


# What is seen


def _colours(programme: Programme, stage: Stage) -> list[str]:
    """The colour right after it, and once the gas has left."""
    seen, later = sight(stage.ph, stage.colour), sight(stage.ph_airing, stage.colour_airing)
    drifts = abs(stage.ph_airing - stage.ph) > LEAST_DRIFT_PH
    back = stage.comes_back
    if back is None:
        return [say("programme.see", seen), *([say("programme.later", later)] if drifts else [])]
    if _at_once(back):
        sentences = [say("programme.see", seen), say("programme.back-at-once", _tolerance())]
    else:
        sentences = [say("programme.see-first", seen), _comes_back(programme, back)]
    code = "later-as-before" if _ends_alike(programme, stage) else "later-back"
    return [*sentences, say(f"programme.{code}", later)] if drifts else sentences


def _chalk(stage: Stage) -> list[str]:
    """What chalk does where much of it may fall out."""
    note = chalk_note(stage.chalk, (stage.ph, stage.ph_airing))
    return [] if note is None else [sentence(note)]


def _at_once(back: Return) -> bool:
    return back.alone_s == 0.0


def _comes_back(programme: Programme, back: Return) -> str:
    """How long the first colour takes to come back."""
    values: dict[str, Value] = {
        **_tolerance(),
        "ph": back.ph,
        "moved": _time(back.moved_s),
        "alone": _time(back.alone_s),
    }
    alone = programme.bathers == "nobody"
    return say("programme.back-alone" if alone else "programme.back", values)


def _time(seconds: float | None) -> str:
    if seconds is None:
        return say("programme.days")
    return say("programme.about", {"time": roughly(seconds)})


def _tolerance() -> dict[str, Value]:
    return {"tolerance": typical("same_colour_delta_e").value}


def _ends_alike(programme: Programme, stage: Stage) -> bool:
    """Whether it ends as the tub would have without any powder."""
    far = float(delta_e(programme.before_airing.lab, stage.colour_airing.lab))
    return far <= typical("same_colour_delta_e").value


def _sides(stage: Stage) -> str:
    values: dict[str, Value] = {
        "low": rounded_outwards(stage.ph_acid_side, down=True),
        "high": rounded_outwards(stage.ph_alkaline_side, down=False),
    }
    level = level_mark(stage.level)
    return say("programme.sides-level" if level else "programme.sides", {**values, "level": level})


def _sums(programme: Programme, stage: Stage, shown: Printed) -> list[str]:
    """How far it is from the step before, and what has come together."""
    if stage.grams <= 0:
        return []
    sentences = [say("programme.change", {"change": stage.change_delta_e})]
    if programme.forbidden:
        return sentences
    if shown.total_g > shown.grams + 0.5 * shown.step_g:
        grams = wording.grams(shown.total_g, shown.step_g)
        sentences.append(say("programme.total", {"total": grams, "powder": _powder(stage)}))
    if shown.co2_litres > LEAST_GAS_L - _TINY_L:
        sentences.append(say("programme.gas", {"litres": _gas(shown.co2_litres)}))
        high = shown.co2_litres * programme.depth_cm / programme.volume_l
        if high >= LEAST_FOAM_CM:
            sentences.append(say("programme.foam", {"height": wording.centimetres(high)}))
    return sentences


# The whole


def before(programme: Programme) -> str:
    """The tub before the first step."""
    return say("programme.before", sight(programme.before_ph, programme.before))


def whole(programme: Programme) -> list[str]:
    """Sentences that hold for all steps: how to read the differences, and the gas."""
    sentences = [say("programme.change-note")]
    litres = sum(shown.co2_litres for shown in printed(programme.stages))
    if litres > LEAST_GAS_L - _TINY_L and not programme.forbidden:
        sentences.append(say("programme.whole", {"litres": _gas(litres)}))
    return sentences


def _gas(volume_l: float) -> str:
    """A volume of gas, in tenths of a litre, so that the steps add up to the whole."""
    return say("plan.litres-tenth", {"litres": volume_l})


def programme_lines(programme: Programme) -> Iterator[Line]:
    """Several pours after each other, step by step."""
    title = say("programme.title", {"title": programme.title})
    yield from opening(programme, title, company(programme))
    yield Line()
    yield swatch(programme.before.hex, before(programme), indent=0)
    for number, stage in enumerate(programme.stages, 1):
        yield Line()
        yield swatch(stage.colour.hex, heading(stage, number), indent=0)
        yield from under(steps(programme, number))
    yield Line()
    yield from map(Line, whole(programme))
    yield from closing(programme)
