"""Petals and infusion for a just visible, clear or showy tint of a tub, and their bottle."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from dosing.bath.assembled import Setting, sour_meq
from dosing.bath.inputs import RecipeInputs
from dosing.bath.mixed import NEUTRAL_PH, Bath, colour_at
from dosing.bath.possible_tubs import READ_ROWS, Possible, both_sides
from dosing.ingredients.own_acid import own_acid
from dosing.ingredients.trade_values import typical
from dosing.plan.levels import LEVELS, bath_level, judged_bathers
from indicator.appearance import SeenColour
from indicator.colourants import Colourant
from indicator.optics import bottle_view
from indicator.pigments import colourant
from indicator.words import threshold

Array = NDArray[np.float64]

TINTS = ("just-visible", "clear", "showy")
_THRESHOLD = {"just-visible": "visible", "clear": "clear", "showy": "showy"}
USUAL_PIGMENT = "butterfly-pea"
"""Where a recipe has none."""
_FACTORS = np.geomspace(1e-3, 1e3, 241)
_ML_PER_L = 1000.0
_MEQ_PER_MOL = 1000.0
_G_PER_L_AT_ONE_PERCENT = 10.0


@dataclass(frozen=True)
class TintAmount:
    """Petals and infusion that a tint of the tub takes."""

    tint: str
    """One of `TINTS`."""
    visibility_delta_e: float
    """CIEDE2000 from the same tub without colour."""
    factor: float
    """Times the colour of the recipe; NaN where no amount gives the tint."""
    petals_g: float
    """Dried petals of the first pigment [g]; NaN where there is none."""
    infusion_ml: float
    """Infusion of `infusion_percent` [mL]."""
    infusion_percent: float
    """Petals in the infusion [% w/v]: that of the recipe's strength."""
    in_step: bool
    """Whether the recipe's other colours are taken in step with it."""
    ph: float
    """Of the tub with it, before any activator: an infusion brings acid of its own."""
    ph_acid_side: float
    """5 % quantile over the possible tubs, or the tub as read where that is more acid."""
    level: str
    """Caution level of that side, and of the acid reserve."""

    @property
    def forbidden(self) -> bool:
        """Whether this much of it is too sour by itself for those who bathe."""
        return self.level in ("justify", "stop")


@dataclass(frozen=True)
class BottleLook:
    """A bottle that holds the colour for some baths of one tint."""

    tint: str
    percent: float
    """Petals in the infusion that has room in it [% w/v]."""
    petals_g: float
    """Petals in the whole bottle [g]."""
    brewable: bool
    """Whether an infusion can be made as strong as that."""
    fits: bool
    """Whether the infusion has room in it as strong as it is brewed now."""
    colour: SeenColour
    black: bool
    """Whether it looks nearly black."""


@dataclass(frozen=True)
class BottleFill:
    """A dose out of a bottle that is filled with infusion as far as the recipe says."""

    dose_ml: float
    """For one bath [mL]."""
    infusion_share: float
    """Share of it that is infusion, 0 to 1: the rest is foam bath."""
    infusion_percent: float
    """Petals in the infusion [% w/v]."""
    visibility_delta_e: float
    """CIEDE2000 of the tub from one without colour."""
    tint: str | None
    """The strongest of `TINTS` that this reaches; None where it is not visible."""


def tint_amounts(
    inputs: RecipeInputs, setting: Setting, possible: Possible
) -> tuple[TintAmount, ...]:
    """Petals and infusion for each tint of this tub, before any activator.

    Parameters
    ----------
    inputs : RecipeInputs
        Its first pigment is scaled, with the other colours in step; butterfly pea where the
        recipe has no colour.
    setting : Setting
        The tub as read.
    possible : Possible
        The tubs that agree with the readings.

    Returns
    -------
    tuple of TintAmount
        In the order of `TINTS`.
    """
    brewed = _brewed(inputs, setting)
    seen = _visibility(brewed, setting, _FACTORS)
    bathers = judged_bathers(inputs.wish.bathers)
    return tuple(_amount(tint, seen, brewed, possible, bathers) for tint in TINTS)


def _visibility(brewed: _Brewed, setting: Setting, factors: ArrayLike) -> Array:
    """CIEDE2000 from the same tub without colour, for so many times the recipe's colour."""
    times = np.asarray(factors)
    colours = colour_at(
        {which: strength * times for which, strength in brewed.strengths.items()},
        _soured(setting.bath, brewed.more_acid_mol(times)).solve().ph,
        setting.view,
        setting.bath.surfactants_g_l,
    )
    return np.asarray(colours.visibility_delta_e)


@dataclass(frozen=True)
class _Brewed:
    """The colours of a tub as the recipe has them, which tints take times a factor."""

    litres: float
    """Of the tub."""
    strengths: Mapping[Colourant, Array]
    petals_g: float
    """Of the first pigment; NaN where nobody knows what petals give."""
    percent: float
    """Strength of its infusion [% w/v]."""
    acid_here_mol: float
    """Of the infusions that are in the tub."""
    acid_mol: float
    """That the colours bring."""

    def more_acid_mol(self, factor: ArrayLike) -> Array:
        """Acid of so much colour beyond that in the tub [mol]."""
        return np.asarray(factor) * self.acid_mol - self.acid_here_mol


def _brewed(inputs: RecipeInputs, setting: Setting) -> _Brewed:
    pigment, litres = brewed_pigment(inputs), float(setting.bath.volume_l)
    per_gram = _per_gram(inputs, pigment)
    strengths = dict(setting.bath.strengths)
    acid_here = acid = sum(sour_meq(inputs).values()) / _MEQ_PER_MOL
    percent = typical("usual_infusion_percent").value
    if pigment not in strengths:
        # A gram of the pigment that stands in where the recipe has none.
        strengths[pigment] = np.asarray(0.0 if np.isnan(per_gram) else per_gram / litres)
        acid += own_acid(pigment).meq_per_g / _MEQ_PER_MOL
    else:
        brought = (colour for colour in inputs.colours if colour.colourant == pigment)
        own = next(brought).bottle_strength
        if own is not None and not np.isnan(per_gram):
            percent = own / per_gram / _G_PER_L_AT_ONE_PERCENT
    petals = float(strengths[pigment]) * litres / per_gram
    return _Brewed(litres, strengths, petals, percent, acid_here, acid)


def _soured(bath: Bath, moles: Array) -> Bath:
    """A tub with so much more strong acid in it, or less."""
    sourer = bath.with_activator(np.maximum(moles, 0.0), {"anion": 1.0})
    return sourer.with_activator(np.maximum(-moles, 0.0), {"cation": 1.0})


def bottle_looks(
    inputs: RecipeInputs, amounts: tuple[TintAmount, ...], bottle_ml: float, baths: int
) -> tuple[BottleLook, ...]:
    """Colour of a bottle that holds the colour of several baths.

    Parameters
    ----------
    inputs : RecipeInputs
        As in `tint_amounts`.
    amounts : tuple of TintAmount
        Of `tint_amounts`.
    bottle_ml : float
        What the bottle holds [mL], above 0.
    baths : int
        Baths that it is for, above 0.

    Returns
    -------
    tuple of BottleLook
        One for each amount.
    """
    pigment = brewed_pigment(inputs)
    per_gram, share = _per_gram(inputs, pigment), infusion_share(inputs)
    most = typical("strongest_infusion_percent").value
    view = bottle_view(light=inputs.wish.light)
    litres = bottle_ml / _ML_PER_L
    looks = []
    for amount in amounts:
        petals_g = amount.petals_g * baths
        percent = petals_g / (litres * share) / _G_PER_L_AT_ONE_PERCENT
        strength = 0.0 if np.isnan(per_gram) else petals_g / litres * per_gram
        colour = colour_at({pigment: np.asarray(strength)}, typical("infusion_ph").value, view)
        looks.append(
            BottleLook(
                tint=amount.tint,
                percent=percent,
                petals_g=petals_g,
                brewable=bool(percent <= most),
                fits=bool(amount.infusion_ml * baths <= share * bottle_ml),
                colour=colour,
                black=float(colour.lab[..., 0]) < threshold("black_lightness"),
            )
        )
    return tuple(looks)


def bottle_fill(
    inputs: RecipeInputs, setting: Setting, dose_ml: float, percent: float
) -> BottleFill:
    """Tint that a dose of the bottle gives, of which only the recipe's share is infusion.

    Parameters
    ----------
    inputs : RecipeInputs
        As in `tint_amounts`.
    setting : Setting
        The tub as read.
    dose_ml : float
        For one bath [mL].
    percent : float
        Petals in the infusion [% w/v].

    Returns
    -------
    BottleFill
        How far it tints the tub [CIEDE2000].
    """
    brewed, share = _brewed(inputs, setting), infusion_share(inputs)
    petals_g = dose_ml * share / _ML_PER_L * percent * _G_PER_L_AT_ONE_PERCENT
    seen = float(_visibility(brewed, setting, petals_g / brewed.petals_g))
    reached = [tint for tint in TINTS if seen >= threshold(_THRESHOLD[tint])]
    return BottleFill(dose_ml, share, percent, seen, reached[-1] if reached else None)


def infusion_share(inputs: RecipeInputs) -> float:
    """Share of the bottle that is infusion: that in the foam bath, or all of an infusion's own."""
    own = next((c for c in inputs.colours if c.colourant == brewed_pigment(inputs)), None)
    foam = inputs.foam_bath
    if own is None or foam is None or own.held_in != "foam bath":
        return 1.0
    liquid = own.amount_unit == "mL" and foam.amount_ml > 0
    return min(own.amount / foam.amount_ml, 1.0) if liquid else 1.0


def brewed_pigment(inputs: RecipeInputs) -> Colourant:
    """The first pigment of a recipe; butterfly pea where it has none."""
    pigments = (colour.colourant for colour in inputs.colours if colour.colourant.kind == "pigment")
    return next(pigments, colourant(USUAL_PIGMENT))


def _per_gram(inputs: RecipeInputs, pigment: Colourant) -> float:
    """PH-1 absorbance per cm that a gram of petals gives a litre; NaN where nobody knows.

    As the recipe brews them: petals that steeped cold or briefly give less than the usual.
    """
    own = next((colour for colour in inputs.colours if colour.colourant == pigment), None)
    if own is not None and own.bottle_strength and own.petals_percent:
        return own.bottle_strength / (own.petals_percent * _G_PER_L_AT_ONE_PERCENT)
    usual = pigment.per_percent
    return float("nan") if usual is None else usual.best / _G_PER_L_AT_ONE_PERCENT


def _factor(seen: Array, wanted: float) -> float:
    """Where the visibility first reaches what is wanted, NaN if nowhere."""
    reached = np.flatnonzero(seen >= wanted)
    if not len(reached) or reached[0] == 0:
        return float("nan")
    k = int(reached[0])
    share = (wanted - seen[k - 1]) / (seen[k] - seen[k - 1])
    low, high = np.log(_FACTORS[k - 1 : k + 1])
    return float(np.exp(low + share * (high - low)))


def _amount(
    tint: str, seen: Array, brewed: _Brewed, possible: Possible, bathers: str
) -> TintAmount:
    wanted = threshold(_THRESHOLD[tint])
    factor = _factor(seen, wanted)
    petals = brewed.petals_g * factor
    litres = petals / (brewed.percent * _G_PER_L_AT_ONE_PERCENT)
    if litres > typical("most_infusion_share").value * brewed.litres:
        factor = petals = litres = float("nan")
    ph = side = float("nan")
    level = 0
    if np.isfinite(factor):
        sourness = np.append(possible.sourness, np.ones(READ_ROWS))
        tubs = _soured(possible.judged(0.0), brewed.more_acid_mol(factor) * sourness)
        start = tubs.solve().ph
        ph, side = float(start[-1]), float(both_sides(start)[0])
        reserve = both_sides(tubs.acid_reserve_meq_l())[1]
        level = int(bath_level(min(side, NEUTRAL_PH), reserve, bathers))
    return TintAmount(
        tint=tint,
        visibility_delta_e=wanted,
        factor=factor,
        petals_g=petals,
        infusion_ml=litres * _ML_PER_L,
        infusion_percent=brewed.percent,
        in_step=len(brewed.strengths) > 1,
        ph=ph,
        ph_acid_side=side,
        level=LEVELS[level],
    )
