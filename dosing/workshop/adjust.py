"""pH of a batch brought to a wish: readings against grams of acid or base, and how much more.

What a base takes up is unknown weak acids, some at every pH. Many possible bases wander until they
spread as far as the readings leave it open. What is weighed in, and water, follow the engine.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache, cached_property
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from dosing.equilibrium import Array, mass_for_ph, solve
from dosing.ingredients.powders import scale_floor_g, scale_step
from dosing.ingredients.trade_values import NINE_IN_TEN, reading_spread, typical
from dosing.workshop.adjusters import Adjuster
from indicator.notes import Note, Value
from indicator.threads import one_thread

TRIALS, SEED = 240, 17
ROUNDS, LOG_STEPS, WIDEST = 200, (-3.5, -0.2), 10.0
"""How often trials move; the logarithm of how far; how many times too wide errors are first."""
PH_STEP = 0.125
PH_GRID = np.arange(2.0, 13.1, PH_STEP)
SALT_STEP = 1.0
SALT_NODES = np.arange(-3.0, 3.5, SALT_STEP)
"""Salts for which the charge is worked out [standard deviations]; between them a straight line."""
GROUPS = np.arange(1.0, 13.5, 0.5)
"""pH at which the weak acids of a base have given off half of their protons."""
HUNDRED_G_PER_KG = 10.0
NINE_OF_TEN = (0.05, 0.5, 0.95)
FIT_READINGS = 3
"""Amounts from which on it is a fit; with fewer much rests on what bases usually are."""
CURVE = 10
"""Points of the pH between now and the wish."""


@dataclass(frozen=True)
class BatchReading:
    """The pH of a batch after so much was stirred in."""

    grams: float
    """In all so far [g per 100 g of batch]."""
    ph: float
    days: float = 0.0
    """Since the last was stirred in; 0 where nobody said."""


@dataclass(frozen=True)
class AdjustAsked:
    """Readings of a batch and the pH that it shall have."""

    readings: tuple[BatchReading, ...]
    """At least one; by grams, then by days."""
    wished_ph: float
    given: Adjuster
    """What the readings' grams are of."""
    next: Adjuster
    """What goes in now."""
    batch_g: float
    """Batch that is brought to the wish [g]."""
    read_with: str = "meter"
    """``"meter"`` or ``"strip"``."""
    dyed: bool = False
    """Whether a plant infusion is in it already."""


@dataclass(frozen=True)
class Drift:
    """Drift of the pH by itself after the last was stirred in."""

    grams: float
    """[g per 100 g of batch]."""
    from_days: float
    to_days: float
    moved: float
    """pH, down negative."""
    moving: bool
    """Whether that is more than a meter's reading of the same thing differs."""


@dataclass(frozen=True)
class Adjustment:
    """Grams more that bring a batch to its wish, nine in ten within the range."""

    stock: str
    """What goes in, for people."""
    from_ph: float
    """The last reading."""
    wished_ph: float
    batch_g: float
    amounts_read: int
    """Different amounts at which the pH was read."""
    consistent: bool
    """Whether any base fits the readings; else nothing is worked out."""
    fitted: bool
    """Whether the readings alone decide; else also what bases usually are."""
    more_g: float
    """For the batch [g]; 0 where it is there, NaN where no amount gets there."""
    more_low_g: float
    more_high_g: float
    per_100_g: float
    """`more_g` for 100 g of batch [g]."""
    first_g: float
    """To stir in before the next reading, on a scale: half of it at most [g]."""
    first_ph_low: float
    """Where that leads, nine in ten."""
    first_ph_high: float
    straight_line_g: float
    """What a straight line through the first and the last reading would ask [g]; NaN for one."""
    takes_up_meq_kg: float
    """Acid that the base takes from pH 8 to 5 [meq/kg], the acid stirred in so far left out."""
    drift: Drift | None
    """The last two readings of one amount; None where no amount was read twice."""
    notes: tuple[Note, ...]


@one_thread()
def adjust(asked: AdjustAsked) -> Adjustment:
    """Grams of acid or base that bring a batch from its readings to a wished pH.

    Parameters
    ----------
    asked : AdjustAsked
        Readings, wish, and what is weighed in.

    Returns
    -------
    Adjustment
    """
    fit = _Fit(asked)
    last = asked.readings[-1]
    per_kg = fit.more_g_kg(np.array([asked.wished_ph]))[:, 0]
    if not fit.consistent:
        per_kg = np.full(TRIALS, np.inf)
    low, best, high = (float(end) for end in _quantiles(per_kg) * asked.batch_g / 1000.0)
    first = _first_g(low, best)
    ends = fit.ph_after(first / asked.batch_g * 1000.0) if first > 0 else np.full(3, last.ph)
    amounts = len({reading.grams for reading in asked.readings})
    drift = _drift(asked.readings)
    return Adjustment(
        stock=asked.next.label,
        from_ph=last.ph,
        wished_ph=asked.wished_ph,
        batch_g=asked.batch_g,
        amounts_read=amounts,
        consistent=fit.consistent,
        fitted=amounts >= FIT_READINGS,
        more_g=best,
        more_low_g=low,
        more_high_g=high,
        per_100_g=best / asked.batch_g * 100.0,
        first_g=first,
        first_ph_low=float(ends[0]),
        first_ph_high=float(ends[2]),
        straight_line_g=_straight_line_g(asked),
        takes_up_meq_kg=fit.takes_up_meq_kg,
        drift=drift,
        notes=_notes(asked, drift, fit.takes_up_meq_kg),
    )


def _quantiles(trials: Array) -> Array:
    """Low end, middle and high end of nine in ten; what never gets there is NaN."""
    ends = np.quantile(trials, NINE_OF_TEN, method="closest_observation")
    return np.where(np.isinf(ends), np.nan, ends)


def _first_g(low: float, best: float) -> float:
    """Half, or the low end where that is less, but a quarter at least [g]."""
    if not best > 0:
        return 0.0
    careful = min(best / 2.0, max(low, best / 4.0))
    return scale_floor_g(careful, scale_step(careful))


def _straight_line_g(asked: AdjustAsked) -> float:
    """What a straight line through the first and the last reading asks for the batch [g]."""
    first, last = asked.readings[0], asked.readings[-1]
    if first.grams == last.grams or first.ph == last.ph or asked.given != asked.next:
        return float("nan")
    slope = (last.ph - first.ph) / (last.grams - first.grams)
    return (asked.wished_ph - last.ph) / slope * asked.batch_g / 100.0


def _drift(readings: Sequence[BatchReading]) -> Drift | None:
    """The last two readings of the amount that was read twice last."""
    twice = [(early, late) for early, late in pairwise(readings) if early.grams == late.grams]
    if not twice:
        return None
    early, late = twice[-1]
    moved = late.ph - early.ph
    moving = abs(moved) > typical("same_ph").value + 1e-9
    return Drift(late.grams, early.days, late.days, moved, moving)


def _notes(asked: AdjustAsked, drift: Drift | None, taken_meq_kg: float) -> tuple[Note, ...]:
    last = asked.readings[-1]
    meets = typical("infusion_meets_base_ph").value
    alkaline = max(last.ph, asked.wished_ph) > meets
    dyed = asked.dyed
    low, high = typical("base_titratable").ends
    swing: dict[str, Value] = {"taken": taken_meq_kg, "low": low, "high": high}
    told = [
        Note("adjust.note.much", swing) if taken_meq_kg > high else None,
        Note("adjust.note.dyed", {"ph": meets}) if dyed and alkaline else None,
        Note("adjust.note.order", {"ph": meets}) if alkaline and not dyed else None,
        Note("adjust.note.strip") if asked.read_with == "strip" else None,
        Note("adjust.note.lye", {"stock": asked.next.label}) if asked.next.caustic else None,
    ]
    before = next((each for each in reversed(asked.readings) if each.grams < last.grams), None)
    if before is not None and abs(last.ph - before.ph) <= typical("same_ph").value + 1e-9:
        stirred: dict[str, Value] = {"grams": last.grams - before.grams, "stock": asked.given.label}
        told.insert(0, Note("adjust.note.still", stirred | {"moved": abs(last.ph - before.ph)}))
    if drift is not None and drift.moving:
        told.append(Note("adjust.note.moving", {"moved": abs(drift.moved)}))
    elif last.days < typical("batch_settles_days").value:
        told.append(Note("adjust.note.again"))
    return tuple(note for note in told if note is not None)


def _taken_up(ph: Array) -> Array:
    """Share of each weak acid that has given off its proton, weak acids on a new last axis."""
    return np.asarray(1.0 / (1.0 + 10.0 ** (GROUPS - ph[..., None])))


GRID_TAKEN_UP = _taken_up(PH_GRID)


class _Fit:
    """Bases that the readings leave possible; trials lie on the first axis.

    Everything that is unknown is a standard normal number of its own: each trial wanders among
    them (preconditioned Crank-Nicolson), and stays where the readings become likelier.
    """

    def __init__(self, asked: AdjustAsked) -> None:
        self.asked = asked
        self.random = np.random.default_rng(SEED)
        # Of an amount that was read again and again only the latest counts.
        latest = {reading.grams: reading.ph for reading in asked.readings}
        self.grams_kg = HUNDRED_G_PER_KG * np.array(list(latest))
        self.read = np.array(list(latest.values()))
        drift = _drift(asked.readings)
        moved = drift.moved if drift is not None and drift.moving else 0.0
        self.sd = float(np.hypot(reading_spread("ph", asked.read_with).sd(0.0), moved))
        self.weighed = self._weighed_in()
        self._wander()

    def _weighed_in(self) -> Array:
        """Charge of water and what was weighed in [mol/kg], shape (salts, readings, pH)."""
        given = self.asked.given.moles(self.grams_kg[None, :, None])
        return _charge(PH_GRID, given, _salt(SALT_NODES)[:, None, None])

    def _wander(self) -> None:
        """Let all trials wander from usual bases to those that the readings leave possible."""
        unknown = self.random.standard_normal((TRIALS, len(GROUPS) + 3))
        state, before = self._state(unknown), np.inf
        for widened in (*np.geomspace(WIDEST, 1.0, ROUNDS // 2), *np.ones(ROUNDS // 2)):
            # Trials that the narrower errors make unlikely give way to copies of the others.
            log_weights = -state.misfit / 2.0 * (widened**-2 - before**-2)
            if np.ptp(log_weights) > 0:
                kept = self._drawn(np.exp(log_weights - log_weights.max()))
                unknown, state = unknown[kept], state.at(kept)
            before = widened
            length = np.exp(self.random.uniform(*LOG_STEPS, (TRIALS, 1)))
            moved = self.random.standard_normal(unknown.shape)
            tried = np.sqrt(1.0 - length**2) * unknown + length * moved
            there = self._state(tried)
            likelier = (state.misfit - there.misfit) / (2.0 * widened**2)
            taken = np.log(self.random.uniform(size=TRIALS)) < likelier
            unknown = np.where(taken[:, None], tried, unknown)
            state = state.where(taken, there)
        self.possible = state

    def _drawn(self, weights: Array) -> NDArray[np.intp]:
        """Trials by their weights, each about as often as it should."""
        steps = (self.random.uniform() + np.arange(TRIALS)) / TRIALS
        return np.searchsorted(np.cumsum(weights / weights.sum())[:-1], steps)

    def _state(self, unknown: Array) -> _Possible:
        """Bases of the unknowns: shape, level, salt and error of the first reading."""
        acids = len(GROUPS)
        held = _base(unknown[:, :acids], unknown[:, acids])
        salt = np.clip(unknown[:, acids + 1], SALT_NODES[0], SALT_NODES[-1])
        first = self.read[0] + self.sd * unknown[:, acids + 2]
        taken = held @ GRID_TAKEN_UP.T
        # A straight line between the nearest two salts.
        near = np.clip(1.0 - np.abs(np.subtract.outer(salt, SALT_NODES)) / SALT_STEP, 0.0, 1.0)
        weighed = np.tensordot(near / near.sum(1, keepdims=True), self.weighed, 1)
        # Negative charges too many at each pH; they rise with it.
        excess = taken[:, None] - weighed
        strong = _at(excess[:, 0], first)
        ph = np.column_stack(
            [first, *(_root(row - strong[:, None]) for row in np.moveaxis(excess[:, 1:], 1, 0))]
        )
        misfit = np.sum(np.square((ph[:, 1:] - self.read[1:]) / self.sd), -1)
        return _Possible(held, strong, _salt(salt), misfit)

    @property
    def consistent(self) -> bool:
        """Whether the likeliest of the possible bases come near the readings."""
        nearest = float(np.quantile(self.possible.misfit, NINE_OF_TEN[0]))
        return nearest < typical("readings_apart").value ** 2

    def more_g_kg(self, ph: Array) -> Array:
        """What goes in next to reach each pH [g/kg], shape (trials, pH); infinite for never."""
        bases = self.possible
        left = bases.strong[:, None] - bases.held @ _taken_up(ph).T
        salt = bases.salt[:, None]
        already = self.asked.given.moles(self.grams_kg[-1:])
        totals = _with_salt(already, salt + np.maximum(left, 0.0), salt + np.maximum(-left, 0.0))
        found = mass_for_ph(totals, self.asked.next.moles(np.ones(())), ph)
        excess = left + _charge(ph, already, salt)
        past = excess <= 0 if self.asked.next.reaction == "acid" else excess >= 0
        return np.where(found.reached, found.mass, np.where(past, 0.0, np.inf))

    def ph_after(self, grams_kg: float) -> Array:
        """Low end, middle and high end of the pH after so much more [g/kg]."""
        now, wished = self.asked.readings[-1].ph, self.asked.wished_ph
        path = now + np.linspace(-1.0, 2.0, CURVE) * (wished - now)
        after = [np.interp(grams_kg, row, path) for row in self.more_g_kg(path)]
        return np.quantile(after, NINE_OF_TEN)

    @cached_property
    def takes_up_meq_kg(self) -> float:
        """Middle of what the base takes up between the pH of the usual value [meq/kg]."""
        return float(np.median(self.possible.held @ _usual_swing())) * 1000.0


@dataclass(frozen=True)
class _Possible:
    """Possible bases, trials on the first axis."""

    held: Array
    """Weak acids [mol/kg], shape (trials, acids)."""
    strong: Array
    """Charge that balances them [mol/kg]."""
    salt: Array
    """[mol/kg]."""
    misfit: Array
    """Squared distance from the readings in standard deviations, summed."""

    def at(self, kept: NDArray[np.intp]) -> _Possible:
        return _Possible(self.held[kept], self.strong[kept], self.salt[kept], self.misfit[kept])

    def where(self, taken: NDArray[np.bool_], there: _Possible) -> _Possible:
        return _Possible(
            np.where(taken[:, None], there.held, self.held),
            np.where(taken, there.strong, self.strong),
            np.where(taken, there.salt, self.salt),
            np.where(taken, there.misfit, self.misfit),
        )


def _charge(ph: Array, moles: Mapping[str, Array], salt: Array) -> Array:
    """Charge of water and what was weighed in, in salt water at a pH [mol/kg]."""
    return np.asarray(solve(_with_salt(moles, salt, salt), ph=ph).charge_error)


def _with_salt(moles: Mapping[str, Array], cation: Array, anion: Array) -> dict[str, Array]:
    return {"cation": cation, "anion": anion, **moles}


def _salt(normal: Array) -> Array:
    """Dissolved salts of a base so many standard deviations from the usual [mol/kg]."""
    log_ends = np.log(typical("base_salt").ends)
    return np.asarray(np.exp(log_ends.mean() + normal * np.ptp(log_ends) / NINE_IN_TEN))


def _at(rows: Array, ph: Array) -> Array:
    """Value of each row at a pH of its own."""
    place = np.clip((ph - PH_GRID[0]) / PH_STEP, 0, len(PH_GRID) - 1.001)
    low, row = place.astype(int), np.arange(len(rows))
    part = place - low
    return np.asarray((1.0 - part) * rows[row, low] + part * rows[row, low + 1])


def _root(rows: Array) -> Array:
    """The pH at which each rising row passes zero; an end of the grid where it does not."""
    above = np.clip(np.sum(rows < 0.0, axis=1), 1, len(PH_GRID) - 1)
    row = np.arange(len(rows))
    low, high = rows[row, above - 1], rows[row, above]
    with np.errstate(divide="ignore", invalid="ignore"):
        part = np.clip(-low / (high - low), 0.0, 1.0)
    return np.asarray(PH_GRID[above - 1] + PH_STEP * part)


def _usual_swing() -> Array:
    """Share of each weak acid that takes a proton where usual bases are titrated."""
    ends = [typical(f"foam_bath_titratable_{way}_ph").value for way in ("from", "to")]
    start, end = _taken_up(np.array(ends))
    return np.asarray(start - end)


def _base(shape: Array, level: Array) -> Array:
    """Weak acids of bases as they usually are [mol/kg], shape (trials, acids).

    Uneven from pH to pH; all together take up what bases usually do.
    """
    uneven = np.exp(shape @ _unevenness())
    log_ends = np.log(np.divide(typical("base_titratable").ends, 1000.0))
    taken = np.exp(log_ends.mean() + level * np.ptp(log_ends) / NINE_IN_TEN)
    return np.asarray(uneven * (taken / (uneven @ _usual_swing()))[:, None])


@cache
def _unevenness() -> Array:
    """Root of the covariance of the logarithms of a base's weak acids."""
    apart = np.subtract.outer(GROUPS, GROUPS) / typical("base_unevenness_reach").value
    alike = np.exp(-0.5 * apart**2) + 1e-9 * np.eye(len(GROUPS))
    return np.asarray(typical("base_unevenness").value * np.linalg.cholesky(alike).T)
