"""The lines of ``brew``, ``steep`` and ``keep``: from the petals to the bottle and the tub."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from dosing.bottle.keeping import Kept, KeptColour, Share, SoakedColour, SoakFading
from dosing.bottle.steeping import Steeping, steeping_value
from dosing.plan.brewing import BottleLook, TintAmount
from dosing.plan.records import Plan
from dosing.words import wording
from dosing.words.lines import Line, bullets, headed, swatch, titled, under
from dosing.words.plan import stopped_lines
from indicator.fading import LightFading
from indicator.notes import Note, Value, say
from indicator.pigments import colourant

_LONG_MIN = 120.0
_FINE_G = 20.0


def brew_lines(
    own: Plan,
    bottle_ml: float,
    baths: int,
    amounts: Sequence[TintAmount],
    looks: Sequence[BottleLook],
) -> Iterator[Line]:
    """Lines of ``brew``: how much colour a tub takes, and the bottle that holds it.

    Parameters
    ----------
    own : Plan
        Of the recipe before any activator.
    bottle_ml : float
        What the bottle holds [mL].
    baths : int
        For how many it is.
    amounts, looks : sequence
        Of each tint.

    Yields
    ------
    Line
        In the order in which they are read.
    """
    yield from titled(own.title)
    yield Line(say("brew.tub", {"volume": wording.litres(own.volume_l)}))
    yield from stopped_lines(own)
    step = [say("plan.tint-step")] if amounts[0].in_step else []
    yield from under([*map(wording.tint_amount, amounts), *step], "plan.heading.amounts")
    values: dict[str, Value] = {"size": bottle_ml, "baths": baths}
    yield from headed(say("brew.bottle-one" if baths == 1 else "brew.bottle-many", values))
    for amount, look in zip(amounts, looks, strict=True):
        if math.isfinite(look.percent) and not amount.forbidden:
            yield swatch(look.colour.hex, _look(look))
    black = [say("brew.black")] if any(look.black for look in looks) else []
    strong = [] if all(look.brewable for look in looks) else [say("brew.too-strong")]
    yield from under([*black, *strong])
    yield from under([say("plan.next.strength")], "plan.heading.next")


def _look(look: BottleLook) -> str:
    values: dict[str, Value] = {
        "tint": say(f"plan.tints.{look.tint}"),
        "percent": wording.two_figures(look.percent),
        "petals": f"{wording.two_figures(look.petals_g)} g",
        "name": str(look.colour.name),
        "mark": "" if look.brewable else say("brew.mark"),
    }
    return say("brew.look", values).rstrip()


def steep_lines(made: Steeping) -> Iterator[Line]:
    """Lines of ``steep``: petals and water, what to do at the stove, how strong it comes out."""
    values = _steeping_values(made)
    yield from titled(say("steep.title", values))
    yield from headed(say("steep.heading.do"))
    warm = "warm" if made.temperature_c >= steeping_value("cold_below") else "cold"
    lid, press = "lid" if made.lidded else "open", "press" if made.pressed else "drain"
    for number, code in enumerate(("weigh", f"{warm}-{lid}", press, "make-up"), start=1):
        text = say(f"steep.do.{code}", values)
        yield Line(say("steep.step", {"number": number, "text": text}), 2, 3)
    strong = ("measured" if made.measured else "reckoned", "share")
    told = [say(f"steep.strong.{code}", values) for code in strong]
    keys = say("steep.keys-measured" if made.measured else "steep.keys", _recipe_values(made))
    yield from under([*told, say("steep.in-recipe", {"keys": keys})], "steep.heading.strong")
    yield from bullets(made.warnings, "steep.heading.mind")
    yield from bullets(made.notes, "plan.heading.notes")
    surer = ("calibrate",) if made.measured else ("calibrate", "photometer")
    yield from bullets([say(f"steep.next.{code}", values) for code in surer], "plan.heading.next")


def _steeping_values(made: Steeping) -> dict[str, Value]:
    brew, strength, reckoned = made.brew, made.strength_per_cm, made.reckoned_per_cm
    grams = {
        "makes": made.makes_g,
        "petals": brew.petals_g,
        "water": brew.water_g,
        "filtrate": brew.filtrate_g.best,
        "make_up": brew.make_up_g.best,
    }
    per_cm = {
        "best": strength.best,
        "low": strength.low,
        "high": strength.high,
        "reckoned": reckoned.best,
        "reckoned_low": reckoned.low,
        "reckoned_high": reckoned.high,
    }
    return {
        **{name: _grams(mass) for name, mass in grams.items()},
        **{name: wording.two_figures(value) for name, value in per_cm.items()},
        "filtrate_low": brew.filtrate_g.low,
        "filtrate_high": brew.filtrate_g.high,
        "make_up_low": brew.make_up_g.low,
        "make_up_high": brew.make_up_g.high,
        "colour": made.pigment.label,
        "percent": f"{made.petals_percent:.3g}",
        "temperature": made.temperature_c,
        "time": _time(made.minutes),
        "share": made.share_of_plateau,
        "left": brew.left_in_petals,
    }


def _recipe_values(made: Steeping) -> dict[str, Value]:
    """What a recipe says of this infusion."""
    return {
        "percent": f"{made.brew.brewed_percent.best:.2g}",
        "temperature": f"{made.temperature_c:.3g}",
        "time": _time(made.minutes),
        "strength": f"{made.strength_per_cm.best:.3g}",
    }


def _grams(mass: float) -> str:
    """Whole grams, or tenths of the few that a fine scale weighs."""
    fine = mass < _FINE_G and round(mass, 1) != round(mass)
    return say("plan.grams-tenth" if fine else "plan.grams-whole", {"grams": mass})


def _time(minutes: float) -> str:
    if minutes < _LONG_MIN:
        return say("steep.minutes", {"count": minutes})
    return say("steep.hours", {"count": minutes / 60.0})


def keep_lines(title: str, kept: Kept) -> Iterator[Line]:
    """Lines of ``keep``: what time leaves of a bottle's colour, and a soak of the tub's.

    Parameters
    ----------
    title : str
        Of the recipe.
    kept : Kept
        What is left.

    Returns
    -------
    iterator of Line
    """
    yield from titled(title)
    yield from under(text for colour in kept.colours for text in _kept(colour, kept))
    yield from headed(say("keep.tub"))
    yield swatch(kept.fresh.hex, say("keep.fresh", {"name": str(kept.fresh.name)}))
    yield swatch(kept.kept.hex, say("keep.kept", {"name": str(kept.kept.name)}))
    yield from under([say("keep.change", {"change": kept.change_delta_e})])
    yield from _soak(kept.soak)
    yield from bullets([*map(_light_note, kept.light), *kept.warnings], "plan.heading.notes")


def _kept(colour: KeptColour, kept: Kept) -> Iterator[str]:
    values: dict[str, Value] = {
        "colour": colour.colourant.label,
        "time": wording.time_span(kept.days),
        "temperature": kept.temperature_c,
        "ph": kept.ph,
        "left": colour.share.best,
        "half": wording.time_span(colour.share.half_life_days),
        "published": _ph_span(colour.ph_published),
    }
    yield say("keep.left" if colour.share.studies else "keep.left-far", values)
    yield _range(colour.share)
    unlike = colour.condition == "clean" and not colour.preserved
    yield say("keep.clean-only" if unlike else f"keep.{colour.condition}", values)


def _range(share: Share) -> str:
    """How far published rates differ, as far as there are several."""
    if share.studies == 0:
        return say("keep.no-study")
    values: dict[str, Value] = {"low": share.low, "high": share.high}
    if share.studies > 1:
        return say("keep.range", values)
    wide = round(share.high - share.low, 2) > 0.0
    return say("keep.one-study-carried" if wide else "keep.one-study", values)


def _ph_span(published: tuple[float, float]) -> str:
    low, high = published
    return say("keep.ph-one" if low == high else "keep.ph-span", {"low": low, "high": high})


def _soak(soak: SoakFading) -> Iterator[Line]:
    span = wording.time_span(soak.days)
    values: dict[str, Value] = {"time": span, "temperature": soak.temperature_c}
    yield from headed(say("keep.soak", values))
    for colour in soak.colours:
        told = [_soaked(colour, colour.before, "before", soak.ph_before)]
        if soak.ph_after is not None:
            told.append(_soaked(colour, colour.after, "after", soak.ph_after))
        yield from under(told)
    yield swatch(soak.seen.hex, say("keep.soaked", {"name": str(soak.seen.name)}))


def _soaked(colour: SoakedColour, share: Share | None, moment: str, ph: float) -> str:
    values: dict[str, Value] = {
        "colour": colour.colourant.label,
        "ph": ph,
        "published": _ph_span(colour.ph_published),
    }
    if share is None:
        return say(f"keep.soak-unknown-{moment}", values)
    return f"{say(f'keep.soak-{moment}', {**values, 'left': share.best})} {_range(share)}"


def _light_note(fading: LightFading) -> Note:
    spans = (fading.shortest_half_life_days, fading.longest_half_life_days)
    short, long = map(wording.time_span, spans)
    values: dict[str, Value] = {
        "colour": colourant(fading.colourant).label,
        "light": fading.light,
        "short": short,
        "long": long,
    }
    return Note("keep.light-rate" if short == long else "keep.light-rates", values)
