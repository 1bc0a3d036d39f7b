"""Tap water: from what a householder can read to the totals of a solution.

Alkalinity, hardness and pH are enough; a water report gives more ions. What nobody measured is
assumed openly, and the water is made electroneutral before its inorganic carbon is found.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from dosing.equilibrium import (
    PHS,
    TEMPERATURES_C,
    Array,
    carbon_from_alkalinity,
    strong_charge,
    water_density_kg_l,
)
from dosing.ingredients.hardness_units import alkalinity_in
from dosing.ingredients.told import Told
from dosing.ingredients.trade_values import middle, named, names_of, reading_spread, typical
from indicator.accepted import as_text, number, numbers, of_kind
from indicator.notes import Note
from indicator.tables import Sourced

Reading = ArrayLike | None
_TABLE = "trade/waters.csv"

_ALKALI = {"Na": "sodium", "K": "potassium"}
_ANIONS = {"Cl": "chloride", "SO4": "sulfate", "NO3": "nitrate"}
"""Component: name of its reading, and of its usual share among the ions nobody measured."""

_MAIN_IONS = {"Na", "Cl", "SO4"}
_ENDS = ("alkalinity_low_meq_l", "alkalinity_high_meq_l")
_HOW_READ = (
    *("instrument", "reading_temperature_c", "typical", "thinned", "drop_step_meq_l"),
    *_ENDS,
)

TOO_ACID = "warn.water.ph-too-acid"
"""Of readings of which one must be wrong."""
LEAST_CARBON = 1e-9
"""Inorganic carbon that any water holds [mol/kg]; without any there would be no such species."""


MOST_IN_A_LITRE = 10_000.0
"""Of anything dissolved [mmol, meq]: keeps a mistaken unit out."""


@dataclass(frozen=True)
class WaterReadings:
    """Readings of a strip, a kit, a meter or a water report; None where nothing was read."""

    alkalinity_meq_l: Reading = None
    """Alkalinity (acid capacity to about pH 4.3-4.5) [meq/L]."""
    ph: Reading = None
    """pH at the reading temperature."""
    hardness_mmol_l: Reading = None
    """Calcium plus magnesium [mmol/L]."""
    calcium_mmol_l: Reading = None
    """Calcium [mmol/L]."""
    magnesium_mmol_l: Reading = None
    """Magnesium [mmol/L]."""
    sodium_mmol_l: Reading = None
    """Sodium [mmol/L]."""
    potassium_mmol_l: Reading = None
    """Potassium [mmol/L]."""
    chloride_mmol_l: Reading = None
    """Chloride [mmol/L]."""
    sulfate_mmol_l: Reading = None
    """Sulfate [mmol/L]."""
    nitrate_mmol_l: Reading = None
    """Nitrate [mmol/L]."""
    reading_temperature_c: ArrayLike = 25.0
    """Temperature of the water when the pH was read [°C]."""
    instrument: str | None = None
    """What the readings were taken with, a name that `reading_spread` knows."""
    carbonate_hardness_meq_l: Reading = None
    """Carbonate hardness [meq/L]: stands in for the alkalinity, or is checked against it."""
    typical: bool = False
    """Whether the alkalinity is that of a typical water that was named, and nobody read it."""
    thinned: float = 1.0
    """How many times the water was thinned for the reading of its alkalinity."""
    drop_step_meq_l: float | None = None
    """What a drop of a kit is worth [meq/L]; None for the coarsest usual kit. The alkalinity above
    is without the half drop by which a count of whole drops is high (`drops_counted_meq_l`)."""
    alkalinity_low_meq_l: float | None = None
    """Lower end of nine cases in ten, as a jar test left it open [meq/L]; None where the instrument
    alone says how far a reading may be off."""
    alkalinity_high_meq_l: float | None = None
    """Upper end likewise [meq/L]."""


@dataclass(frozen=True)
class TapWater:
    """Tap water as totals of a solution."""

    totals: Mapping[str, Array]
    """Component to total [mol/kg water], each in the batch shape; charges balance."""
    alkalinity_meq_l: Array
    """Alkalinity that the totals carry [meq/L]."""
    hardness_mmol_l: Array
    """Calcium plus magnesium [mmol/L]."""
    ph: Array
    """pH at `temperature_c`."""
    temperature_c: Array
    """Temperature to which `ph` belongs [°C]."""
    imbalance_percent: Array
    """Charge that the readings left over, (cations - anions) / (cations + anions) [%]."""
    assumptions: tuple[Note, ...]
    """What was assumed because nobody measured it."""
    warnings: tuple[Note, ...]
    """Where the readings are doubtful or contradict one another."""


@dataclass(frozen=True)
class Contradiction:
    """A pH that no tap water of such an alkalinity has."""

    ph: float
    alkalinity_ppm: float
    """As calcium carbonate [mg/L]."""
    alkalinity_read: bool = True
    """Whether it was read, or is a guess from other readings."""


@dataclass(frozen=True)
class _WaterRow(Sourced):
    name: str
    alkalinity_meq_l: float
    hardness_mmol_l: float
    ph: float
    aliases: str


def tap_water(readings: WaterReadings) -> TapWater:
    """Totals of a tap water that agree with the readings and are electroneutral.

    Measured ions are kept. Of the others, anions complete the charge where anions are short and
    sodium (with a little potassium) where cations are short. Where everything was measured and
    a charge remains, an inert ion closes it and a warning gives the imbalance. The inorganic
    carbon is the one that gives the alkalinity at the pH and temperature of the reading.

    Parameters
    ----------
    readings : WaterReadings
        Numbers or arrays that broadcast to one batch shape.

    Returns
    -------
    TapWater
        NaN where a reading is NaN.

    Raises
    ------
    ValueError
        If a reading is negative or infinite.
    """
    given, told = _checked(readings), Told()
    ph = given.get("ph")
    if ph is None:
        ph = np.asarray(typical("tap_ph").value)
        told.add("assume.water.ph", "water.ph", ph=float(ph))
    temperature = np.asarray(readings.reading_temperature_c, dtype=float)
    hard = _calcium_magnesium(given, told)
    alkalinity = _alkalinity(given, hard, told)
    _tell_last_step(readings, told)
    if hard is None:
        hardness = usual_hardness(alkalinity)
        told.add("assume.water.hardness", "water.hardness", hardness_mmol_l=middle(hardness))
        hard = _split(hardness, told)
    _tell_soda_water(alkalinity, hard[0] + hard[1], told)
    ions = dict(zip(("Ca", "Mg"), hard, strict=True)) | _other_ions(given)
    ions, imbalance = _neutral(ions, alkalinity, told)
    low, high = typical("tap_ph_lowest").value, typical("tap_ph_highest").value
    if middle(ph) < low or middle(ph) > high:
        told.add("warn.water.ph-unusual", "water.ph", ph=middle(ph), low=low, high=high)
    totals = _with_carbon(ions, alkalinity, ph, temperature, told)
    shape = np.broadcast_shapes(*(np.shape(total) for total in totals.values()), ph.shape)

    def full(part: ArrayLike) -> Array:
        return np.broadcast_to(np.asarray(part, dtype=float), shape)[()]

    return TapWater(
        totals={name: full(total) for name, total in totals.items()},
        alkalinity_meq_l=full(alkalinity),
        hardness_mmol_l=full(sum(hard)),
        ph=full(ph),
        temperature_c=full(temperature),
        imbalance_percent=full(imbalance),
        assumptions=tuple(told.assumptions),
        warnings=tuple(told.warnings),
    )


def check_one_water(readings: WaterReadings) -> None:
    """Refuse readings of several waters, or one that is not known: a dose needs one known water.

    Raises
    ------
    TypeError, ValueError
        Naming the reading.
    """
    for name, values in _checked(readings).items():
        number(name, values, 0.0, MOST_IN_A_LITRE)
    number("reading_temperature_c", readings.reading_temperature_c, *TEMPERATURES_C)


def contradicted(readings: WaterReadings) -> Contradiction | None:
    """Readings of which one must be wrong; None where a tap water may have both."""
    if readings.ph is None or middle(readings.ph) >= typical("tap_ph").value:
        # Only a pH below the usual one can hide an acid water; most recipes are done here.
        return None
    tap = tap_water(readings)
    if all(note.code != TOO_ACID for note in tap.warnings):
        return None
    ppm = float(alkalinity_in(middle(tap.alkalinity_meq_l), "mg_l_caco3"))
    read = readings.alkalinity_meq_l, readings.carbonate_hardness_meq_l
    return Contradiction(middle(readings.ph), ppm, any(given is not None for given in read))


def drops_counted_meq_l(read_meq_l: ArrayLike, step_meq_l: ArrayLike) -> Array:
    """Likeliest alkalinity where whole drops were counted up to the change of colour.

    The last drop was more than it took, by half a drop on average.

    Parameters
    ----------
    read_meq_l : array_like
        Drops times what a drop is worth [meq/L].
    step_meq_l : array_like
        What a drop is worth [meq/L].

    Returns
    -------
    numpy.ndarray
        Alkalinity [meq/L], the broadcast shape; never below 0.
    """
    half = np.asarray(step_meq_l, dtype=float) / 2.0
    return np.asarray(np.maximum(np.asarray(read_meq_l, dtype=float) - half, 0.0))


def usual_drop_step_meq_l(read_meq_l: ArrayLike) -> Array:
    """Worth of a drop where nobody said: the coarsest usual step, or all of a small reading.

    The coarsest leaves the least alkalinity, and so the smaller dose.
    """
    return np.asarray(np.minimum(typical("drop_step").value, np.asarray(read_meq_l, dtype=float)))


def typical_water(name: str) -> WaterReadings:
    """Readings of a typical soft, medium, hard, very-hard, hardest or softened water.

    Raises
    ------
    ValueError
        If there is no such water; the sentence names the nearest.
    """
    row = named(name, "water", _TABLE, _WaterRow)
    return WaterReadings(
        alkalinity_meq_l=row.alkalinity_meq_l,
        ph=row.ph,
        hardness_mmol_l=row.hardness_mmol_l,
        instrument="typical",
    )


def typical_water_names() -> tuple[str, ...]:
    """Names that `typical_water` knows, without aliases."""
    return names_of(_TABLE, _WaterRow)


def _checked(readings: WaterReadings) -> dict[str, Array]:
    """Collect the readings that were taken, as arrays."""
    of_kind("readings", readings, WaterReadings)
    numbers("reading_temperature_c", readings.reading_temperature_c, *TEMPERATURES_C)
    if readings.instrument is not None:
        as_text("instrument", readings.instrument)
    number("thinned", readings.thinned, 1.0, MOST_IN_A_LITRE)
    if readings.drop_step_meq_l is not None:
        number("drop_step_meq_l", readings.drop_step_meq_l, 0.0, MOST_IN_A_LITRE)
    for name in _ENDS:
        if getattr(readings, name) is not None:
            number(name, getattr(readings, name), 0.0, MOST_IN_A_LITRE)
    return {
        name: numbers(name, reading, 0.0, PHS[1] if name == "ph" else MOST_IN_A_LITRE)
        for name, reading in vars(readings).items()
        if name not in _HOW_READ and reading is not None
    }


def _tell_last_step(readings: WaterReadings, told: Told) -> None:
    """That the last step of a strip means this or more."""
    read = readings.alkalinity_meq_l
    if read is None or readings.instrument not in (None, "strip", "not-named"):
        return
    shown = np.asarray(read, dtype=float) / readings.thinned
    if np.all(reading_spread("alkalinity", "strip").at_last_step(shown)):
        ppm = float(alkalinity_in(middle(shown), "mg_l_caco3"))
        told.add("warn.water.strip-last-step", "water.alkalinity", ppm=ppm)


def _calcium_magnesium(given: Mapping[str, Array], told: Told) -> tuple[Array, Array] | None:
    """Calcium and magnesium [mmol/L] from what was read of them; None if nothing was."""
    hardness, calcium, magnesium = (
        given.get(f"{name}_mmol_l") for name in ("hardness", "calcium", "magnesium")
    )
    if calcium is not None and magnesium is not None:
        if hardness is not None:
            _compare(hardness, calcium + magnesium, told)
        return calcium, magnesium
    known = magnesium if calcium is None else calcium
    if known is None:
        return None if hardness is None else _split(hardness, told)
    if hardness is not None:
        if middle(known - hardness) > 0:
            _compare(hardness, known, told)
        rest = np.maximum(hardness - known, 0.0)
    else:
        share = _calcium_share(told)
        rest = known * (share / (1 - share) if calcium is None else (1 - share) / share)
    return (rest, known) if calcium is None else (known, rest)


def usual_hardness(alkalinity_meq_l: ArrayLike) -> Array:
    """Hardness that usually goes with an alkalinity [mmol/L].

    Parameters
    ----------
    alkalinity_meq_l : array_like
        [meq/L].
    """
    share = typical("alkalinity_share_of_hardness").value
    return np.asarray(alkalinity_meq_l, dtype=np.float64) / (2.0 * share)


def _calcium_share(told: Told) -> float:
    share = typical("calcium_share_of_hardness").value
    told.add("assume.water.calcium-share", "water.hardness", share=share)
    return share


def _split(hardness: Array, told: Told) -> tuple[Array, Array]:
    share = _calcium_share(told)
    return hardness * share, hardness * (1 - share)


def _alkalinity(given: Mapping[str, Array], hard: tuple[Array, Array] | None, told: Told) -> Array:
    """Alkalinity [meq/L]: as read, else the best stand-in that the other readings allow."""
    where = "water.alkalinity"
    alkalinity = given.get("alkalinity_meq_l")
    carbonate = given.get("carbonate_hardness_meq_l")
    if alkalinity is not None:
        if carbonate is None or hard is None:
            return alkalinity
        # Carbonate hardness cannot exceed the hardness, so that much is no contradiction.
        expected = np.minimum(alkalinity, 2 * sum(hard))
        if _agree(carbonate, expected) or _agree(carbonate, alkalinity):
            return alkalinity
        return _likelier(alkalinity, carbonate, _strong_ion_difference(given, hard), told)
    if carbonate is not None:
        told.add("assume.water.carbonate-hardness", where)
        return carbonate
    if hard is None:
        medium = np.asarray(typical_water("medium").alkalinity_meq_l, dtype=float)
        told.add("warn.water.alkalinity-unknown", where, alkalinity_meq_l=float(medium))
        return medium
    left_over = _strong_ion_difference(given, hard)
    if left_over is not None and middle(left_over) > 0:
        code = "assume.water.alkalinity-by-charge"
        told.add(code, where, alkalinity_meq_l=middle(left_over))
        return np.maximum(left_over, 0.0)
    share = typical("alkalinity_share_of_hardness").value
    estimate = np.minimum(2 * sum(hard) * share, typical("alkalinity_guess_highest").value)
    code = "warn.water.alkalinity-from-hardness"
    told.add(code, where, alkalinity_meq_l=middle(estimate))
    return estimate


def _strong_ion_difference(given: Mapping[str, Array], hard: tuple[Array, Array]) -> Array | None:
    """Cations minus anions [meq/L] without the alkalinity; None unless the main ones are read."""
    ions = _other_ions(given)
    return np.asarray(2 * sum(hard) + strong_charge(ions)) if ions.keys() >= _MAIN_IONS else None


def _other_ions(given: Mapping[str, Array]) -> dict[str, Array]:
    """What was read of the ions besides calcium and magnesium [mmol/L]."""
    read = {component: f"{name}_mmol_l" for component, name in (_ALKALI | _ANIONS).items()}
    return {component: given[name] for component, name in read.items() if name in given}


def _likelier(alkalinity: Array, carbonate: Array, left_over: Array | None, told: Told) -> Array:
    """Alkalinity or carbonate hardness, whichever the other ions of the report bear out."""
    kept = left_over is not None and abs(middle(carbonate - left_over)) < abs(
        middle(alkalinity - left_over)
    )
    told.add(
        "warn.water.carbonate-hardness-kept" if kept else "warn.water.alkalinity-kept",
        "water.alkalinity",
        alkalinity_meq_l=middle(alkalinity),
        carbonate_meq_l=middle(carbonate),
    )
    return carbonate if kept else alkalinity


def _neutral(
    ions: dict[str, Array], alkalinity: Array, told: Told
) -> tuple[dict[str, Array], Array]:
    """Ions [mmol/L] made to balance the alkalinity, and the imbalance of the readings [%]."""
    gap = strong_charge(ions) - alkalinity
    free_alkali = {name: read for name, read in _ALKALI.items() if name not in ions}
    free_anions = {name: read for name, read in _ANIONS.items() if name not in ions}
    # Most waters carry some sodium chloride; it is assumed only where both ions are open.
    usual = typical("background_sodium").value if "Na" in free_alkali and free_anions else 0.0
    more_alkali = usual + np.maximum(-gap, 0.0) if free_alkali else np.zeros(())
    more_anions = usual + np.maximum(gap, 0.0) if free_anions else np.zeros(())
    added = _shared_out(more_alkali, free_alkali, "alkali")
    added |= _shared_out(more_anions, free_anions, "anions")
    if added:
        shown = {"sodium": "Na", "chloride": "Cl", "sulfate": "SO4"}
        values = {f"{read}_mmol_l": middle((ions | added)[name]) for read, name in shown.items()}
        told.add("assume.water.other-ions", "water", **values)
    left = gap + more_alkali - more_anions
    # Cations and anions as read; the alkalinity counts among the anions.
    both = alkalinity + sum(abs(strong_charge({name: ion})) for name, ion in ions.items())
    with np.errstate(invalid="ignore"):
        imbalance = np.where(left == 0, 0.0, 100 * left / np.maximum(both, 1e-9))
    percent = middle(imbalance)
    if abs(percent) >= typical("imbalance_to_mention").value:
        wrong = abs(percent) > typical("imbalance_of_a_wrong_number").value
        code = "warn.water.report-contradicts" if wrong else "warn.water.imbalance"
        side = "cations" if percent > 0 else "anions"
        told.add(code, "water", percent=abs(percent), side=side)
    closing = {"anion": np.maximum(left, 0.0), "cation": np.maximum(-left, 0.0)}
    closing = {name: amount for name, amount in closing.items() if np.any(amount > 0)}
    return ions | added | closing, imbalance


def _shared_out(charge: Array, group: Mapping[str, str], kind: str) -> dict[str, Array]:
    """Spread a charge [meq/L] over the ions of a group in their usual shares [mmol/L]."""
    shares = {name: typical(f"{read}_among_{kind}").value for name, read in group.items()}
    return {
        name: charge * share / sum(shares.values()) / abs(float(strong_charge({name: 1.0})))
        for name, share in shares.items()
    }


def _with_carbon(
    ions: Mapping[str, Array], alkalinity: Array, ph: Array, temperature: Array, told: Told
) -> dict[str, Array]:
    """Totals [mol/kg water], with the inorganic carbon that alkalinity and pH ask for."""
    per_kg = 1e-3 / water_density_kg_l(temperature)
    totals = {name: amount * per_kg for name, amount in ions.items()}
    acidity = alkalinity * per_kg
    carbon = np.asarray(carbon_from_alkalinity(acidity, ph, totals, temperature))
    known = np.isfinite(alkalinity * ph * temperature)
    read = {"ph": middle(ph), "alkalinity_meq_l": middle(alkalinity)}
    usual = typical("tap_ph").value
    gas_limit = typical("free_co2_highest").value
    too_acid = known & (ph < usual) & ~(carbon - acidity <= gas_limit)
    if np.any(too_acid):
        at_usual = carbon_from_alkalinity(acidity, usual, totals, temperature)
        # Near pH 7 no carbon gives so little alkalinity; far below, only another acid would.
        pure = too_acid & np.isnan(carbon) & (ph >= typical("tap_ph_lowest").value)
        carbon = np.where(too_acid, at_usual, carbon)
        # Without any alkalinity there is none to keep: the water is then pure as far as it counts.
        carbon = np.where(too_acid & ~(carbon > 0.0), 0.0, carbon)
        code = "warn.water.no-alkalinity" if np.all(pure[too_acid]) else TOO_ACID
        told.add(code, "water.ph", **read, usual=usual)
    if np.any(known & ~np.isfinite(carbon)):
        # So high a pH needs more hydroxide than there is alkalinity; without carbonate the
        # water comes as near to it as it can.
        carbon = np.where(known & ~np.isfinite(carbon), 0.0, carbon)
        told.add("warn.water.ph-contradicts-alkalinity", "water.ph", **read)
    return totals | {"C": np.maximum(carbon, LEAST_CARBON)}


def _tell_soda_water(alkalinity: Array, hardness: Array, told: Told) -> None:
    """Say so where the alkalinity is clearly more than calcium and magnesium can belong to."""
    held, hard = middle(alkalinity), 2 * middle(hardness)
    margin = typical("soda_water_excess").value
    if held > hard + margin and not _agree(alkalinity, 2 * hardness):
        code = "assume.water.soda-water"
        told.add(code, "water.alkalinity", alkalinity_meq_l=held, hardness_meq_l=hard)


def _agree(first: Array, other: Array) -> bool:
    within = typical("readings_agree_within").value
    return abs(middle(first - other)) <= within * max(middle(first), middle(other), 1e-9)


def _compare(stated: Array, summed: Array, told: Told) -> None:
    if not _agree(stated, summed):
        values = {"stated_mmol_l": middle(stated), "summed_mmol_l": middle(summed)}
        told.add("warn.water.hardness-contradicts", "water.hardness", **values)
