"""Keeping: what time leaves of a bottle's colour, a soak of the tub's, and how the tub looks."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from dosing.bath.assembled import Setting
from dosing.bath.inputs import ColourInputs, RecipeInputs
from dosing.bath.mixed import colour_at
from dosing.ingredients.trade_values import typical
from indicator.appearance import SeenColour, delta_e
from indicator.colourants import Colourant
from indicator.fading import (
    LightFading,
    PlaceFading,
    fading_conditions,
    fading_in,
    fading_names,
    fading_trust,
    light_fading,
)
from indicator.notes import Note, Value, say
from indicator.words import parse_target

OPEN = 0.1
"""Between the ends of a share that is no longer one number."""
MINUTES_PER_DAY = 1440.0
USUAL_SOAK_DAYS = 1.0 / 24.0
"""An hour."""


@dataclass(frozen=True)
class Share:
    """Share that is left of one colour, 0 to 1."""

    best: float
    low: float
    """By the fastest published rates, with what carrying them to this temperature may hide."""
    high: float
    """By the slowest, likewise."""
    half_life_days: float
    """By the rate of the best value."""
    studies: int
    """How many published sets of rates are near this pH; with none the low end is 0."""
    series: str
    """Which set of measurements the best value follows."""
    measured_c: tuple[float, float]
    """Temperatures at which the rates of the best value were measured [°C]."""
    medium: str
    """In what: one of `indicator.fading.MEDIA`."""
    carried: bool
    """Whether the temperature lies far from those."""

    @property
    def open(self) -> bool:
        """Whether the published rates leave it so open that only its ends may be told."""
        return self.high - self.low > OPEN


@dataclass(frozen=True)
class KeptColour:
    """One colour of a bottle after some time in the dark."""

    colourant: Colourant
    preserved: bool
    condition: str
    """Which published rates the best value follows: one of `indicator.fading.CONDITIONS`."""
    share: Share
    ph_in_range: bool
    """Whether rates are published on both sides of the bottle's pH."""
    ph_published: tuple[float, float]


@dataclass(frozen=True)
class SoakedColour:
    """One colour of a tub after a soak; None where no rate is published near that pH."""

    colourant: Colourant
    before: Share | None
    """At the tub's own pH, without activator."""
    after: Share | None
    """At the pH that the recipe wishes; None as well if it wishes none."""
    ph_published: tuple[float, float]


@dataclass(frozen=True)
class SoakFading:
    """Loss of a fresh tub's colour over a soak."""

    days: float
    temperature_c: float
    """Of the tub [°C]."""
    ph_before: float
    """Of the tub before any activator."""
    ph_after: float | None
    """Wished pH; None if the recipe wishes a colour or nothing."""
    colours: tuple[SoakedColour, ...]
    seen: SeenColour
    """The tub before any activator, after the soak."""


@dataclass(frozen=True)
class Kept:
    """A bottle after some time in the dark."""

    days: float
    temperature_c: float
    ph: float
    """Of the bottle."""
    colours: tuple[KeptColour, ...]
    """Every colour of the recipe that has a published rate, in the recipe's order."""
    fresh: SeenColour
    """The tub before any dose, with fresh colour."""
    kept: SeenColour
    """The same with what is left."""
    soak: SoakFading
    light: tuple[LightFading, ...]
    """What is published of the recipe's colours in light; in none of the shares."""
    warnings: tuple[Note, ...]

    @property
    def change_delta_e(self) -> float:
        """CIEDE2000 between the tub with fresh colour and with what is left."""
        return float(delta_e(self.fresh.lab, self.kept.lab))


def keep(
    inputs: RecipeInputs,
    setting: Setting,
    *,
    days: float,
    temperature_c: float,
    ph: float | None = None,
    soak_days: float = USUAL_SOAK_DAYS,
) -> Kept | None:
    """Colour of a recipe's bottle after some days in the dark, and of its tub after a soak.

    Parameters
    ----------
    inputs : RecipeInputs
        All its colours that have a published rate are followed; dyes keep.
    setting : Setting
        The tub as read.
    days : float
        Time in the bottle, from 0 up [day].
    temperature_c : float
        Temperature of the shelf [°C].
    ph : float, optional
        pH in the bottle; that of the setting's bottle, or of a usual infusion, if not given.
    soak_days : float
        Time in the tub, from 0 up [day].

    Returns
    -------
    Kept or None
        None if no colour of the recipe has a published rate.
    """
    followed = [colour for colour in inputs.colours if fading_conditions(colour.colourant)]
    if not followed:
        return None
    usual = setting.bottle.ph if setting.bottle is not None else typical("infusion_ph").value
    in_bottle = usual if ph is None else ph
    colours = tuple(_kept(colour, in_bottle, temperature_c, days) for colour in followed)
    start = float(setting.bath.solve().ph)
    soak = _soak(followed, inputs, setting, start, soak_days)
    known = dict.fromkeys(colour.colourant for colour in inputs.colours)
    pigments = [which for which in known if which.kind == "pigment"]
    return Kept(
        days=days,
        temperature_c=temperature_c,
        ph=in_bottle,
        colours=colours,
        fresh=colour_at(setting.bath.strengths, start, setting.view),
        kept=_seen(setting, start, _left(followed, colours)),
        soak=soak,
        light=tuple(dict.fromkeys(lamp for which in known for lamp in light_fading(which))),
        warnings=(
            *_colour_notes(pigments, colours),
            *_range_notes(colours, in_bottle),
            *_carried_notes(colours, temperature_c, soak),
        ),
    )


def _kept(colour: ColourInputs, ph: float, temperature_c: float, days: float) -> KeptColour:
    place = "bottle" if colour.held_in == "foam bath" else "infusion"
    rates = fading_in(place, colour.colourant, ph, temperature_c, preserved=colour.preserved)
    return KeptColour(
        colourant=colour.colourant,
        preserved=colour.preserved,
        condition=str(rates.condition),
        share=_share(rates, days),
        ph_in_range=bool(rates.best.in_range),
        ph_published=rates.ph_published,
    )


def _soak(
    followed: Sequence[ColourInputs],
    inputs: RecipeInputs,
    setting: Setting,
    ph_before: float,
    days: float,
) -> SoakFading:
    warm = float(setting.bath.temperature_c)
    wish = None if inputs.wish.target is None else parse_target(inputs.wish.target)
    ph_after = None if wish is None else wish.ph

    def soaked(which: Colourant) -> SoakedColour:
        before = fading_in("tub", which, ph_before, warm)
        after = None if ph_after is None else fading_in("tub", which, ph_after, warm)
        left, left_after = (
            None if rates is None or not bool(rates.near) else _share(rates, days)
            for rates in (before, after)
        )
        return SoakedColour(which, left, left_after, before.ph_published)

    colours = tuple(map(soaked, dict.fromkeys(colour.colourant for colour in followed)))
    left = {colour.colourant: colour.before.best for colour in colours if colour.before is not None}
    seen = _seen(setting, ph_before, left)
    return SoakFading(days, warm, ph_before, ph_after, colours, seen)


def _share(rates: PlaceFading, days: float) -> Share:
    return Share(
        best=float(rates.best.share_left(days)),
        low=float(rates.fastest.share_left(days)) if bool(rates.near) else 0.0,
        high=float(rates.slowest.share_left(days)),
        half_life_days=float(rates.best.half_life_days),
        studies=int(rates.studies),
        series=str(rates.series),
        measured_c=(float(rates.measured_low_c), float(rates.measured_high_c)),
        medium=str(rates.medium),
        carried=bool(rates.best.carried),
    )


def _seen(setting: Setting, ph: float, left: Mapping[Colourant, float]) -> SeenColour:
    """The tub at a pH with so much left of some of its colours."""
    strengths = setting.bath.strengths.items()
    weakened = {which: np.asarray(fresh) * left.get(which, 1.0) for which, fresh in strengths}
    return colour_at(weakened, ph, setting.view)


def _left(
    followed: Sequence[ColourInputs], colours: Sequence[KeptColour]
) -> dict[Colourant, float]:
    """Share left by colourant; a pigment that comes in two bottles counts by what each brings."""
    fresh, aged = (dict.fromkeys((colour.colourant for colour in followed), 0.0) for _ in range(2))
    for colour, kept in zip(followed, colours, strict=True):
        fresh[colour.colourant] += colour.content
        aged[colour.colourant] += colour.content * kept.share.best
    return {which: aged[which] / total for which, total in fresh.items() if total > 0.0}


def _colour_notes(pigments: Sequence[Colourant], colours: Sequence[KeptColour]) -> Iterator[Note]:
    """What is not known of colours, or rests on little; each said once."""
    noted = [("light", which) for which in pigments if not light_fading(which)]
    noted += [("isolate", kept.colourant) for kept in colours if kept.share.medium == "isolate"]
    for kept in colours:
        trust = fading_trust(kept.colourant, kept.condition, kept.share.series)
        noted += [(trust, kept.colourant)] if trust != "published" else []
    noted += [("unknown", which) for which in pigments if not fading_conditions(which)]
    for code, which in dict.fromkeys(noted):
        yield Note(f"keep.{code}", {"colour": which.label})


def _range_notes(colours: Sequence[KeptColour], ph: float) -> list[Note]:
    """Where the bottle's pH lies beyond those with a published rate."""
    return [
        Note(
            "keep.ph-range" if kept.share.studies else "keep.ph-far",
            {"colour": kept.colourant.label, "ph": ph},
        )
        for kept in colours
        if not kept.ph_in_range
    ]


def _carried_notes(
    colours: Sequence[KeptColour], temperature_c: float, soak: SoakFading
) -> tuple[Note, ...]:
    """Where a rate comes from temperatures far from those of bottle or tub; each said once."""
    shares = [("keep.carried", colour.colourant, colour.share, temperature_c) for colour in colours]
    shares += [
        ("keep.carried-soak", colour.colourant, share, soak.temperature_c)
        for colour in soak.colours
        for share in (colour.before, colour.after)
        if share
    ]
    notes: dict[object, Note] = {}
    for code, which, share, warm in shares:
        if share.carried:
            low, high = share.measured_c
            span = "keep.celsius-one" if low == high else "keep.celsius-span"
            text = f"{code}-paper" if share.medium == "paper" else code
            values: dict[str, Value] = {
                "colour": which.label,
                "measured": say(span, {"low": low, "high": high}),
                "temperature": warm,
            }
            notes.setdefault((text, which, share.measured_c), Note(text, values))
    return tuple(notes.values())


def soon_gone(
    colourants: Iterable[Colourant], ph: Iterable[float], temperature_c: float
) -> dict[Colourant, float]:
    """Colours that are half gone before anyone has looked, and their shortest half-life [min].

    Parameters
    ----------
    colourants : iterable of Colourant
        Some without published rates, which are left out.
    ph : iterable of float
        Of the waters that they are looked at in; those far from any study are left out.
    temperature_c : float
        Of the water [°C].

    Returns
    -------
    dict
        Colourant to minutes.
    """
    waters, gone = list(ph), {}
    for which in colourants:
        if which.family not in fading_names():
            continue
        rates = [fading_in("tub", which, float(each), temperature_c) for each in waters]
        days = [float(each.best.half_life_days) for each in rates if each.near]
        minutes = MINUTES_PER_DAY * min(days, default=math.inf)
        if minutes < typical("looking_minutes").value:
            gone[which] = minutes
    return gone
