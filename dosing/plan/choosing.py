"""Choosing the dose: where along the path a wish comes true within the cautions.

Without a wish it is the surest change that is ``ok``: the smallest dose after which hardly any
more of the possible tubs would turn clearly. A stronger one is chosen only if it adds much; else
it is offered.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from dosing.ingredients.trade_values import typical
from dosing.plan.case import MIND, OK, Case
from dosing.plan.levels import LEVELS
from dosing.plan.odds import odds
from dosing.plan.path import Match, step_for, turns
from dosing.plan.pouring import Pouring, pour_at_once, with_chalk
from dosing.plan.records import Odds, OtherDose, Wish
from indicator.words import change_level

Array = NDArray[np.float64]

LIKELY = 0.5
"""Share of the possible tubs from which a change may be expected."""


@dataclass(frozen=True)
class Choice:
    """A dose, how it is poured, and what speaks for it."""

    grams: float
    match: Match
    ideal: Match
    """The same if no caution stood in the way."""
    pouring: Pouring
    level: int
    """Caution level that was allowed, an index into `LEVELS`."""
    odds: Odds
    offer: OtherDose | None = None
    """A stronger dose that was not chosen."""
    milder: OtherDose | None = None
    """A milder one, where the stronger was chosen."""

    @property
    def reached(self) -> bool:
        """Whether the wish is met by a pour that keeps the level."""
        return self.match.met and self.pouring.level <= self.level


def given(case: Case, grams: float) -> Choice:
    """A given dose, poured at once.

    Parameters
    ----------
    case : Case
        The recipe worked out.
    grams : float
        The dose [g].

    Returns
    -------
    Choice
    """
    pouring = with_chalk(pour_at_once(case.possible, grams, case.bathers), case.bathers)
    ph = float(case.basis.after(grams).ph)
    match = Match(int(np.argmin(np.abs(case.path.ph - ph))), True, 0.0)
    wished = odds(case, Wish("dose", ""), pouring)
    return Choice(grams, match, match, pouring, case.accepted, wished)


def chosen(case: Case, wish: Wish) -> Choice:
    """Dose for a wish: where it comes true within the cautions, or comes nearest.

    Parameters
    ----------
    case : Case
        The recipe worked out.
    wish : Wish
        A pH, a colour, or nothing but an obvious change.

    Returns
    -------
    Choice
        Its match is not met where the wish does not come true.
    """
    path = case.path
    blind = not case.setting.bath.strengths and wish.ph is None
    if blind or not turns(path):
        nothing = Match(0, False, float("nan"))
        return _at(case, wish, nothing, nothing, case.accepted)
    ideal = step_for(path, wish, np.ones(len(path.ph), dtype=bool))
    if wish.kind == "none":
        return _surest(case, wish, ideal)
    allowed = case.basis.allowed
    if ideal.met and allowed.passes(path, ideal.step, case.accepted):
        return _at(case, wish, ideal, ideal, case.accepted)
    steps = allowed.steps(path, case.accepted)
    match = step_for(path, wish, steps if steps.any() else np.arange(len(steps)) == 0)
    # Portions may fail by a hair at one step within the stretch and pass at the next.
    while match.met and not allowed.passes(path, match.step, case.accepted) and steps.sum() > 1:
        steps[match.step] = False
        match = step_for(path, wish, steps)
    return _at(case, wish, match, ideal, case.accepted)


def _at(case: Case, wish: Wish, match: Match, ideal: Match, level: int) -> Choice:
    gentle = case.basis.allowed.poured(case.path, match.step, level)
    pouring = with_chalk(gentle, case.bathers)
    grams = float(case.path.grams[match.step])
    return Choice(grams, match, ideal, pouring, level, odds(case, wish, pouring))


def _surest(case: Case, wish: Wish, ideal: Match) -> Choice:
    """The surest obvious change of the mildest level; of the next one where that adds much."""
    at_levels = [choice for level in (OK, MIND) if (choice := _surest_of(case, ideal, level))]
    if not at_levels:
        return _at(case, wish, Match(0, False, float("nan")), ideal, case.accepted)
    mild, strong = at_levels[0], at_levels[-1]
    gains = strong.odds.reached_share - mild.odds.reached_share
    if gains >= typical("worth_a_level").value:
        return replace(strong, milder=_other(case, mild, gains))
    # What is hardly less sure than a change that may be expected may be expected too.
    mild = replace(mild, match=replace(mild.match, met=mild.match.met or strong.match.met))
    if gains < typical("surest_within").value:
        return mild
    return replace(mild, offer=_other(case, strong, gains))


def _surest_of(case: Case, ideal: Match, level: int) -> Choice | None:
    """The surest change within a level: poured at once, unless portions are surer."""
    best: Choice | None = None
    for at_once in (True, False):
        mask = case.basis.allowed.steps(case.path, level, at_once=at_once)
        if not mask.any():
            continue
        step = _surest_step(case, mask)
        if best is not None and step <= best.match.step:
            continue
        choice = _with_odds(_at(case, Wish("none", ""), _match(case, step), ideal, level))
        if best is None or _surer(choice, best):
            best = choice
    return best


def _surest_step(case: Case, mask: NDArray[np.bool_]) -> int:
    steps, chances = np.flatnonzero(mask), case.basis.chances
    step = int(steps[knee(case.path.grams[steps], chances[steps])])
    if chances[step] > typical("surest_within").value:
        return step
    # Next to no tub turns clearly: as far as it turns at all.
    return step_for(case.path, Wish("none", ""), mask).step


def _surer(choice: Choice, than: Choice) -> bool:
    """Whether a choice is worth more trouble than another."""
    if choice.match.met != than.match.met:
        return choice.match.met
    gains = choice.odds.reached_share - than.odds.reached_share
    return gains > typical("surest_within").value


def knee(grams: Array, chances: Array) -> int:
    """Smallest dose that a larger one does not make surer by enough to be worth its powder.

    A dose is as good as the best if the best is within two points of it, or within two points for
    each doubling of the powder that the best would take, five at most.

    Parameters
    ----------
    grams : numpy.ndarray
        Doses, rising [g], shape (doses,).
    chances : numpy.ndarray
        Chance of each, 0 to 1, shape (doses,).

    Returns
    -------
    int
        Index of the dose.
    """
    within = typical("surest_within")
    best = int(np.argmax(chances))
    doublings = np.log2(np.maximum(grams[best], 1e-9) / np.maximum(grams, 1e-9))
    short = np.clip(within.value * doublings, *within.ends)
    return int(np.argmax(chances >= chances[best] - short))


def _match(case: Case, step: int) -> Match:
    """Met where the change of the tub as read is obvious."""
    obvious = str(change_level(case.path.change_delta_e[step])) == "obvious"
    return Match(step, obvious, 0.0 if obvious else float("nan"))


def _with_odds(choice: Choice) -> Choice:
    """The choice, met too where most of the possible tubs turn clearly."""
    likely = choice.odds.reached_share >= LIKELY
    return replace(choice, match=replace(choice.match, met=choice.match.met or likely))


def _other(case: Case, choice: Choice, gains: float) -> OtherDose:
    return OtherDose(
        grams=choice.grams,
        ph=float(case.path.ph[choice.match.step]),
        level=LEVELS[choice.level],
        reached_share=choice.odds.reached_share,
        gains=gains,
    )
