"""From a recipe's plain numbers to a tub that can be solved and seen.

The same assembly serves the one tub as read and the many tubs that the readings allow: every
uncertain quantity may be an array of one batch shape instead of the reading.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike

from dosing.bath.inputs import ColourInputs, FoamBathInputs, RecipeInputs, TubInputs
from dosing.bath.mixed import Bath, fill_tub
from dosing.equilibrium import Array, dissolved_co2, solve
from dosing.ingredients.own_acid import own_acid
from dosing.ingredients.powders import Blend, blend_per_gram, remarks
from dosing.ingredients.product import FoamBath, foam_bath_totals
from dosing.ingredients.sums import added
from dosing.ingredients.trade_values import middle, typical
from dosing.ingredients.tub import TubWater, tub_water
from dosing.ingredients.water import (
    LEAST_CARBON,
    Reading,
    TapWater,
    WaterReadings,
    tap_water,
    usual_hardness,
)
from indicator.colourants import Colourant
from indicator.micelles import Shift, has_cation, micelle_shift
from indicator.notes import Note, Value
from indicator.optics import View, small_view, tub_view
from indicator.pigments import infusion_strength

USUAL_SURFACTANTS = ("anionic", "amphoteric")
_G_PER_L = 10.0
"""Of one per cent."""


@dataclass(frozen=True)
class Truth:
    """Truth that may lie behind the readings of a recipe; by default the readings themselves."""

    alkalinity_meq_l: ArrayLike | None = None
    """Alkalinity [meq/L]; None for the reading."""
    volume: ArrayLike = 1.0
    """Volume over its reading."""
    purity: ArrayLike = 1.0
    """Content of the activator's powders over the declared one."""
    pigment: ArrayLike = 1.0
    """Strength of the colours over the stated one."""
    tap_ph: ArrayLike = 0.0
    """pH of the tap water above its reading, or above the usual one."""
    warmer_c: ArrayLike = 0.0
    """Temperature of the tub above the recipe's [°C]."""
    own_acid: ArrayLike = 1.0
    """Acid of sour infusions over the usual one."""
    hardness: ArrayLike | None = None
    """Hardness over its reading, or over what usually goes with the alkalinity; None as read."""
    gas_lost: ArrayLike | None = None
    """Share of the tap's carbon dioxide beyond that of the air that leaves while the tub fills;
    None for the usual one."""
    air_co2_ppm: ArrayLike | None = None
    """Carbon dioxide of the room's air [ppm]; None for the usual one."""


@dataclass(frozen=True)
class Bottle:
    """The product that carries the colour, as it stands on the shelf."""

    strengths: Mapping[Colourant, float]
    """Colourant to strength: pH-1 absorbance per cm, or mol/L for a dye."""
    ph: float
    surfactants_g_l: Mapping[str, float] = field(default_factory=dict)
    """Kind of surfactant to its concentration [g/L]; empty for a bottle without foam bath."""


@dataclass(frozen=True)
class Setting:
    """One tub, or a batch of possible ones, ready for a dose."""

    water: TapWater
    bath: Bath
    per_gram: Mapping[str, Array]
    """What a gram of the activator adds [mol/g]."""
    view: View
    depth_cm: float
    bottle: Bottle | None
    assumptions: tuple[Note, ...] = field(default=())
    warnings: tuple[Note, ...] = field(default=())


def assemble(inputs: RecipeInputs, truth: Truth | None = None) -> Setting:
    """Tub of a recipe, filled, before any activator.

    Parameters
    ----------
    inputs : RecipeInputs
        The recipe in core units.
    truth : Truth, optional
        What is true; if not given the readings themselves, or what was learnt beside them.

    Returns
    -------
    Setting
        Tap water, bath, view and bottle; batch shape that of the truth, () without one.

    Raises
    ------
    ValueError
        If the tub's measures contradict each other or a name is unknown.
    """
    scale = truth or Truth(**inputs.taught.middle if inputs.taught else {})
    tap = _tap(inputs, scale)
    tub = _tub(inputs.tub)
    foam = inputs.foam_bath
    foam_bath = _foam(foam)
    own_l = sum(c.volume_l for c in inputs.colours if c.held_in != "foam bath")
    pigment = np.asarray(scale.pigment)
    warm = inputs.water_temperature_c + np.asarray(scale.warmer_c)
    lost = _or_usual(scale.gas_lost, "gas_lost_filling")
    air = _or_usual(scale.air_co2_ppm, "room_air_co2")
    bath = fill_tub(
        _run_in(tap, warm, lost, air),
        float(tub.volume_l) * np.asarray(scale.volume),
        warm,
        added_l=own_l if foam is None else foam.amount_ml / 1000.0 + own_l,
        added_mol=added((foam_bath.totals, _sourness(inputs, scale.own_acid))),
        contents=added({c.colourant: c.content * pigment} for c in inputs.colours),
    )
    bath = replace(bath, surfactants_g_l=_thinned(foam, bath.volume_l), air_co2_ppm=air)
    parts = Blend(inputs.activator.parts).parts
    per_gram = blend_per_gram(parts, scale.purity)
    bottle, bottle_notes = _bottle(inputs)
    return Setting(
        water=tap,
        bath=bath,
        per_gram=per_gram,
        view=_view(inputs, float(tub.depth_cm)),
        depth_cm=float(tub.depth_cm),
        bottle=bottle,
        assumptions=(
            *inputs.assumptions,
            *tub.assumptions,
            *tap.assumptions,
            *foam_bath.assumptions,
            *bottle_notes,
            *_sour_notes(inputs, tap, bath),
            _gas_note(),
            *_tub_micelle_notes(inputs.colours, bath),
        ),
        warnings=(*tub.warnings, *tap.warnings, *remarks(parts)),
    )


def _tap(inputs: RecipeInputs, truth: Truth) -> TapWater:
    if truth.alkalinity_meq_l is None:
        return tap_water(inputs.water)
    read = typical("tap_ph").value if inputs.water.ph is None else np.asarray(inputs.water.ph)
    return tap_water(
        replace(
            inputs.water,
            alkalinity_meq_l=truth.alkalinity_meq_l,
            carbonate_hardness_meq_l=None,
            hardness_mmol_l=_hardness(inputs.water, truth),
            ph=read + np.asarray(truth.tap_ph),
        )
    )


def _or_usual(given: ArrayLike | None, key: str) -> ArrayLike:
    return typical(key).value if given is None else given


def _run_in(
    tap: TapWater, temperature_c: ArrayLike, lost: ArrayLike, air_co2_ppm: ArrayLike
) -> TapWater:
    """The tap water once the tub is full: a share of its free gas has left on the way.

    Water with less gas than the air would hold in it takes some up instead.
    """
    if np.all(np.asarray(lost) == 0.0):
        return tap
    warm = np.asarray(temperature_c, dtype=np.float64)
    free = np.asarray(solve(tap.totals, warm).molality["CO2"])
    beyond = free - dissolved_co2(air_co2_ppm, warm)
    carbon = np.maximum(tap.totals["C"] - np.asarray(lost) * beyond, LEAST_CARBON)
    return replace(tap, totals={**tap.totals, "C": carbon})


def _gas_note() -> Note:
    """What is taken of the gas that leaves while the tub fills, and of the room's air."""
    lost, air = typical("gas_lost_filling"), typical("room_air_co2")
    values: dict[str, Value] = {"share": lost.value, "ppm": air.value}
    for name, usual in (("share", lost), ("ppm", air)):
        values |= dict(zip((f"{name}_low", f"{name}_high"), usual.ends, strict=True))
    return Note("assume.tub.gas", values)


def _hardness(readings: WaterReadings, truth: Truth) -> Reading:
    """Hardness of a water that may be [mmol/L]; what a report has of calcium is left as it is."""
    given: Reading = readings.hardness_mmol_l
    if truth.hardness is None or not hardness_open(readings):
        return given
    usual = usual_hardness(np.asarray(truth.alkalinity_meq_l))
    read = np.asarray(usual if given is None else given, dtype=np.float64)
    return read * np.asarray(truth.hardness, dtype=np.float64)


def hardness_open(readings: WaterReadings) -> bool:
    """Whether the hardness is a reading of its own or an assumption, not the sum of a report."""
    return readings.calcium_mmol_l is None and readings.magnesium_mmol_l is None


def water_l(tub: TubInputs) -> float:
    """Water of a tub as read, without bathers [L]."""
    return float(_tub(tub).volume_l)


def _tub(tub: TubInputs) -> TubWater:
    return tub_water(
        volume_l=tub.volume_l,
        length_cm=tub.length_cm,
        width_cm=tub.width_cm,
        fill_cm=tub.fill_cm,
        floor_area_cm2=tub.floor_area_cm2,
        adults_in_tub=tub.adults_in_tub,
        children_in_tub=tub.children_in_tub,
    )


@lru_cache(maxsize=64)
def _foam(foam: FoamBathInputs | None) -> FoamBath:
    """What a foam bath brings; the many tubs of one plan hold the same."""
    if foam is None:
        return FoamBath({}, ())
    grams = foam.amount_ml * typical("foam_bath_density").value
    return foam_bath_totals(grams, foam.ph, foam.titratable_meq_kg)


def petals_g(colour: ColourInputs) -> float:
    """Dried petals in a pigment's infusion, as stated or as its strength tells [g]; 0 of a dye."""
    if colour.colourant.kind == "dye":
        return 0.0
    if colour.petals_percent is not None:
        return colour.petals_percent * _G_PER_L * colour.volume_l
    return colour.content / float(infusion_strength(colour.colourant, 1.0)) * _G_PER_L


def sour_meq(inputs: RecipeInputs) -> dict[Colourant, float]:
    """Acid that the infusions of a recipe bring into its tub, by colourant [meq].

    What stands in a foam bath that was titrated is part of what was found there.
    """
    foam = inputs.foam_bath
    titrated = foam is not None and foam.titratable_meq_kg is not None
    return added(
        {colour.colourant: petals_g(colour) * own_acid(colour.colourant).meq_per_g}
        for colour in inputs.colours
        if not (titrated and colour.held_in == "foam bath")
    )


def _sourness(inputs: RecipeInputs, scale: ArrayLike) -> dict[str, Array]:
    """The same as an inert anion without its cation [mol]."""
    brought = sum(sour_meq(inputs).values())
    return {"anion": np.asarray(scale) * brought / 1000.0} if brought > 0 else {}


def _sour_notes(inputs: RecipeInputs, tap: TapWater, bath: Bath) -> tuple[Note, ...]:
    """How much of what the water takes up the infusions use, where it is worth a word."""
    by_colour = sour_meq(inputs)
    unknown = tuple(
        Note("assume.colour.own-acid-unknown", {"colour": which.label}, "colour")
        for which in by_colour
        if which.unrelated
    ) + tuple(
        Note("assume.colour.own-acid-titrated", {"colour": which.label}, "colour")
        for which in dict.fromkeys(colour.colourant for colour in inputs.colours)
        if which not in by_colour
    )
    brought = sum(by_colour.values())
    takes_up = middle(np.asarray(tap.alkalinity_meq_l) * bath.volume_l)
    if brought <= typical("own_acid_to_mention").value * takes_up:
        return unknown
    sourest = max(by_colour, key=lambda which: by_colour[which]).label
    if brought > takes_up:
        return (*unknown, Note("assume.colour.own-acid-more", {"colour": sourest}, "colour"))
    values: dict[str, Value] = {"colour": sourest, "share": brought / takes_up}
    return (*unknown, Note("assume.colour.own-acid", values, "colour"))


def _view(inputs: RecipeInputs, depth: float) -> View:
    wish, tub = inputs.wish, inputs.tub
    if wish.view != "tub":
        return small_view(wish.view, light=wish.light, observer_deg=wish.observer_deg)
    return tub_view(
        depth,
        light=wish.light,
        floor=tub.floor,
        cloud=tub.cloud,
        foam_cover=tub.foam_cover,
        observer_deg=wish.observer_deg,
    )


def _bottle(inputs: RecipeInputs) -> tuple[Bottle | None, tuple[Note, ...]]:
    """The bottle with most colour in it: the maker's own concentrate, or the foam bath."""
    in_foam = [c for c in inputs.colours if c.held_in == "foam bath"]
    foam = inputs.foam_bath
    if in_foam and foam is not None and foam.amount_ml > 0:
        litres = foam.amount_ml / 1000.0
        ph = typical("foam_bath_ph").value if foam.ph is None else foam.ph
        surfactants, assumed = _surfactants(foam)
        bottle = Bottle(_summed(in_foam, litres), ph, surfactants)
        return bottle, (*assumed, *_micelle_notes(in_foam, surfactants))
    own = [c for c in inputs.colours if c.bottle_strength is not None]
    if not own:
        return None, ()
    litres = sum(c.volume_l for c in own)
    strengths = (
        _summed(own, litres)
        if litres > 0
        else {own[0].colourant: float(own[0].bottle_strength or 0.0)}
    )
    ph = typical("infusion_ph").value
    return Bottle(strengths, ph), (Note("assume.bottle.infusion-ph", {"ph": ph}, "colour"),)


def _surfactants(foam: FoamBathInputs) -> tuple[dict[str, float], tuple[Note, ...]]:
    """Surfactants of a foam bath [g/L]; those of a usual one if nobody said."""
    if foam.surfactants_percent is not None:
        return {kind: _G_PER_L * percent for kind, percent in foam.surfactants_percent}, ()
    usual = {kind: typical(f"foam_bath_{kind}").value for kind in USUAL_SURFACTANTS}
    note = Note("assume.bottle.surfactants", dict(usual), "foam_bath.surfactants")
    return {kind: _G_PER_L * percent for kind, percent in usual.items()}, (note,)


def _micelle_notes(
    colours: Sequence[ColourInputs], surfactants: Mapping[str, float]
) -> tuple[Note, ...]:
    """What the surfactants do to each pigment in the bottle."""
    notes = []
    for which, shift in _shifts(colours, surfactants):
        if not float(shift.best):
            continue
        measured = which.micelle_shift is not None
        code = "assume.bottle.micelles-measured" if measured else "assume.bottle.micelles"
        if float(shift.best) < 0:
            code = "assume.bottle.micelles-of-base"
            shift = Shift(-shift.best, -shift.high, -shift.low)
        ends = {key: float(getattr(shift, key)) for key in ("best", "low", "high")}
        notes.append(Note(code, {"colour": which.label, **ends}, "foam_bath.surfactants"))
    return tuple(notes)


def _tub_micelle_notes(colours: Sequence[ColourInputs], bath: Bath) -> tuple[Note, ...]:
    """What the surfactants do to each pigment in the tub, where they are enough to do anything."""
    best = [(which.label, middle(s.best)) for which, s in _shifts(colours, bath.surfactants_g_l)]
    return tuple(
        Note("assume.tub.micelles", {"colour": label, "best": shift}, "foam_bath.amount")
        for label, shift in best
        if abs(shift) >= typical("same_ph").value
    )


def _shifts(
    colours: Sequence[ColourInputs], surfactants: Mapping[str, ArrayLike]
) -> list[tuple[Colourant, Shift]]:
    """Pigments that micelles may hold, and how far these move their pKa."""
    pigments = (c.colourant for c in colours if has_cation(c.colourant))
    return [(which, micelle_shift(surfactants, which.micelle_shift)) for which in pigments]


def _thinned(foam: FoamBathInputs | None, volume_l: Array) -> dict[str, Array]:
    """Surfactants in the tub [g/L]."""
    if foam is None:
        return {}
    share = foam.amount_ml / 1000.0 / volume_l
    return {kind: grams * share for kind, grams in _surfactants(foam)[0].items()}


def _summed(colours: list[ColourInputs], litres: float) -> dict[Colourant, float]:
    return added({colour.colourant: colour.content / litres} for colour in colours)
