"""Households: the same bottle and the same sachet at home and in other people's waters and tubs."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from dosing.bath.assembled import Setting, Truth, assemble, water_l
from dosing.bath.chalk import chalked
from dosing.bath.inputs import RecipeInputs, TubInputs
from dosing.bath.mixed import NEUTRAL_PH, air_ends_ppm
from dosing.ingredients.trade_values import is_basin
from dosing.ingredients.water import Reading, WaterReadings
from dosing.plan.cautions import Caution
from dosing.plan.levels import LEVELS, bath_level, judged_bathers
from dosing.plan.records import Sight, Wish
from dosing.plan.rules import past_elsewhere
from indicator.appearance import delta_e
from indicator.tables import Sourced, read_table
from indicator.words import change_level, matches_word

OWN = "own"
"""Name, water and size of the maker's own home."""
TURNS, DOES_NOT_TURN = "turns", "does not turn"
TOO_SOUR, TOO_ALKALINE = "too sour", "too alkaline"
PAST_LIMIT = (TOO_SOUR, TOO_ALKALINE)


@dataclass(frozen=True)
class _HomeRow(Sourced):
    name: str
    water: str
    alkalinity_meq_l: float
    hardness_mmol_l: float
    ph: float
    size: str
    volume_l: float
    share: float


@dataclass(frozen=True)
class Home:
    """Water, pH, colours and verdict of one household."""

    name: str
    """Key in ``data/trade/homes.csv``, or `OWN`."""
    water: str
    """``"soft"`` to ``"hardest"``, or `OWN`."""
    size: str
    """``"small"`` or ``"large"`` tub, or `OWN`."""
    volume_l: float
    alkalinity_meq_l: float
    before: Sight
    after: Sight
    change_delta_e: float
    level: str
    """Caution level of the pH, and of the acid reserve."""
    verdict: str
    """``"turns"``, ``"does not turn"`` or ``"too sour"`` or ``"too alkaline"``."""

    @property
    def ph(self) -> float:
        """Of the tub after pouring."""
        return self.after.ph


def six_homes(inputs: RecipeInputs, grams: float, wish: Wish, accepted: str) -> tuple[Home, ...]:
    """PH, colour and verdict of the same grams and bottle in the maker's home and in five others.

    Parameters
    ----------
    inputs : RecipeInputs
        Whose product, activator, temperature and bathers are kept.
    grams : float
        The sachet [g].
    wish : Wish
        What counts as turned: the wished colour word, else an obvious change.
    accepted : str
        The heaviest caution level that a pH may have.

    Returns
    -------
    tuple of Home
        The maker's own as read first, then those of ``data/trade/homes.csv``.

    Raises
    ------
    ValueError
        If a name in the recipe is unknown.
    """
    others = tuple(_home(_moved(row, inputs), row, grams, wish, accepted) for row in _rows())
    return (_home(inputs, None, grams, wish, accepted), *others)


def elsewhere(
    inputs: RecipeInputs, grams: float, homes: Setting | None = None
) -> tuple[Caution, ...]:
    """Caution on giving the same grams away, by the pH in stated homes other than the maker's.

    Just poured, and with the gas gone. All homes are one batch.

    Parameters
    ----------
    inputs : RecipeInputs
        As for `six_homes`.
    grams : float
        The sachet [g].
    homes : Setting, optional
        `stated_homes`, if they are assembled already.

    Returns
    -------
    tuple of Caution
        One or none.
    """
    bathers = judged_bathers(inputs.wish.bathers)
    if bathers == "nobody":
        return ()
    setting = homes or stated_homes(inputs)
    bath = setting.bath.with_activator(grams, setting.per_gram)
    aired = bath.solve(pco2_ppm=np.array(air_ends_ppm())[:, None]).ph
    ph = np.concatenate([bath.ph[None], aired])
    levels = bath_level(ph, bath.acid_reserve_meq_l(), bathers).max(axis=0)
    # Nobody else has read a maker's written reason.
    return past_elsewhere(levels, ph, LEVELS.index("mind"))


def stated_homes(inputs: RecipeInputs) -> Setting:
    """The stated homes beside the maker's own, before any dose; batch shape (homes,)."""
    rows = _rows()
    columns = zip(*map(_readings, rows), strict=True)
    alkalinity, hardness, ph = (np.array(column, dtype=np.float64) for column in columns)
    readings = _water(alkalinity, hardness, ph)
    volumes_l = np.array(_home_volumes_l(rows, inputs))
    whole = replace(in_tub(inputs, float(volumes_l[0])), water=readings)
    return assemble(whole, Truth(volume=volumes_l / volumes_l[0]))


def _home_volumes_l(rows: Sequence[_HomeRow], inputs: RecipeInputs) -> list[float]:
    """Water of each home [L]; into a vessel too small for a bath, its share of the recipe's."""
    if not small_vessel(inputs):
        return [row.volume_l for row in rows]
    own_l = float(assemble(inputs).bath.volume_l)
    return [row.share * own_l for row in rows]


def home_inputs(name: str, inputs: RecipeInputs) -> RecipeInputs:
    """Recipe in one of the stated homes, or as it is for `OWN`.

    Parameters
    ----------
    name : str
        `OWN`, or a home of ``data/trade/homes.csv``.
    inputs : RecipeInputs
        Of the maker's home.

    Returns
    -------
    RecipeInputs
        With the water, tub and readings of that home.

    Raises
    ------
    ValueError
        If there is no home of that name.
    """
    if name == OWN:
        return inputs
    known = {row.name: row for row in _rows()}
    if name not in known:
        raise ValueError(f"home is {name!r}; accepted are {', '.join((OWN, *known))}")
    return _moved(known[name], inputs)


def in_tub(inputs: RecipeInputs, volume_l: float) -> RecipeInputs:
    """Recipe with another volume of water, in a tub of the same kind.

    Parameters
    ----------
    inputs : RecipeInputs
        The recipe in core units.
    volume_l : float
        Water in the tub [L].

    Returns
    -------
    RecipeInputs
        With that volume as measured.
    """
    # A small vessel keeps its floor; other tubs have the floor of a usual one.
    area = inputs.tub.floor_area_cm2 if small_vessel(inputs) else None
    tub = TubInputs(volume_l=volume_l, volume_measured=True, floor_area_cm2=area)
    return replace(inputs, tub=tub, learnt=None)


def small_vessel(inputs: RecipeInputs) -> bool:
    """Whether the recipe's vessel is too small to be a bath tub."""
    return is_basin(water_l(inputs.tub))


def _moved(row: _HomeRow, inputs: RecipeInputs) -> RecipeInputs:
    (volume_l,) = _home_volumes_l((row,), inputs)
    return replace(in_tub(inputs, volume_l), water=_water(*_readings(row)))


def _readings(row: _HomeRow) -> tuple[float, float, float]:
    return row.alkalinity_meq_l, row.hardness_mmol_l, row.ph


def _water(alkalinity_meq_l: Reading, hardness_mmol_l: Reading, ph: Reading) -> WaterReadings:
    return WaterReadings(alkalinity_meq_l, ph, hardness_mmol_l, instrument="typical")


def _rows() -> list[_HomeRow]:
    return list(read_table("trade/homes.csv", _HomeRow))


def _home(
    inputs: RecipeInputs, row: _HomeRow | None, grams: float, wish: Wish, accepted: str
) -> Home:
    """One household; without a row the maker's own."""
    setting = assemble(inputs)
    before, after = (
        bath.solve()
        for bath in (setting.bath, setting.bath.with_activator(grams, setting.per_gram))
    )
    seen = [
        Sight(name, float(solved.ph), solved.seen(setting.view))
        for name, solved in (("before", before), ("after", after))
    ]
    bathers = judged_bathers(inputs.wish.bathers)
    settled = chalked("after", after, setting.view)
    ends = seen[1:] if settled is None else [*seen[1:], Sight("after", settled.ph, settled.colour)]
    changes = [float(delta_e(seen[0].colour.lab, end.colour.lab)) for end in ends]
    level = LEVELS[int(bath_level(after.ph, after.bath.acid_reserve_meq_l(), bathers))]
    return Home(
        name=OWN if row is None else row.name,
        water=OWN if row is None else row.water,
        size=OWN if row is None else row.size,
        volume_l=float(setting.bath.volume_l),
        alkalinity_meq_l=float(setting.water.alkalinity_meq_l),
        before=seen[0],
        after=seen[1],
        change_delta_e=changes[0],
        level=level,
        # It turns where it does with all its chalk out as well as with none.
        verdict=min(
            (verdict(*end, level, wish, accepted) for end in zip(ends, changes, strict=True)),
            key=(*PAST_LIMIT, DOES_NOT_TURN, TURNS).index,
        ),
    )


def verdict(after: Sight, change: float, level: str, wish: Wish, accepted: str) -> str:
    """Whether a home turns, does not, or ends where its bathers should not be.

    Parameters
    ----------
    after : Sight
        The tub after pouring.
    change : float
        CIEDE2000 against the tub before.
    level : str
        Caution level of its pH and acid reserve.
    wish : Wish
        What counts as turned: the wished colour word, else an obvious change.
    accepted : str
        The heaviest caution level that a pH may have.

    Returns
    -------
    str
        `TURNS`, `DOES_NOT_TURN`, `TOO_SOUR` or `TOO_ALKALINE`.
    """
    if LEVELS.index(level) > LEVELS.index(accepted):
        return TOO_SOUR if after.ph < NEUTRAL_PH else TOO_ALKALINE
    turned = str(change_level(change)) == "obvious"
    if wish.word is not None:
        turned = bool(matches_word(after.colour.patch, wish.word))
    return TURNS if turned else DOES_NOT_TURN
