"""``keep``: what is left of a bottle's colour after some time, and of a tub's after a soak."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

from dosing.bath.assembled import assemble
from dosing.bottle.keeping import Kept, KeptColour, Share, Soak, SoakedColour, keep
from dosing.cli.jsonout import colour, notes
from dosing.cli.output import Page, to_json
from dosing.cli.planning import recipe_of
from dosing.recipe.quantities import InputError, days, temperature_c
from dosing.recipe.quantities import ph as typed_ph
from dosing.words import wording
from indicator.appearance import delta_e
from indicator.fading import LightFading, fading_names
from indicator.notes import Note, Value, say, sentence
from indicator.pigments import colourant
from indicator.tables import citation


def run_keep(
    recipe: Path | None,
    demo: str | None,
    *,
    time: str,
    temperature: str,
    ph: str | None,
    soak: str,
    as_json: bool,
) -> None:
    """Show what is left of the colour."""
    long, warm = days(time, "time"), temperature_c(temperature, "temperature")
    acidity = None if ph is None else typed_ph(ph, "ph")
    soaking = days(soak, "soak")
    inputs = recipe_of(recipe, demo)
    kept = keep(
        inputs,
        assemble(inputs),
        days=long,
        temperature_c=warm,
        ph=acidity,
        soak_days=soaking,
    )
    if kept is None:
        names = ", ".join(colourant(name).label for name in fading_names())
        raise InputError(say("keep.none", {"names": names}), "colour")
    if as_json:
        to_json(_document(kept))
    else:
        _show(inputs.title, kept, Page())


def _document(kept: Kept) -> dict[str, Any]:
    """Keys of the first colour stand at the top, those of all under ``pigments``."""
    first = kept.colours[0]
    return {
        "pigment": first.colourant.name,
        "days": kept.days,
        "temperature_c": kept.temperature_c,
        "ph": kept.ph,
        "condition": first.condition,
        "share_left": _share(first.share),
        "half_life_days": first.share.half_life_days,
        "fresh": colour(kept.fresh),
        "kept": colour(kept.kept),
        "change_delta_e": float(delta_e(kept.fresh.lab, kept.kept.lab)),
        "pigments": [
            {
                "name": one.colourant.name,
                "label": one.colourant.label,
                "condition": one.condition,
                "share_left": _share(one.share),
                "half_life_days": one.share.half_life_days,
                "studies": one.share.studies,
                "ph_published": list(one.ph_published),
                "ph_in_range": one.ph_in_range,
                "series": one.share.series,
                "temperature_measured_c": list(one.share.measured_c),
                "medium": one.share.medium,
                "temperature_carried": one.share.carried,
            }
            for one in kept.colours
        ],
        "soak": _soak_document(kept.soak),
        "light": [
            {
                "name": one.colourant,
                "light": one.light,
                "ph_low": one.ph_low,
                "ph_high": one.ph_high,
                "rate_low_per_day": one.rate_low,
                "rate_high_per_day": one.rate_high,
                "source": citation(one.source),
                "confidence": one.confidence,
            }
            for one in kept.light
        ],
        "warnings": notes(_notes(kept)),
    }


def _soak_document(soak: Soak) -> dict[str, Any]:
    return {
        "days": soak.days,
        "temperature_c": soak.temperature_c,
        "ph_before": soak.ph_before,
        "ph_after": soak.ph_after,
        "pigments": [
            {
                "name": one.colourant.name,
                "label": one.colourant.label,
                "share_left_before": None if one.before is None else _share(one.before),
                "share_left_after": None if one.after is None else _share(one.after),
                "ph_published": list(one.ph_published),
            }
            for one in soak.colours
        ],
        "tub": colour(soak.seen),
    }


def _share(share: Share) -> dict[str, float]:
    return {"low": share.low, "best": share.best, "high": share.high}


def _notes(kept: Kept) -> tuple[Note, ...]:
    return (*(_light_note(one) for one in kept.light), *kept.notes)


def _light_note(one: LightFading) -> Note:
    short, long = (
        wording.time_span(span)
        for span in (one.shortest_half_life_days, one.longest_half_life_days)
    )
    values: dict[str, Value] = {
        "colour": colourant(one.colourant).label,
        "light": one.light,
        "short": short,
        "long": long,
    }
    return Note("keep.light-rate" if short == long else "keep.light-rates", values)


def _show(title: str, kept: Kept, page: Page) -> None:
    page.line(title, style="bold")
    for one in kept.colours:
        _show_kept(one, kept, page)
    page.heading(say("keep.tub"))
    page.swatch(str(kept.fresh.hex), say("keep.fresh", {"name": str(kept.fresh.name)}))
    page.swatch(str(kept.kept.hex), say("keep.kept", {"name": str(kept.kept.name)}))
    change = float(delta_e(kept.fresh.lab, kept.kept.lab))
    page.line(say("keep.change", {"change": change}), indent=2, hang=2)
    _show_soak(kept.soak, page)
    _show_notes(_notes(kept), page)


def _show_kept(one: KeptColour, kept: Kept, page: Page) -> None:
    values: dict[str, Value] = {
        "colour": one.colourant.label,
        "time": wording.time_span(kept.days),
        "temperature": kept.temperature_c,
        "ph": kept.ph,
        "left": one.share.best,
        "half": wording.time_span(one.share.half_life_days),
        "published": _ph_span(one.ph_published),
    }
    page.line(say("keep.left" if one.share.studies else "keep.left-far", values), indent=2, hang=2)
    page.line(_range(one.share), indent=2, hang=2)
    unlike = one.condition == "clean" and not one.preserved
    page.line(
        say("keep.clean-only" if unlike else f"keep.{one.condition}", values), indent=2, hang=2
    )


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


def _show_soak(soak: Soak, page: Page) -> None:
    values: dict[str, Value] = {
        "time": wording.time_span(soak.days),
        "temperature": soak.temperature_c,
    }
    page.heading(say("keep.soak", values))
    for one in soak.colours:
        page.line(_soaked(one, one.before, "before", soak.ph_before), indent=2, hang=2)
        if soak.ph_after is not None:
            page.line(_soaked(one, one.after, "after", soak.ph_after), indent=2, hang=2)
    page.swatch(str(soak.seen.hex), say("keep.soaked", {"name": str(soak.seen.name)}))


def _soaked(one: SoakedColour, share: Share | None, moment: str, ph: float) -> str:
    values: dict[str, Value] = {
        "colour": one.colourant.label,
        "ph": ph,
        "published": _ph_span(one.ph_published),
    }
    if share is None:
        return say(f"keep.soak-unknown-{moment}", values)
    return f"{say(f'keep.soak-{moment}', {**values, 'left': share.best})} {_range(share)}"


def _show_notes(told: Sequence[Note], page: Page) -> None:
    page.heading(say("plan.heading.notes"))
    for note in told:
        page.line(say("plan.bullet", {"text": sentence(note)}), indent=2, hang=2)
