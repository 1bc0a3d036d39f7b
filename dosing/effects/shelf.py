"""The maker's shelf: which colours and powders a design may take, and what they are poured from."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from difflib import get_close_matches

from dosing.bath.inputs import ColourInputs
from dosing.ingredients.own_acid import own_acid
from dosing.ingredients.powders import powder, powder_names
from dosing.ingredients.trade_values import typical
from dosing.recipe.quantities import InputError
from indicator.notes import Value, say
from indicator.pigments import (
    SHIPPED,
    Colourant,
    Pigments,
    check_distinct,
    dye_molarity,
    infusion_strength,
    trust,
)
from indicator.tables import Sourced, read_table

G_PER_L_AT_ONE_PERCENT = 10.0
DROPS_BELOW_ML = 2.0
"""Below it a dye is counted out in drops, above it drawn up in a syringe."""
SYRINGE_STEPS = ((20.0, 0.1), (math.inf, 1.0))
"""Below how many millilitres a solution is measured out in which steps [mL]."""
JUG_STEPS = ((10.0, 0.5), (100.0, 1.0), (500.0, 5.0), (math.inf, 10.0))
"""The same of an infusion."""


@dataclass(frozen=True)
class Shelf:
    """Colours and powders that a maker owns."""

    colours: tuple[Colourant, ...]
    powders: tuple[str, ...]
    """Keys of activators; empty if the recipe's own is to be taken."""
    whole: bool
    """Whether nothing was chosen, so that every colour known here is on it."""
    pigments: Pigments = SHIPPED
    """What the maker could name."""


@dataclass(frozen=True)
class Stock:
    """The infusion or solution that a colour is poured from."""

    colourant: Colourant
    per_cm_or_molar: float
    """Strength: pH-1 absorbance per cm, or mol/L of a dye."""
    written: str
    """The same as a recipe writes it: ``"2 %"`` or ``"6 /cm"``."""
    grams_per_l: float | None
    """Dried petals, or dye powder as sold [g/L]; None where only an absorbance was measured."""
    measured: bool
    """Whether an instrument or a scale told the strength."""
    acid_meq_l: float
    """Acid of its own [meq/L]."""
    preserved: bool = False

    @property
    def is_dye(self) -> bool:
        """Whether it is a solution of a dye rather than an infusion."""
        return self.colourant.kind == "dye"


@dataclass(frozen=True)
class _StockRow(Sourced):
    dye: str
    percent: float


def whole_shelf(colours: Sequence[ColourInputs] = (), pigments: Pigments = SHIPPED) -> Shelf:
    """Colours of a whole shelf: every colour that the maker could name, and those of a recipe.

    Petals by the trade's reports, which published spectra do not bear out, are no colour of their
    own; they are taken only by name, or where the recipe has them.

    Parameters
    ----------
    colours : sequence of ColourInputs
        Colours of the recipe, of which only the colourant is taken.
    pigments : Pigments
        What the maker can name.

    Returns
    -------
    Shelf
        Every colour once, those of the recipe last; no powders, and `whole` is true.
    """
    of_recipe = [colour.colourant for colour in colours]
    pigments = pigments.beside(of_recipe)
    kept = [which for which in pigments.every if trust(which) != "reported"]
    return Shelf(tuple(dict.fromkeys([*kept, *of_recipe])), (), whole=True, pigments=pigments)


def read_shelf(written: str, pigments: Pigments = SHIPPED) -> Shelf:
    """Colours and powders of a shelf as it is written: names between commas.

    Parameters
    ----------
    written : str
        For instance ``"butterfly-pea, citric-acid"``.
    pigments : Pigments
        What the maker can name.

    Returns
    -------
    Shelf
        In the order of the text, each once; `whole` is false.

    Raises
    ------
    ValueError
        If a name is unknown (the sentence offers the nearest), or no colour is left.
    """
    colours: dict[Colourant, None] = {}
    powders: dict[str, None] = {}
    for name in (part.strip() for part in written.split(",")):
        if not name:
            continue
        item = shelf_item(name, pigments)
        if isinstance(item, str):
            powders[item] = None
        else:
            colours[item] = None
    if not colours:
        raise ValueError(say("design.error.empty-shelf", {"value": written}))
    if not any(which.kind == "pigment" for which in colours):
        raise ValueError(say("design.error.no-pigment", {"value": written}))
    check_distinct(colours)
    return Shelf(tuple(colours), tuple(powders), whole=False, pigments=pigments)


def shelf_item(written: str, pigments: Pigments, field: str = "shelf") -> Colourant | str:
    """Colour or powder that a name on a shelf stands for, as people call it.

    Parameters
    ----------
    written : str
        Name or alias of a pigment, dye or powder, or the path of a pigment file.
    pigments : Pigments
        What the maker can name.
    field : str
        Where it was written.

    Returns
    -------
    Colourant or str
        The colour, or the key of the powder.

    Raises
    ------
    InputError
        If it is neither; the sentence offers the nearest name.
    """
    bare = _BESIDE_THE_NAME.sub(" ", written).strip() or written
    key = known_powder(written) or known_powder(bare)
    if key is not None:
        return key
    try:
        return pigments.find(written if written.casefold().endswith(".toml") else bare)
    except ValueError:
        if written.casefold().endswith(".toml"):
            raise
        known = (*pigments.names, *powder_names(), *_powder_labels())
        close = get_close_matches(_hyphened(written), known, n=1)
        hint = say("error.near", {"name": close[0]}) if close else ""
        values: dict[str, Value] = {"field": field, "value": repr(written), "hint": hint}
        raise InputError(say("design.error.unknown", values), field, written) from None


_BESIDE_THE_NAME = re.compile(
    r"\b(?:fresh|dried|a|an|some|half|heads?|bags?|packs?|leaves|leaf|of)\b", re.I
)
"""Words that people put beside the name of a plant."""


def known_powder(written: str) -> str | None:
    """Key of a powder by its key, an alias or what people call it; None if there is none."""
    wanted = _hyphened(written)
    try:
        return powder(_powder_labels().get(wanted, wanted)).name
    except ValueError:
        return None


def _powder_labels() -> dict[str, str]:
    """What people call a powder, without what stands in brackets, to its key."""
    return {_hyphened(powder(key).label.split(" (")[0]): key for key in powder_names()[::-1]}


def _hyphened(written: str) -> str:
    return "-".join(written.casefold().replace("_", " ").split())


def measured_out(millilitres: float, *, dye: bool) -> float:
    """A volume as a kitchen measures it: a dye by the drop or the syringe, an infusion by the jug.

    Parameters
    ----------
    millilitres : float
        What a mixture asks for [mL].
    dye : bool
        Whether it is a solution of a dye.

    Returns
    -------
    float
        The nearest that can be measured, one step at least [mL].
    """
    steps: Sequence[tuple[float, float]] = SYRINGE_STEPS if dye else JUG_STEPS
    if dye and millilitres < DROPS_BELOW_ML:
        steps = ((DROPS_BELOW_ML, typical("drop_volume").value),)
    step = next(step for below, step in steps if millilitres < below)
    return round(max(round(millilitres / step), 1) * step, 2)


def stocks(shelf: Sequence[Colourant], colours: Sequence[ColourInputs]) -> dict[Colourant, Stock]:
    """Infusions and solutions that colours are poured from: the recipe's bottle, else a usual one.

    Parameters
    ----------
    shelf : sequence of Colourant
        What may be poured.
    colours : sequence of ColourInputs
        Those of the recipe.

    Returns
    -------
    dict of Colourant to Stock
    """
    own = {colour.colourant: colour for colour in colours}
    return {which: _stock(which, own.get(which)) for which in shelf}


def _stock(which: Colourant, own: ColourInputs | None) -> Stock:
    # How a steeped or dropped colour was found cannot be handed to another recipe.
    bottle = None if own is None or own.strength_sd is not None else own.bottle_strength
    preserved = own is not None and own.preserved
    pigment = which.kind == "pigment"
    one_percent = (
        float(infusion_strength(which, 1.0))
        if pigment
        else float(dye_molarity(which, G_PER_L_AT_ONE_PERCENT))
    )
    usual = typical("usual_infusion_percent").value if pigment else _stock_percent(which)
    percent = bottle / one_percent if bottle else usual
    grams_per_l = percent * G_PER_L_AT_ONE_PERCENT
    by_absorbance = pigment and own is not None and bool(bottle) and own.strength_measured
    strength = percent * one_percent
    return Stock(
        colourant=which,
        per_cm_or_molar=bottle if bottle and by_absorbance else strength,
        written=f"{strength:.12g} /cm" if by_absorbance else f"{percent:.12g} %",
        grams_per_l=None if by_absorbance else grams_per_l,
        measured=not pigment or by_absorbance,
        acid_meq_l=grams_per_l * own_acid(which).meq_per_g,
        preserved=preserved,
    )


def _stock_percent(dye: Colourant) -> float:
    rows: Mapping[str, float] = {
        row.dye: row.percent for row in read_table("colour/stock_solutions.csv", _StockRow)
    }
    return rows.get(dye.family, rows["any"])
