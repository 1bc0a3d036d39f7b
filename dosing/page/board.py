"""The maker's board: tables of a recipe that a page turns into pH and colour as sliders move.

No page solves a chemical equation. At each pH of a table stands the charge that a bath held there
would have; where a straight line through the table is 0 lies the bath's pH. That charge is nearly
a plane over alkalinity, activator and foam bath, so that few nodes hold it.
"""

from __future__ import annotations

import base64
from collections.abc import Mapping
from dataclasses import asdict, dataclass, replace
from datetime import date
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from dosing.bath.assembled import Setting, Truth, assemble, sour_meq
from dosing.bath.inputs import ColourInputs, RecipeInputs, TubInputs
from dosing.bath.mixed import NEUTRAL_PH, surfactant_pka
from dosing.bath.mixing import taken
from dosing.equilibrium import solve, water_density_kg_l
from dosing.ingredients.hardness_units import alkalinity_in, alkalinity_meq_l
from dosing.ingredients.water import WaterReadings
from dosing.page.card import level_bands
from dosing.page.html import rendered
from dosing.page.records import LevelBand
from dosing.page.words import CardWords
from dosing.plan.answer import make_plan
from dosing.plan.households import OWN, home_inputs
from dosing.plan.levels import judged_bathers, limits
from dosing.recipe.writing import recipe_toml
from dosing.soak.zones import MIXED_WITHIN
from indicator.absorbance import WAVELENGTH_NM, form_fractions, form_spectra
from indicator.appearance import light_name, light_weights, to_linear_srgb
from indicator.optics import FLOOR_NM, View, view_value
from indicator.srgb import SRGB_TO_XYZ, WHITE
from indicator.tables import read_toml
from indicator.words import colour_word, describe, threshold

Array = NDArray[np.float64]

HOMES = (OWN, "soft-small", "medium-small", "hard-large")
"""Homes of the board, the maker's own first; the others from ``data/trade/homes.csv``."""
PH = np.arange(1.0, 12.01, 0.1)
ALKALINITY_SHARES = np.linspace(0.0, 1.0, 11) ** 2
DOSE_SHARES = np.linspace(0.0, 1.0, 16) ** 3
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
ALIKE = 1e-5
"""Shares of forms that no eye tells apart."""
BARE_L = 100.0
LAB_STEP, LAB_END = 5.0, 100.0
"""Side of the cells of the table of colour words, and the last a* and b* in it."""
NOT_OF_A_SLIDER = (
    "alkalinity", "carbonate_hardness", "bicarbonate", "instrument", "drop_step", "thinned",
)  # fmt: skip
"""How an alkalinity was read that a slider has moved since."""
WARMTH = ("temperature",)
SLOT = "\ue000"
"""Stands around the name of what the page fills into a recipe."""


@dataclass(frozen=True)
class Acidity:
    """Charge of a bath held at each pH [mol/kg water], and where its nodes stand."""

    alkalinity_ppm: list[float]
    """Of the filled tub."""
    dose_g_kg: list[float]
    """Activator over water."""
    own: str
    """Charge for the maker's water, whose other readings stay, without foam bath: shape
    (alkalinity, dose, pH), as `packed`."""
    usual: str
    """The same for a water of which only the alkalinity is known."""
    foam: list[float]
    """What the foam bath adds to it, by pH, in a litre of bath [mol/kg]; it goes down as the bath
    grows."""
    density_kg_l: float
    neutral_ph: float = NEUTRAL_PH


@dataclass(frozen=True)
class BoardColour:
    """One colour, by the amount that its slider shows."""

    name: str
    kind: str
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

    water: str
    """``"own"`` or ``"usual"``: which table of `Acidity` is its."""
    litres: float
    least_l: float
    most_l: float
    alkalinity_ppm: float
    area_cm2: float


@dataclass(frozen=True)
class Sight:
    """How a tub is looked at: `indicator.optics.View` without its depth, and the eye."""

    kind: str
    path_cm: float
    floor: list[float]
    """By wavelength."""
    weights: list[list[float]]
    """To X, Y and Z, by wavelength."""
    white: list[float]
    to_linear: list[list[float]]
    from_linear: list[list[float]]
    screen_white: list[float]
    words: str
    """Colour word by L*, a* and b*: bytes, an index into `phrases`."""
    phrases: list[str]
    step: float = LAB_STEP
    end: float = LAB_END


@dataclass(frozen=True)
class Limits:
    """Where levels and words change over."""

    level: tuple[LevelBand, ...]
    reserve: list[tuple[float, str]]
    """Acid reserve [meq/L] from which a caution level holds."""
    seen: list[float]
    """CIEDE2000 from which a colour is hardly visible, visible, strong."""
    change: list[float]
    """CIEDE2000 from which a change is subtle, obvious."""


@dataclass(frozen=True)
class Mixing:
    """Course of a pour, for the film."""

    pour_s: float
    mixed_s: float
    zone_l: float
    zone_most: float
    within: float = MIXED_WITHIN


@dataclass(frozen=True)
class Board:
    """All that the page of a board needs."""

    language: str
    title: str
    accent: str
    bathers: str
    dose_g: float
    most_g: float
    foam_l: float
    ph: list[float]
    acidity: Acidity
    thinnings: list[float]
    """1 over the volume of the bath [1/L], for the shares of the colours' forms."""
    colours: list[BoardColour]
    homes: list[BoardHome]
    sight: Sight
    surface: dict[str, float]
    """Numbers of the view, named as its fields."""
    limits: Limits
    mixing: Mixing
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
    own = assemble(inputs)
    told = CardWords(inputs.card.language)
    homes = [_home(name, inputs) for name in HOMES]
    dose = float(make_plan(inputs).dose_g.best)
    dose = float(f"{dose:.3g}") if np.isfinite(dose) else 0.0
    most_g = _round_up(MOST_TIMES * dose if dose > 0 else MOST_G_L * homes[0].litres)
    thinnings = _thinnings(inputs, homes)
    who = judged_bathers(inputs.wish.bathers)
    return Board(
        language=inputs.card.language,
        title=inputs.title,
        accent=inputs.card.accent,
        bathers=who,
        dose_g=dose,
        most_g=most_g,
        foam_l=_foam_l(inputs),
        ph=np.round(PH, 2).tolist(),
        acidity=_acidity(inputs, homes, most_g),
        thinnings=thinnings.tolist(),
        colours=[_colour(colour, inputs, thinnings, told) for colour in inputs.colours],
        homes=homes,
        sight=_sight(own.view, told),
        surface={
            **{name: value for name, value in asdict(own.view).items() if _is_number(value)},
            **{name: view_value(name) for name in ("events_per_scattering", "diffuse_obliquity")},
        },
        limits=_limits(who),
        mixing=_mixing(inputs.activator.pouring),
        toml={water: _recipe(inputs, tables, water, told.language) for water in ("own", "usual")},
        made=date.today().isoformat(),
    )


def board_page(board: Board) -> str:
    """Text of the HTML file of a board."""
    words = read_toml(f"text/{board.language}/board.toml")
    return rendered("board", ("card.css", "board.css"), data=asdict(board), words=words)


def packed(numbers: Array) -> str:
    """Numbers as base64 of little-endian 32-bit floats, the last axis first to change."""
    return base64.b64encode(np.ascontiguousarray(numbers, dtype="<f4").tobytes()).decode()


def _is_number(value: object) -> bool:
    return isinstance(value, float | int)


def _round_up(number: float) -> float:
    """A number with one figure, not below another."""
    unit = 10.0 ** np.floor(np.log10(number))
    return float(np.ceil(number / unit - 1e-9) * unit)


def _home(name: str, inputs: RecipeInputs) -> BoardHome:
    setting = assemble(home_inputs(name, inputs))
    tap_l = _tap_l(setting, inputs)
    return BoardHome(
        water="own" if name == OWN else "usual",
        litres=round(tap_l, 3),
        least_l=LEAST_L * tap_l,
        most_l=MOST_L * tap_l,
        alkalinity_ppm=round(float(alkalinity_in(float(setting.water.alkalinity_meq_l), "ppm")), 2),
        area_cm2=1000.0 * tap_l / setting.depth_cm,
    )


def _tap_l(setting: Setting, inputs: RecipeInputs) -> float:
    """Tap water of a home, without what is poured into it [L]."""
    own_l = sum(each.volume_l for each in inputs.colours if each.held_in != "foam bath")
    return float(setting.bath.volume_l) - _foam_l(inputs) - own_l


def _thinnings(inputs: RecipeInputs, homes: list[BoardHome]) -> Array:
    """Volumes of bath over which foam bath is spread, as 1 over litres."""
    fullest, emptiest = max(home.most_l for home in homes), min(home.least_l for home in homes)
    return np.linspace(1.0 / fullest, 1.0 / emptiest, 1 if inputs.foam_bath is None else THINNINGS)


def _acidity(inputs: RecipeInputs, homes: list[BoardHome], most_g: float) -> Acidity:
    density = float(water_density_kg_l(inputs.water_temperature_c))
    most_ppm = max(MOST_PPM, *(1.25 * home.alkalinity_ppm for home in homes))
    ppm = most_ppm * ALKALINITY_SHARES
    alkalinity = np.asarray(alkalinity_meq_l(ppm, "ppm"))
    dose = most_g / density / min(home.least_l for home in homes) * DOSE_SHARES
    bare = replace(inputs, foam_bath=None, colours=(), tub=TubInputs(volume_l=BARE_L))

    def charge(recipe: RecipeInputs, meq_l: Array, grams_kg: Array) -> Array:
        setting = assemble(recipe, Truth(alkalinity_meq_l=meq_l))
        bath = setting.bath.with_activator(grams_kg * setting.bath.water_kg, setting.per_gram)
        return np.asarray(solve(bath.totals, bath.temperature_c, ph=PH).charge_error)

    nodes = alkalinity[:, None, None], dose[:, None]
    usual = replace(bare, water=WaterReadings(alkalinity_meq_l=1.0, instrument="typical"))
    middle = np.array([alkalinity[len(alkalinity) // 2]])
    share = BARE_L / (BARE_L + _foam_l(inputs))
    with_foam = charge(replace(bare, foam_bath=inputs.foam_bath), middle / share, np.zeros(1))
    foam = (with_foam - charge(bare, middle, np.zeros(1))) * BARE_L / share
    return Acidity(
        alkalinity_ppm=ppm.tolist(),
        dose_g_kg=dose.tolist(),
        own=packed(charge(bare, *nodes)),
        usual=packed(charge(usual, *nodes)),
        foam=[float(f"{each:.6g}") for each in foam],
        density_kg_l=density,
    )


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
    if shares.ndim > 2 and np.ptp(shares, axis=0).max() < ALIKE:
        # Micelles hold as much of it, or nothing, however full the tub is.
        shares = shares[0]
    acid_meq = sum(sour_meq(replace(inputs, colours=(colour,))).values())
    unit = 1.0 / colour.amount if colour.amount > 0 else 0.0
    return BoardColour(
        name=told.named("colourant", which.name, which.label),
        kind=which.kind,
        unit=colour.amount_unit,
        amount=colour.amount,
        most=_round_up(MOST_TIMES * colour.amount) if colour.amount > 0 else 1.0,
        strength=unit * colour.content,
        litres=0.0 if colour.held_in == "foam bath" else unit * colour.volume_l,
        acid_mol=unit * acid_meq / 1000.0,
        spectra=_figures(form_spectra(which)[:, ::2]),
        shares=packed(shares),
    )


def _figures(numbers: Array) -> list[list[float]]:
    """Rows with five figures, which no eye tells from all of them."""
    return [[float(f"{number:.5g}") for number in row] for row in numbers]


def _sight(view: View, told: CardWords) -> Sight:
    light = light_name(view.light)
    fine = light_weights(light, view.observer_deg)
    # Every second wavelength carries half of its neighbours: spectra are straight between them.
    weights = fine[::2].copy()
    weights[:-1] += 0.5 * fine[1::2]
    weights[1:] += 0.5 * fine[1::2]
    floor = np.interp(WAVELENGTH_NM[::2], FLOOR_NM, view.floor_reflectance)
    indices, phrases = _words()
    return Sight(
        kind=view.kind,
        path_cm=view.path_cm,
        floor=np.round(floor, 5).tolist(),
        weights=weights.tolist(),
        white=fine.sum(axis=0).tolist(),
        to_linear=to_linear_srgb(light, view.observer_deg).tolist(),
        from_linear=SRGB_TO_XYZ.tolist(),
        screen_white=WHITE.tolist(),
        words=base64.b64encode(indices.astype("u1").tobytes()).decode(),
        phrases=[told.phrase(phrase) for phrase in phrases],
    )


def _words() -> tuple[NDArray[np.int_], list[str]]:
    """Colour words by L*, a* and b*, and those that occur."""
    # Lightness by the middles of its cells, since words change over at their edges.
    light = np.arange(0.5 * LAB_STEP, 100.0, LAB_STEP)
    sides = np.arange(-LAB_END, LAB_END + 1.0, LAB_STEP)
    lab = np.stack(np.meshgrid(light, sides, sides, indexing="ij"), axis=-1).reshape(-1, 3)
    phrases, indices = np.unique(describe(lab, colour_word(lab)), return_inverse=True)
    return indices, phrases.tolist()


def _limits(bathers: str) -> Limits:
    return Limits(
        level=level_bands(bathers),
        reserve=[(row.limit, row.level) for row in limits("acid-reserve", bathers)],
        seen=[threshold(name) for name in ("hardly_visible", "visible", "strong")],
        change=[threshold(name) for name in ("change_subtle", "change_obvious")],
    )


def _mixing(pouring: str) -> Mixing:
    return Mixing(
        pour_s=taken("pour_s", pouring).value,
        mixed_s=taken("mixed_s", "hand").value,
        zone_l=taken("pour_zone_l", pouring).value,
        zone_most=taken("pour_zone_most").value,
    )


def _recipe(inputs: RecipeInputs, tables: Mapping[str, Any], water: str, language: str) -> str:
    """Text of a recipe with slots for what the sliders show."""

    def slot(name: str, unit: str) -> str:
        return f"{SLOT}{name}{SLOT} {unit}"

    looks = ("floor", "cloud", "foam_cover", *(("volume_measured",) if water == "own" else ()))
    tub, read = tables.get("tub") or {}, tables.get("water") or {}
    kept = [key for key in read if key not in NOT_OF_A_SLIDER] if water == "own" else WARMTH
    filled = {
        "tub": {
            "volume": slot("litres", "L"),
            "floor_area": slot("area", "cm2"),
            **{key: tub[key] for key in looks if key in tub},
        },
        "water": {
            "alkalinity": slot("ppm", "ppm"),
            **{key: read[key] for key in kept if key in read},
        },
        "colour": [
            {**_portable(table), "amount": slot(f"colour{place}", colour.amount_unit)}
            for place, (table, colour) in enumerate(
                zip(tables.get("colour") or (), inputs.colours, strict=True)
            )
        ],
    }
    comment = read_toml(f"text/{language}/board.toml")["toml_comment"]
    dose = comment.format(dose=f"{SLOT}dose{SLOT}")
    return recipe_toml(dose, inputs.title, {**tables, **filled})


def _portable(table: Mapping[str, Any]) -> dict[str, Any]:
    """A colour's table whose pigment file is looked for beside the recipe, as it was written."""
    return {
        key: Path(value).name if str(value).endswith(".toml") else value
        for key, value in table.items()
    }
