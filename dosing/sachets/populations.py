"""Populations: the homes that a sachet goes to, drawn from published statistics or own readings.

A home is an alkalinity, a hardness, a pH, a fill and a temperature that belong together. Published
are means, ranges and percentiles of one quantity at a time; how they go together is said in the
table, with how far it can be trusted.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cache

import numpy as np
from numpy.typing import ArrayLike, NDArray

from dosing.bath.draws import gas_lost_filling, normal_numbers
from dosing.ingredients.hardness_units import (
    alkalinity_in,
    alkalinity_meq_l,
    hardness_mmol_l,
    ion_mmol_l,
)
from dosing.ingredients.trade_values import Instrument, nearest, reading_spread, typical
from dosing.ingredients.tub import most_tub_l
from dosing.ingredients.water import WaterReadings, drops_counted_meq_l, usual_drop_step_meq_l
from indicator.notes import Note
from indicator.tables import DataError, Sourced, read_table, value_of

Array = NDArray[np.float64]

ANY = "any"
"""Name of the rows that hold where a region has none of its own."""
SEED = 20
ERRORS = ("strip", "look")
"""What customers misjudge, each a normal number of its own per home."""
SHY = 0.999
"""Of the water from which a tub is none: the most that a smoothed one holds."""
_DRAWN = ("leading", "second", "ph", "volume", "temperature", *ERRORS, "gas")
_SCORES = np.linspace(-4.0, 4.0, 321)
"""Normal scores at which a distribution is tabulated."""
_PERCENTILES = {"p05": 0.05, "p25": 0.25, "median": 0.5, "p75": 0.75, "p95": 0.95}
_END_SCORE = 3.0
"""Normal score at which a distribution made of percentiles reaches its ends."""


@dataclass(frozen=True)
class Homes:
    """Households, one entry each in arrays of shape (homes,)."""

    population: str
    alkalinity_meq_l: Array
    """[meq/L]."""
    hardness_mmol_l: Array
    """Calcium plus magnesium [mmol/L]."""
    ph: Array
    """Of the tap water."""
    volume_l: Array
    """Water in the tub [L]."""
    warmer_c: Array
    """Temperature of the tub above the recipe's [°C]."""
    gas_lost: Array
    """Share of the tap's carbon dioxide beyond that of the air that leaves while filling."""
    strip_error: Array
    """By how many standard deviations a customer's strip is off."""
    look_error: Array
    """By how many standard deviations a look at the colour is off."""
    notes: tuple[Note, ...] = ()

    @property
    def count(self) -> int:
        """Number of homes."""
        return len(self.alkalinity_meq_l)

    @property
    def smallest_l(self) -> float:
        """Fill that 5 % of the homes stay under, rounded down as far as a label rounds it [L]."""
        low = float(np.quantile(self.volume_l, 0.05))
        step = 1.0 if low >= 10.0 else 0.1
        return step * float(np.floor(low / step))

    def readings(self) -> WaterReadings:
        """Their tap waters, as one batch."""
        return WaterReadings(self.alkalinity_meq_l, self.ph, self.hardness_mmol_l)


@dataclass(frozen=True)
class Statistic(Sourced):
    """One published (or chosen) distribution of one quantity over homes."""

    name: str
    quantity: str
    unit: str
    shape: str
    low: float | None
    p05: float | None
    p25: float | None
    median: float | None
    p75: float | None
    p95: float | None
    high: float | None
    mean: float | None
    sd: float | None
    count: float | None
    with_leading: float


def population_names() -> tuple[str, ...]:
    """Names of all populations, in the order of the table."""
    rows = read_table("trade/populations.csv", Statistic)
    return tuple(dict.fromkeys(row.name for row in rows if row.name != ANY))


def statistics(name: str) -> dict[str, Statistic]:
    """The distributions of a population, those that hold anywhere included.

    Raises
    ------
    ValueError
        If there is no such population; the sentence names the nearest.
    """
    known = nearest(name, population_names(), "population")
    rows = read_table("trade/populations.csv", Statistic)
    return {row.quantity: row for which in (ANY, known) for row in rows if row.name == which}


def draw_homes(name: str, count: int, seed: int = SEED) -> Homes:
    """Homes of a population.

    Parameters
    ----------
    name : str
        One of `population_names`.
    count : int
        Number of homes.
    seed : int
        Of the random shift of the quasi-random sequence; the same homes for the same seed.

    Returns
    -------
    Homes
        `count` of them.

    Raises
    ------
    ValueError
        If there is no such population or fewer than one home is asked for.
    """
    if count < 1:
        raise ValueError(f"number of homes is {count}; accepted is 1 or more")
    rows = statistics(name)
    scores = dict(zip(_DRAWN, normal_numbers(count, len(_DRAWN), seed).T, strict=True))
    leading = "alkalinity" if "alkalinity" in rows else "hardness"
    second = "hardness" if leading == "alkalinity" else "alkalinity_of_hardness"
    places = {leading: "leading", second: "second"}
    drawn = {
        quantity: _values(rows[quantity], _joined(rows[quantity], quantity, places, scores))
        for quantity in (leading, second, "ph", "volume", "temperature")
    }
    if leading == "hardness":
        # 1 mmol of calcium and magnesium carries 2 meq.
        drawn["alkalinity"] = 2.0 * drawn["hardness"] * drawn["alkalinity_of_hardness"]
    return Homes(
        population=rows[leading].name,
        alkalinity_meq_l=drawn["alkalinity"],
        hardness_mmol_l=drawn["hardness"],
        ph=drawn["ph"],
        volume_l=drawn["volume"],
        warmer_c=drawn["temperature"],
        gas_lost=gas_lost_filling(scores["gas"]),
        strip_error=scores["strip"],
        look_error=scores["look"],
        notes=_population_notes(rows),
    )


def homes_like(
    readings: WaterReadings, count: int, seed: int = SEED, volume_l: ArrayLike = np.nan
) -> Homes:
    """Homes like those of the maker's customers: drawn with replacement, then smoothed.

    Each drawn reading is moved by a normal error of its instrument, so that a handful of pads
    becomes a distribution. The readings hold such an error already: the homes come out a little
    too varied, which is the cautious side.

    Parameters
    ----------
    readings : WaterReadings
        Alkalinity, and where known hardness and pH, of the customers' waters, with what they were
        read with, a strip if not said; arrays with NaN where a cell was empty. A home whose
        alkalinity nobody knows has the water of one of the others. At least as many are known as
        ``least_readings`` in ``data/trade/sachets.csv``.
    count : int
        Number of homes.
    seed : int
        The same homes for the same seed.
    volume_l : array_like
        Water in their tubs, NaN where nobody said [L].

    Returns
    -------
    Homes
        `count` of them; their notes say what was assumed.

    Raises
    ------
    ValueError
        If too few alkalinities are known, or the instrument is unknown.
    """
    alkalinity = np.asarray(readings.alkalinity_meq_l, dtype=np.float64)
    instrument = readings.instrument or "strip"
    kit = instrument == "drop-kit"
    known = np.flatnonzero(np.isfinite(alkalinity))
    least = int(value_of("trade/sachets.csv", "least_readings"))
    if len(known) < least:
        raise ValueError(f"customer readings are {len(known)}; accepted are {least} or more")
    if kit:
        alkalinity = drops_counted_meq_l(alkalinity, usual_drop_step_meq_l(alkalinity))
    usual = draw_homes(population_names()[0], count, seed)
    random = np.random.default_rng(seed)
    which = random.integers(0, len(alkalinity), count)
    others = np.random.default_rng(seed + 1).choice(known, count)
    water = np.where(np.isfinite(alkalinity[which]), which, others)
    noise = random.standard_normal((3, count))
    smoothed = np.abs(reading_spread("alkalinity", instrument).around(alkalinity[water], noise[0]))
    hardness, ph, volume = (
        np.broadcast_to(np.asarray(read, dtype=np.float64), alkalinity.shape)[drawn]
        for read, drawn in (
            (readings.hardness_mmol_l, water),
            (readings.ph, water),
            (volume_l, which),
        )
    )
    ends = typical("tap_ph_lowest").value, typical("tap_ph_highest").value
    moved_ph = np.clip(ph + _read_with(instrument, "ph").sd(ph) * noise[2], *ends)
    moved = np.abs(hardness + _read_with(instrument, "hardness").sd(hardness) * noise[1])
    litres = _or_usual(_smoothed_l(volume, random), usual.volume_l)
    notes = [Note("sachet.population.own", {"count": len(alkalinity)})]
    if len(known) < len(alkalinity):
        notes.append(Note("sachet.own.unknown", {"count": len(alkalinity) - len(known)}))
    if kit:
        step = typical("drop_step").value
        notes.append(Note("sachet.own.drops", {"step_ppm": float(alkalinity_in(step, "ppm"))}))
    if np.isnan(ph).any():
        notes.append(Note("sachet.own.ph", {"ph": typical("tap_ph").value}))
    if np.isnan(volume).any():
        notes.append(Note("sachet.own.volume", {"median": float(np.median(litres))}))
    share = typical("alkalinity_share_of_hardness").value
    return replace(
        usual,
        population="own",
        alkalinity_meq_l=smoothed,
        hardness_mmol_l=_or_usual(moved, smoothed / (2.0 * share)),
        ph=_or_usual(moved_ph, usual.ph),
        volume_l=litres,
        notes=tuple(notes),
    )


def _or_usual(read: Array, usual: Array) -> Array:
    """What was read, and the usual where nothing was."""
    return np.where(np.isnan(read), usual, read)


def _smoothed_l(picked: Array, random: np.random.Generator) -> Array:
    """Litres about those that were judged by eye; however large a tub was read, it stays a tub."""
    sd = reading_spread("volume", "by-eye").sd_relative
    smoothed = picked * np.exp(sd * random.standard_normal(len(picked)))
    return np.where(picked < most_tub_l(), np.minimum(smoothed, SHY * most_tub_l()), smoothed)


def _read_with(instrument: str, quantity: str) -> Instrument:
    """Spread of an instrument, or of a strip where this quantity is not read with it."""
    try:
        return reading_spread(quantity, instrument)
    except ValueError:
        return reading_spread(quantity, "strip")


def _joined(
    row: Statistic, quantity: str, places: Mapping[str, str], scores: Mapping[str, Array]
) -> Array:
    """Normal scores of a quantity that go with those of the leading one."""
    own = scores[places.get(quantity, quantity)]
    if places.get(quantity) == "leading":
        return own
    together = row.with_leading
    return np.asarray(together * scores["leading"] + np.sqrt(1.0 - together**2) * own)


def _values(row: Statistic, scores: Array) -> Array:
    """Values of a statistic at normal scores, in core units."""
    return np.asarray(np.interp(scores, _SCORES, _tabulated(row)))


@cache
def _tabulated(row: Statistic) -> Array:
    shapes = {
        "range": _ranged,
        "skewed": _skewed,
        "ratio": _ratio,
        "points": _points,
        "normal": _normal,
    }
    if row.shape not in shapes:
        raise DataError(f"data/trade/populations.csv has the unknown shape {row.shape!r}")
    values = shapes[row.shape](row)
    low = -np.inf if row.low is None else row.low
    high = np.inf if row.high is None else row.high
    return _core_units(row, np.clip(values, low, high))


def _ranged(row: Statistic) -> Array:
    """Beta distribution with the mean, within the range; its spread from the range's length."""
    from scipy.special import betaincinv, ndtr, ndtri

    low, high, mean = _given(row, "low"), _given(row, "high"), _given(row, "mean")
    count = _given(row, "count")
    place = (mean - low) / (high - low)
    sd = 0.5 / float(ndtri((count - 0.375) / (count + 0.25)))
    total = place * (1.0 - place) / sd**2 - 1.0
    shares = betaincinv(place * total, (1.0 - place) * total, ndtr(_SCORES))
    return np.asarray(low + (high - low) * shares)


def _skewed(row: Statistic) -> Array:
    """Shifted log-normal distribution with the mean, the median and the standard deviation."""
    mean, median, sd = _given(row, "mean"), _given(row, "median"), _given(row, "sd")
    wanted = (mean - median) / sd
    low, high = 1e-4, 3.0
    for _ in range(60):
        sigma = 0.5 * (low + high)
        grown = np.expm1(sigma**2)
        skew = np.expm1(0.5 * sigma**2) / np.sqrt(np.exp(sigma**2) * grown)
        low, high = (sigma, high) if skew < wanted else (low, sigma)
    scale = sd / np.sqrt(np.exp(sigma**2) * np.expm1(sigma**2))
    return np.asarray(median + scale * np.expm1(sigma * _SCORES))


def _ratio(row: Statistic) -> Array:
    """Log-normal distribution; the standard deviation is a factor."""
    return np.asarray(_given(row, "median") * _given(row, "sd") ** _SCORES)


def _points(row: Statistic) -> Array:
    """Through the percentiles; straight between them in normal score and logarithm."""
    from scipy.special import ndtri

    at = [(float(ndtri(share)), getattr(row, name)) for name, share in _PERCENTILES.items()]
    at = [(-_END_SCORE, row.low), *at, (_END_SCORE, row.high)]
    known = [(score, value) for score, value in at if value is not None]
    scores, values = zip(*known, strict=True)
    return np.asarray(np.exp(np.interp(_SCORES, scores, np.log(values))))


def _normal(row: Statistic) -> Array:
    return np.asarray(_given(row, "mean") + _given(row, "sd") * _SCORES)


def _given(row: Statistic, column: str) -> float:
    value = getattr(row, column)
    if value is None:
        raise DataError(
            f"data/trade/populations.csv lacks {column} for {row.quantity} of {row.name}"
        )
    return float(value)


def _core_units(row: Statistic, values: Array) -> Array:
    if row.quantity == "alkalinity":
        return alkalinity_meq_l(values, row.unit)
    if row.quantity == "hardness":
        if row.unit == "mg_l_ca":
            return ion_mmol_l(values, "calcium") / typical("calcium_share_of_hardness").value
        return hardness_mmol_l(values, row.unit)
    return np.asarray(values)


def _population_notes(rows: Mapping[str, Statistic]) -> tuple[Note, ...]:
    """What the population is made of, and how much of it is our own guess."""
    leading = rows.get("alkalinity", rows["hardness"])
    ours = [
        quantity
        for quantity, row in rows.items()
        if row.confidence in ("DESIGN", "GUESS", "MEMORY") and quantity != "temperature"
    ]
    notes = [Note(f"sachet.population.{leading.name}")]
    if leading.confidence not in ("DESIGN",):
        notes.extend(Note(f"sachet.chosen.{quantity}") for quantity in ours)
    return tuple(notes)
