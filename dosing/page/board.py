"""The maker's board: tables of a recipe that a page turns into pH and colour as sliders move.

No page solves a chemical equation. At each pH of a table stands the charge that a bath held there
would have; where a straight line through the table is 0 lies the bath's pH. That charge is nearly
a plane over alkalinity, activator and foam bath, so that few nodes hold it.
"""

from __future__ import annotations

import base64
from collections.abc import Collection, Mapping
from dataclasses import asdict, dataclass, replace
from datetime import date
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from dosing.bath.assembled import Truth, assemble, sour_meq, water_l
from dosing.bath.inputs import ColourInputs, RecipeInputs, TubInputs, refuse_learnt
from dosing.bath.mixed import NEUTRAL_PH, surfactant_pka
from dosing.bath.mixing import taken
from dosing.equilibrium import solve, water_density_kg_l
from dosing.ingredients.hardness_units import alkalinity_in, alkalinity_meq_l
from dosing.ingredients.trade_values import is_basin
from dosing.ingredients.water import WaterReadings
from dosing.page.card import level_bands, units
from dosing.page.html import page_words, rendered
from dosing.page.words import CardWords
from dosing.plan.answer import make_plan
from dosing.plan.households import OWN, home_inputs
from dosing.plan.levels import judged_bathers, limits
from dosing.recipe.writing import recipe_toml
from dosing.soak.zones import MIXED_WITHIN
from dosing.words.templates import in_basin
from indicator.absorbance import WAVELENGTH_NM, form_fractions, form_spectra
from indicator.appearance import light_name, light_weights, to_linear_srgb
from indicator.optics import FLOOR_NM, View, view_value
from indicator.srgb import SRGB_TO_XYZ, WHITE
from indicator.words import colour_word, describe, threshold

Array = NDArray[np.float64]
Table = dict[str, Any]
"""Numbers that only the page reads, by name."""

HOMES = (OWN, "soft-small", "medium-small", "hard-large")
"""Homes of the board, the maker's own first; the others from ``data/trade/homes.csv``."""
PH: Array = np.r_[1.0:2.5:0.25, 2.5:10.55:0.1, 10.75:12.1:0.25].round(2)
ALKALINITY_SHARES = np.linspace(0.0, 1.0, 12) ** 2.5
DOSE_SHARES = np.linspace(0.0, 1.0, 18) ** 3
"""Nodes over the most of each axis; closer where activity coefficients bend."""
MOST_G_L = 1.0
"""End of the doses of a recipe for which there is none [g/L]."""
THINNINGS = 9
"""Nodes of how much a foam bath is thinned, over which micelles let go of a pigment."""
LEAST_L, MOST_L = 0.4, 1.6
"""Water of a home's slider, over what is usual there."""
MOST_PPM = 400.0
MOST_TIMES = 4.0
"""Ends of the sliders of doses and colours, over the recipe's."""
BARE_L = 100.0
LAB_STEP, LAB_END = 5.0, 80.0
"""Side of the cells of the table of colour words, and the last a* and b* in it."""
NOT_OF_A_SLIDER = {
    "alkalinity", "carbonate_hardness", "bicarbonate", "instrument", "drop_step", "thinned",
}  # fmt: skip
"""How an alkalinity was read that a slider has moved since."""
LOOKS = ("floor", "cloud", "foam_cover", "volume_measured")
SLOT = "\ue000"
"""Stands around the name of what the page fills into a recipe."""


@dataclass(frozen=True)
class BoardColour:
    """One colour, by the amount that its slider shows."""

    name: str
    unit: str
    amount: float
    most: float
    strength: float
    """Strength times litres of bath of a unit of it."""
    litres: float
    """Liquid that a unit brings [L]."""
    acid_mol: float
    """Strong acid that a unit brings [mol]."""
    spectra: list[list[float]]
    """Spectrum of each form at strength 1, by wavelength."""
    shares: str
    """Share of each form: shape (thinnings, pH, forms), as `packed`; without thinnings where it
    does not hang on them."""


@dataclass(frozen=True)
class BoardHome:
    """Where the sliders of a home stand at first."""

    litres: float
    least_l: float
    most_l: float
    alkalinity_ppm: float
    area_cm2: float


@dataclass(frozen=True)
class Board:
    """All that the page of a board needs."""

    language: str
    units: str
    """As on a `Card`."""
    title: str
    accent: str
    bathers: str
    dose_g: float
    most_g: float
    ph: list[float]
    acidity: Table
    """Charge of a bath held at each pH [mol/kg water], of ``own`` water, whose other readings stay,
    and of ``usual`` water, of which only the alkalinity is known: shape (alkalinity, dose, pH), as
    `packed`; ``foam`` is what the foam bath adds in a litre of bath, by pH."""
    thinnings: list[float]
    """1 over the volume of the bath [1/L], for the shares of the colours' forms."""
    colours: list[BoardColour]
    homes: list[BoardHome]
    """The maker's own, then others."""
    sight: Table
    """How a tub is looked at: `indicator.optics.View` without its depth, the eye by wavelength, and
    colour words by L*, a* and b*: bytes, each an index into ``phrases``."""
    limits: Table
    """pH and acid reserve [meq/L] from which each caution level holds; CIEDE2000 from which a
    colour is hardly visible, visible, strong, and a change subtle, obvious."""
    mixing: Table
    """Seconds and litres of a pour, for the film."""
    toml: dict[str, str]
    """Recipe of an ``"own"`` and a ``"usual"`` home, whose slots the page fills."""
    made: str


def board_of(inputs: RecipeInputs, tables: Mapping[str, Any]) -> Board:
    """The board of a recipe.

    Parameters
    ----------
    inputs : RecipeInputs
        The recipe in core units.
    tables : mapping
        The same as written.

    Returns
    -------
    Board
    """
    refuse_learnt(inputs)
    told = CardWords(inputs.card.language)
    homes = [_home(name, inputs) for name in HOMES]
    dose = float(make_plan(inputs).dose_g.best)
    dose = float(f"{dose:.3g}") if np.isfinite(dose) else 0.0
    most_g = _round_up(MOST_TIMES * dose if dose > 0 else MOST_G_L * homes[0].litres)
    thinnings = _thinnings(inputs, homes)
    who = judged_bathers(inputs.wish.bathers)
    return Board(
        language=inputs.card.language,
        units=units(inputs),
        title=inputs.title,
        accent=inputs.card.accent,
        bathers=who,
        dose_g=dose,
        most_g=most_g,
        ph=PH.tolist(),
        acidity=_acidity(inputs, homes, most_g),
        thinnings=thinnings.tolist(),
        colours=[_colour(colour, inputs, thinnings, told) for colour in inputs.colours],
        homes=homes,
        sight=_sight(assemble(inputs).view, told),
        limits=_limits(who),
        mixing=_mixing(inputs.activator.pouring),
        toml={water: _recipe(inputs, tables, water, told.language) for water in ("own", "usual")},
        made=date.today().isoformat(),
    )


def board_page(board: Board) -> str:
    """Text of the HTML file of a board."""
    words, styles = page_words(board.language, "board"), ("card.css", "board.css")
    if board.language == "en" and is_basin(board.homes[0].litres):
        words = {key: in_basin(text) for key, text in words.items()}
    return rendered("board", styles, data=asdict(board), words=words)


def packed(numbers: Array) -> str:
    """Numbers as base64 of little-endian 32-bit floats, the last axis first to change."""
    return base64.b64encode(np.ascontiguousarray(numbers, dtype="<f4").tobytes()).decode()


def _round_up(number: float) -> float:
    """A number with one figure, not below another."""
    unit = 10.0 ** np.floor(np.log10(number))
    return float(np.ceil(number / unit - 1e-9) * unit)


def _home(name: str, inputs: RecipeInputs) -> BoardHome:
    there = home_inputs(name, inputs)
    setting, tap_l = assemble(there), water_l(there.tub)
    return BoardHome(
        litres=round(tap_l, 3),
        least_l=LEAST_L * tap_l,
        most_l=MOST_L * tap_l,
        alkalinity_ppm=round(float(alkalinity_in(float(setting.water.alkalinity_meq_l), "ppm")), 2),
        area_cm2=1000.0 * tap_l / setting.depth_cm,
    )


def _thinnings(inputs: RecipeInputs, homes: list[BoardHome]) -> Array:
    """Volumes of bath over which foam bath is spread, as 1 over litres."""
    fullest, emptiest = max(home.most_l for home in homes), min(home.least_l for home in homes)
    return np.linspace(1.0 / fullest, 1.0 / emptiest, 1 if inputs.foam_bath is None else THINNINGS)


def _acidity(inputs: RecipeInputs, homes: list[BoardHome], most_g: float) -> Table:
    density_kg_l = float(water_density_kg_l(inputs.water_temperature_c))
    ppm = max(MOST_PPM, *(1.25 * home.alkalinity_ppm for home in homes)) * ALKALINITY_SHARES
    alkalinity = np.asarray(alkalinity_meq_l(ppm, "ppm"))
    dose = most_g / density_kg_l / min(home.least_l for home in homes) * DOSE_SHARES
    bare = replace(inputs, foam_bath=None, colours=(), tub=TubInputs(volume_l=BARE_L))

    def charge(recipe: RecipeInputs, meq_l: Array, grams_kg: Array) -> Array:
        setting = assemble(recipe, Truth(alkalinity_meq_l=meq_l))
        bath = setting.bath.with_activator(grams_kg * setting.bath.water_kg, setting.per_gram)
        return np.asarray(solve(bath.totals, bath.temperature_c, ph=PH).charge_error)

    nodes = alkalinity[:, None, None], dose[:, None]
    unread = WaterReadings(instrument="typical")
    middle, nothing = alkalinity[len(alkalinity) // 2], np.zeros(1)
    share = BARE_L / (BARE_L + _foam_l(inputs))
    with_foam = charge(replace(bare, foam_bath=inputs.foam_bath), middle / share, nothing)
    foam = (with_foam - charge(bare, middle, nothing)) * BARE_L / share
    return {
        "alkalinity_ppm": ppm.tolist(),
        "dose_g_kg": dose.tolist(),
        "own": packed(charge(bare, *nodes)),
        "usual": packed(charge(replace(bare, water=unread), *nodes)),
        "foam": _figures(foam),
        "foam_l": _foam_l(inputs),
        "density_kg_l": density_kg_l,
        "neutral_ph": NEUTRAL_PH,
    }


def _foam_l(inputs: RecipeInputs) -> float:
    return 0.0 if inputs.foam_bath is None else inputs.foam_bath.amount_ml / 1000.0


def _colour(
    colour: ColourInputs, inputs: RecipeInputs, thinnings: Array, told: CardWords
) -> BoardColour:
    which = colour.colourant
    bare = replace(inputs, colours=(), tub=TubInputs(volume_l=BARE_L))
    tap_l = 1.0 / thinnings[:, None] - _foam_l(inputs)
    thinned = assemble(bare, Truth(volume=tap_l / BARE_L)).bath.surfactants_g_l
    pka = surfactant_pka((which,), thinned).get(which)
    shares = form_fractions(which, PH, pka)
    if shares.ndim > 2 and np.allclose(shares, shares[0]):
        # Micelles hold as much of it, or nothing, however full the tub is.
        shares = shares[0]
    acid_meq = sum(sour_meq(replace(inputs, colours=(colour,))).values())
    unit = 1.0 / colour.amount if colour.amount > 0 else 0.0
    return BoardColour(
        name=told.named("colourant", which.name, which.label),
        unit=colour.amount_unit,
        amount=colour.amount,
        most=_round_up(MOST_TIMES * colour.amount) if colour.amount > 0 else 1.0,
        strength=unit * colour.content,
        litres=0.0 if colour.held_in == "foam bath" else unit * colour.volume_l,
        acid_mol=unit * acid_meq / 1000.0,
        spectra=_figures(form_spectra(which)[:, ::2]),
        shares=packed(shares),
    )


def _figures(numbers: Array) -> Any:
    """Numbers with six figures, which no eye tells from all of them."""
    digits = 5 - np.floor(np.log10(np.max(np.abs(numbers)) or 1.0))
    return np.round(numbers, int(digits)).tolist()


def _sight(view: View, told: CardWords) -> Table:
    light = light_name(view.light)
    fine = light_weights(light, view.observer_deg)
    # Every second wavelength carries half of its neighbours: spectra are straight between them.
    half = 0.5 * fine[1::2]
    weights = fine[::2] + np.pad(half, ((0, 1), (0, 0))) + np.pad(half, ((1, 0), (0, 0)))
    # Lightness by the middles of its cells, since words change over at their edges.
    levels = np.arange(0.5 * LAB_STEP, 100.0, LAB_STEP)
    sides = np.arange(-LAB_END, LAB_END + 1.0, LAB_STEP)
    lab = np.stack(np.meshgrid(levels, sides, sides, indexing="ij"), axis=-1).reshape(-1, 3)
    phrases, indices = np.unique(describe(lab, colour_word(lab)), return_inverse=True)
    return {
        **{name: value for name, value in asdict(view).items() if isinstance(value, str | float)},
        **{name: view_value(name) for name in ("events_per_scattering", "diffuse_obliquity")},
        "floor": _figures(np.interp(WAVELENGTH_NM[::2], FLOOR_NM, view.floor_reflectance)),
        "weights": weights.tolist(),
        "white": fine.sum(axis=0).tolist(),
        "to_linear": to_linear_srgb(light, view.observer_deg).tolist(),
        "from_linear": SRGB_TO_XYZ.tolist(),
        "screen_white": WHITE.tolist(),
        "words": base64.b64encode(indices.astype("u1").tobytes()).decode(),
        "phrases": [told.phrase(phrase) for phrase in phrases.tolist()],
        "step": LAB_STEP,
        "end": LAB_END,
    }


def _limits(bathers: str) -> Table:
    return {
        "level": level_bands(bathers),
        "reserve": [(row.limit, row.level) for row in limits("acid-reserve", bathers)],
        "seen": [threshold(name) for name in ("hardly_visible", "visible", "strong")],
        "change": [threshold(name) for name in ("change_subtle", "change_obvious")],
    }


def _mixing(pouring: str) -> Table:
    return {
        "pour_s": taken("pour_s", pouring).value,
        "mixed_s": taken("mixed_s", "hand").value,
        "zone_l": taken("pour_zone_l", pouring).value,
        "zone_most": taken("pour_zone_most").value,
        "within": MIXED_WITHIN,
    }


def _recipe(inputs: RecipeInputs, tables: Mapping[str, Any], water: str, language: str) -> str:
    """Text of a recipe with slots for what the sliders show."""

    def slot(name: str, unit: str) -> str:
        return f"{SLOT}{name}{SLOT} {unit}"

    tub, read, written = (tables.get(name) or {} for name in ("tub", "water", "colour"))
    kept = set(read) - NOT_OF_A_SLIDER if water == "own" else {"temperature"}
    filled = {
        "tub": {"volume": slot("litres", "L"), "floor_area": slot("area", "cm2")}
        | _only(tub, LOOKS),
        "water": {"alkalinity": slot("ppm", "ppm")} | _only(read, kept),
        "colour": [
            {**_portable(table), "amount": slot(f"colour{place}", colour.amount_unit)}
            for place, (table, colour) in enumerate(zip(written, inputs.colours, strict=True))
        ],
    }
    comment = page_words(language, "board")["toml_comment"].format(dose=f"{SLOT}dose{SLOT}")
    return recipe_toml(comment, inputs.title, {**tables, **filled})


def _only(table: Mapping[str, Any], keys: Collection[str]) -> dict[str, Any]:
    return {key: value for key, value in table.items() if key in keys}


def _portable(table: Mapping[str, Any]) -> dict[str, Any]:
    """A colour's table whose pigment file is looked for beside the recipe, as it was written."""
    return {
        key: Path(value).name if str(value).endswith(".toml") else value
        for key, value in table.items()
    }
