"""Steeping: from petals, warm water and minutes to an infusion, how much of it and how strong.

The colour comes out by a first-order approach to a plateau and is lost by a first-order decay;
what a per cent of petals gives is tied to the usual brewing. Papers agree on the plateau (50 to
90 °C, half an hour); the rest is estimated, and the spread says so. Every number is in
``data/colour/steeping.csv``.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from dosing.ingredients.trade_values import reading_spread, typical
from indicator.colourants import Colourant, ColourantLike, Range
from indicator.fading import fading, fading_conditions
from indicator.notes import Note, Value
from indicator.pigments import colourant
from indicator.tables import NINE_IN_TEN_SD, Number, number_of, numbers_in, value_of

Array = NDArray[np.float64]

COVERAGE = 0.90
_WIDEST_LOG_SD = 1.5
_LEAST = 1e-6
_MINUTES_PER_DAY = 1440.0
_PER_CENT = 100.0
_CONSTANTS = "equilibrium/constants.csv"
_TABLE = "colour/steeping.csv"
_PLATEAU = ("coolest", "warmest", "shortest", "longest")
"""Ends of where the papers agree."""


@dataclass(frozen=True)
class Infusion:
    """An infusion as it stands on its petals; arrays have the shape of the inputs."""

    low: Array
    """PH-1 absorbance, lower end of where nine infusions in ten lie [1/cm]."""
    best: Array
    """The likeliest [1/cm]."""
    high: Array
    """Upper end [1/cm]."""
    share_of_plateau: Array
    """Share of all that these petals could give, 0 to 1."""
    relative_sd: Array
    """Relative standard deviation of the strength."""
    in_range: NDArray[np.bool_]
    """Whether temperature and time lie where the papers agree."""


@dataclass(frozen=True)
class WeighedBrew:
    """Petals and water for an amount of filtered infusion."""

    petals_g: float
    water_g: float
    """To start with; so much that even a good drain leaves nothing over [g]."""
    filtrate_g: Range
    """What comes through the cloth [g]."""
    make_up_g: Range
    """Water that brings it to the wished amount [g]."""
    brewed_percent: Range
    """Petals over the water they steeped in that this is worth once made up [%]."""
    left_in_petals: float
    """Share of the colour that came out and stays with the liquor in the petals."""


@dataclass(frozen=True)
class Steeping:
    """Petals, water and minutes of an infusion, and its strength."""

    pigment: Colourant
    petals_percent: float
    temperature_c: float
    minutes: float
    makes_g: float
    lidded: bool
    pressed: bool
    brew: WeighedBrew
    strength_per_cm: Range
    """Of the finished infusion: as measured, or as computed [1/cm]."""
    expected_per_cm: Range
    """As computed, whether measured or not [1/cm]."""
    share_of_plateau: float
    measured: bool
    notes: tuple[Note, ...]
    warnings: tuple[Note, ...]

    @property
    def fresh_g(self) -> float | None:
        """Fresh leaves in place of the dried ones [g]; None where nobody knows how many."""
        own = f"fresh_mass of {self.pigment.name}"
        return value_of(_TABLE, own) * self.brew.petals_g if own in numbers_in(_TABLE) else None

    @property
    def coverage(self) -> float:
        """Share of such infusions between the ends of the two strengths."""
        return COVERAGE


def steeping_number(quantity: str, pigment: str = "any") -> Number:
    """One number of ``data/colour/steeping.csv``, a pigment's own where it has one.

    Parameters
    ----------
    quantity : str
        Name of the number.
    pigment : str
        Key of the pigment.

    Returns
    -------
    Number

    Raises
    ------
    DataError
        If there is no such number.
    """
    own = f"{quantity} of {pigment}"
    return number_of(_TABLE, own if own in numbers_in(_TABLE) else quantity)


def steeping_value(quantity: str) -> float:
    """The value alone of `steeping_number` for any pigment [its unit]."""
    return value_of(_TABLE, quantity)


def _best_low_high(quantity: str, pigment: str = "any") -> Array:
    """A number and its ends, shape (3,)."""
    number = steeping_number(quantity, pigment)
    return np.array([number.value, *number.ends])


def steepable(which: Colourant) -> bool:
    """Whether it is a pigment whose strength per cent of petals is known."""
    usual = which.per_percent
    return which.kind == "pigment" and usual is not None and usual.best > 0


def infusion(
    pigment: ColourantLike, petals_percent: ArrayLike, temperature_c: ArrayLike, minutes: ArrayLike
) -> Infusion:
    """Strength of an infusion after steeping, with its spread.

    Parameters
    ----------
    pigment : Colourant or str
        A record, or the name of a shipped pigment.
    petals_percent : array_like
        Dried petals over the water they steep in [% w/v].
    temperature_c : array_like
        Of the water while they steep [°C].
    minutes : array_like
        How long [min], above 0. All three broadcast.

    Returns
    -------
    Infusion
        In the shape of the three.

    Raises
    ------
    ValueError
        If the colourant is a dye, or nothing is known of its strength.

    Notes
    -----
    Valid for 50 to 90 °C and 10 to 60 min, where the papers of ``steeping.csv`` agree; elsewhere
    the spread grows with the distance.

    Examples
    --------
    >>> round(float(infusion("butterfly-pea", 2.0, 70.0, 30.0).best), 1)
    6.0
    """
    known = colourant(pigment)
    if known.per_percent is None or not steepable(known):
        raise ValueError(
            f"colourant is {known.name!r}; accepted is a pigment whose strength per % of petals is "
            "known"
        )
    percent, celsius, time = np.broadcast_arrays(
        *(np.asarray(given, dtype=np.float64) for given in (petals_percent, temperature_c, minutes))
    )
    shares, usual_shares = (
        _log_shares(known, at_c, after)
        for at_c, after in (
            (celsius, time),
            (steeping_value("usual_temperature"), steeping_value("usual_minutes")),
        )
    )
    # A per cent of petals is known by what it gives at the usual brewing, so that what is not
    # known of release and loss counts only as far as a brewing differs from that.
    beside = shares - usual_shares
    usual, likeliest, ends = known.per_percent, beside[..., 0, 0], beside[..., 1:, 1:]
    outside = _outside_log_variance(celsius, time)

    def log_sd(end: float, away: Array) -> Array:
        by_pigment = abs(np.log(max(end / usual.best, _LEAST))) / NINE_IN_TEN_SD
        by_way = np.maximum(away, 0.0) / NINE_IN_TEN_SD
        return np.asarray(np.sqrt(by_pigment**2 + by_way**2 + outside))

    low_sd = log_sd(usual.low, likeliest - ends.min(axis=(-2, -1)))
    high_sd = log_sd(usual.high, ends.max(axis=(-2, -1)) - likeliest)
    best = percent * usual.best * np.exp(likeliest)
    return Infusion(
        low=np.asarray(best * np.exp(-NINE_IN_TEN_SD * low_sd)),
        best=np.asarray(best),
        high=np.asarray(best * np.exp(NINE_IN_TEN_SD * high_sd)),
        share_of_plateau=np.asarray(np.exp(shares[..., 0, 0])),
        relative_sd=_relative(0.5 * (low_sd + high_sd)),
        in_range=np.asarray(outside == 0.0),
    )


def brew(
    petals_percent: float,
    makes_g: float,
    temperature_c: float,
    minutes: float,
    *,
    lidded: bool = True,
    pressed: bool = False,
) -> WeighedBrew:
    """Petals and water for an amount of filtered infusion, made up by weight.

    Parameters
    ----------
    petals_percent : float
        Grams of dried petals per 100 g of finished infusion [%].
    makes_g : float
        Finished infusion [g].
    temperature_c, minutes : float
        Of the steeping [°C], [min].
    lidded : bool
        Whether a lid is on.
    pressed : bool
        Whether the petals are pressed out, or only drained.

    Returns
    -------
    WeighedBrew

    Raises
    ------
    ValueError
        If more than half of the water may evaporate.
    """
    petals = makes_g * petals_percent / _PER_CENT
    held = _best_low_high("held_pressed" if pressed else "held_drained")
    lost = evaporated_share(temperature_c, minutes, lidded=lidded)
    most = steeping_value("most_evaporation")
    if lost.high > most:
        raise ValueError(
            f"time is {minutes:g} min at {temperature_c:g} °C, in which more than {most:.0%} of "
            "the water may boil away; accepted is less time, cooler water or a lid"
        )
    water = (makes_g + held[1] * petals) / (1.0 - lost.low)
    # The least comes through where the petals hold most and most boils away. Water that leaves
    # as vapour takes no colour along: the least colour comes with the least vapour.
    held = held[[0, 2, 1]]
    left = water * (1.0 - np.array([lost.best, lost.high, lost.low]))
    filtrate = np.maximum(left - held * petals, 0.0)
    in_pot = left[[0, 2, 1]]
    worth = _PER_CENT * petals / in_pot * np.maximum(in_pot - held * petals, 0.0) / makes_g
    make_up = makes_g - filtrate[[0, 2, 1]]
    return WeighedBrew(
        petals_g=petals,
        water_g=float(water),
        filtrate_g=Range(*map(float, filtrate)),
        make_up_g=Range(*map(float, np.maximum(make_up, [-np.inf, 0.0, -np.inf]))),
        brewed_percent=Range(*map(float, worth)),
        left_in_petals=float(held[0] * petals / (filtrate[0] + held[0] * petals)),
    )


def evaporated_share(temperature_c: float, minutes: float, *, lidded: bool) -> Range:
    """Share of the water that leaves as vapour, below the boil.

    Parameters
    ----------
    temperature_c, minutes : float
        Of the steeping [°C], [min].
    lidded : bool
        Whether a lid is on.

    Returns
    -------
    Range
        0 to 1.

    Examples
    --------
    >>> round(evaporated_share(90.0, 30.0, lidded=False).best, 2)
    0.1
    """
    rate = _best_low_high("evaporation_open") * (_best_low_high("lid_share") if lidded else 1.0)
    away = _over_rt(temperature_c, steeping_value("evaporation_temperature"))
    grows = np.exp(-1000.0 * steeping_value("evaporation_ea") * away)
    return Range(*map(float, -np.expm1(-rate * grows * minutes)))


def steep(
    pigment: ColourantLike,
    *,
    petals_percent: float,
    makes_g: float,
    temperature_c: float | None = None,
    minutes: float | None = None,
    lidded: bool = True,
    pressed: bool = False,
    measured_per_cm: float | None = None,
) -> Steeping:
    """Petals and water to weigh, and the strength of the infusion that comes of them.

    Parameters
    ----------
    pigment : Colourant or str
        A record, or the name of a shipped pigment.
    petals_percent, makes_g, lidded, pressed
        As in `brew`.
    temperature_c, minutes : float, optional
        Of the steeping [°C], [min]; the usual ones if not given.
    measured_per_cm : float, optional
        pH-1 absorbance of the finished infusion, above 0 [1/cm]; it replaces what is computed.

    Returns
    -------
    Steeping

    Raises
    ------
    ValueError
        As `infusion` and `brew`, or if the measured strength is not above 0.
    """
    if measured_per_cm is not None and not measured_per_cm > 0:
        raise ValueError(f"measured is {measured_per_cm!r}; accepted is a number above 0")
    celsius = steeping_value("usual_temperature") if temperature_c is None else temperature_c
    time = steeping_value("usual_minutes") if minutes is None else minutes
    made = brew(petals_percent, makes_g, celsius, time, lidded=lidded, pressed=pressed)
    liquid = infusion(pigment, made.brewed_percent.best, celsius, time)
    expected = _made_up(liquid, made.brewed_percent)
    strength = expected if measured_per_cm is None else _as_measured(measured_per_cm)
    return Steeping(
        pigment=colourant(pigment),
        petals_percent=petals_percent,
        temperature_c=celsius,
        minutes=time,
        makes_g=makes_g,
        lidded=lidded,
        pressed=pressed,
        brew=made,
        strength_per_cm=strength,
        expected_per_cm=expected,
        share_of_plateau=float(liquid.share_of_plateau),
        measured=measured_per_cm is not None,
        notes=(
            Note(
                "steep.note.percent",
                {"percent": petals_percent, "worth": made.brewed_percent.best},
                "petals",
            ),
            *steeping_notes(pigment, petals_percent, celsius, time),
            *_beside_expected(measured_per_cm, expected),
        ),
        warnings=_warnings(celsius, time),
    )


def steeping_notes(
    pigment: ColourantLike, petals_percent: float, temperature_c: float, minutes: float
) -> tuple[Note, ...]:
    """Notes on a way of steeping: cold, boiling, short, long, more mash than infusion.

    Parameters
    ----------
    pigment : Colourant or str
        A record, or the name of a shipped pigment.
    petals_percent : float
        Dried petals over the water they steep in [% w/v].
    temperature_c, minutes : float
        Of the steeping [°C], [min].

    Returns
    -------
    tuple of Note
    """
    known = colourant(pigment)
    ends = {end: steeping_value(f"plateau_{end}") for end in _PLATEAU}
    cold, most = steeping_value("cold_below"), typical("strongest_infusion_percent").value
    worth_a_word = {
        "cold": temperature_c < cold,
        "cool": cold <= temperature_c < ends["coolest"],
        "boiling": temperature_c > ends["warmest"],
        "short": minutes < ends["shortest"],
        "long": minutes > ends["longest"] and temperature_c >= ends["coolest"],
        "mash": petals_percent > most,
        "no-loss": not _has_loss(known),
    }
    values: dict[str, Value] = {**ends, "most": most, "colour": known.label}
    return tuple(Note(f"steep.note.{code}", values) for code, so in worth_a_word.items() if so)


def _log_shares(pigment: Colourant, celsius: ArrayLike, minutes: ArrayLike) -> Array:
    """Logarithm of the share of the plateau: what has come out, less what heat has taken.

    Shape (..., release, loss); on each of the last two axes the best number, the low and the high.
    """
    after = np.asarray(minutes, dtype=np.float64)
    out = np.log(-np.expm1(-_release(pigment, celsius) * after[..., None]))
    lost = (_loss(pigment, celsius) * after)[..., None] * _best_low_high(
        "loss_factor", pigment.name
    )
    return np.asarray(out[..., :, None] - lost[..., None, :])


def _release(pigment: Colourant, celsius: ArrayLike) -> Array:
    """First-order rate at which colour comes out: best, low and high, shape (..., 3) [1/min]."""
    rate = _best_low_high("release_rate", pigment.name)
    energy = _best_low_high("release_ea", pigment.name)
    reference = steeping_value("release_rate_temperature")
    away = 1000.0 * _over_rt(celsius, reference)[..., None]
    best = rate[0] * np.exp(-energy[0] * away)
    warmer = (energy[0] - energy[1:]) * away
    log_sides = np.log(rate[1:] / rate[0])
    low = np.hypot(log_sides[0], np.maximum(-warmer.min(axis=-1), 0.0))
    high = np.hypot(log_sides[1], np.maximum(warmer.max(axis=-1), 0.0))
    sides = np.stack([np.zeros_like(low), -low, high], axis=-1)
    return np.asarray(best * np.exp(sides))


def _loss(pigment: Colourant, celsius: ArrayLike) -> Array:
    """Published loss of a clean infusion [1/min]; 0 where none is published."""
    if not _has_loss(pigment):
        return np.zeros(np.shape(celsius))
    rate = fading(pigment, typical("infusion_ph").value, celsius, "clean").rate
    return np.asarray(rate / _MINUTES_PER_DAY)


def _has_loss(pigment: Colourant) -> bool:
    return (
        "clean" in fading_conditions(pigment)
        and steeping_number("loss_factor", pigment.name).value > 0
    )


def _over_rt(celsius: ArrayLike, reference_c: float) -> Array:
    """1/(R T) less 1/(R T) at the reference [mol/J]."""
    zero, gas = (value_of(_CONSTANTS, name) for name in ("zero_celsius", "gas_constant"))
    kelvin = np.asarray(celsius, dtype=np.float64) + zero
    return np.asarray((1.0 / kelvin - 1.0 / (reference_c + zero)) / gas)


def _outside_log_variance(celsius: Array, minutes: Array) -> Array:
    """Variance that the logarithm of the strength gains where the papers do not reach."""
    coolest, warmest, shortest, longest = (steeping_value(f"plateau_{end}") for end in _PLATEAU)
    by_heat = steeping_value("extra_sd_per_degree_cooler") * np.maximum(coolest - celsius, 0.0)
    by_heat += steeping_value("extra_sd_per_degree_hotter") * np.maximum(celsius - warmest, 0.0)
    beyond = np.maximum(np.log(shortest / minutes), 0.0) + np.maximum(
        np.log(minutes / longest), 0.0
    )
    by_time = steeping_value("extra_sd_per_ln_time") * beyond
    return np.asarray(np.log1p(by_heat**2) + np.log1p(by_time**2))


def _relative(log_sd: Array) -> Array:
    """Relative standard deviation of a log-normal; held where all that is known is "hardly any"."""
    return np.asarray(np.sqrt(np.expm1(np.minimum(log_sd, _WIDEST_LOG_SD) ** 2)))


def _made_up(liquid: Infusion, worth: Range) -> Range:
    """Strength of the finished infusion; what stays in the petals is not known well either."""
    best = float(liquid.best)
    down = np.hypot(
        np.log(best / float(liquid.low)), np.log(worth.best / max(worth.low, _LEAST * worth.best))
    )
    up = np.hypot(np.log(float(liquid.high) / best), np.log(worth.high / worth.best))
    return Range(best, float(best * np.exp(-down)), float(best * np.exp(up)))


def _as_measured(per_cm: float) -> Range:
    relative = reading_spread("pigment_strength", "measured").sd_relative
    factor = float(np.exp(NINE_IN_TEN_SD * np.sqrt(np.log1p(relative**2))))
    return Range(per_cm, per_cm / factor, per_cm * factor)


def _beside_expected(measured: float | None, expected: Range) -> tuple[Note, ...]:
    if measured is None or expected.low <= measured <= expected.high:
        return ()
    side = "below" if measured < expected.low else "above"
    values: dict[str, Value] = {"low": expected.low, "high": expected.high}
    return (Note(f"steep.note.measured-{side}", values, "measured"),)


def _warnings(celsius: float, minutes: float) -> tuple[Note, ...]:
    fridge, cooked = steeping_value("germs_from"), steeping_value("germs_to")
    values: dict[str, Value] = {"temperature": celsius, "fridge": fridge, "cooked": cooked}
    grows = fridge < celsius < cooked and minutes > steeping_value("germs_minutes")
    told = {"hot": celsius >= steeping_value("scalds_from"), "lukewarm": grows}
    minded = [Note(f"steep.warn.{code}", values, "temperature") for code in told if told[code]]
    return (*minded, Note("steep.warn.germs"), Note("steep.warn.skin"))
