"""Sachets: which size turns how many homes, and how customers can pour the right amount.

Every home is an interval of grams: from the least that turns it to the most that keeps it within
the caution limit. A size serves the homes whose interval it lies in, so any number of sizes and
rules is counted, not solved again.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import combinations, combinations_with_replacement

import numpy as np
from numpy.typing import ArrayLike, NDArray

from dosing.cautions import (
    LEVELS,
    Caution,
    Colourant,
    Moment,
    Situation,
    exit_code,
    judge,
    judged_bathers,
)
from dosing.hardness_units import alkalinity_in
from dosing.inputs import RecipeInputs
from dosing.pouring import gentlest_ph
from dosing.powders import Blend
from dosing.sachets.home_doses import (
    HomeDoses,
    Population,
    Progress,
    filled,
    home_doses,
    ph_after,
    take,
)
from dosing.sachets.populations import Homes
from dosing.sachets.turning import turning_table
from dosing.trade_values import reading_spread, typical
from dosing.tub import depth_cm
from dosing.uncertainty import ALKALINE_SIDE
from indicator.notes import Note
from indicator.tables import read_table, value_of
from indicator.words import Target, parse_target

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]

SIDES = (0.05, 0.5, 0.95)
GRID = 120
"""Sizes that are tried, in round grams."""
COARSE = 48
"""Sizes that are tried together with others."""
FILL_MARKS = 3


@dataclass(frozen=True)
class Shares:
    """Shares of homes, 0 to 1, that add up to 1."""

    turns: float
    """Turned, and within the caution limit."""
    does_not_turn: float
    past_limit: float
    """Past the caution limit, turned or not."""


@dataclass(frozen=True)
class Size:
    """One sachet, the same in every home."""

    grams: float
    shares: Shares
    ph_low: float
    """5 % of the homes end more acid than this, just poured."""
    ph_middle: float
    ph_high: float
    """5 % of the homes end less acid."""


@dataclass(frozen=True)
class PadRule:
    """What a customer pours who reads an alkalinity strip."""

    kind: str
    """``"count"`` (sachets of one size) or ``"sizes"`` (one of several sizes)."""
    sizes_g: tuple[float, ...]
    """What is sold, the smallest first [g]."""
    pads: tuple[float, ...]
    """Steps of the strip [mg/L CaCO3]."""
    grams: tuple[float, ...]
    """Activator for each step [g]."""
    shares: Shares


@dataclass(frozen=True)
class FillMark:
    """How far a customer without any reading may go, by how full the tub is."""

    up_to_l: float
    """Water as the customer judges it [L]; infinite for the last mark."""
    depth_cm: float | None
    """Depth of that much in a usual tub [cm]; None where there is no end or no usual tub."""
    most_g: float
    """Never more than this [g]."""


@dataclass(frozen=True)
class ColourRule:
    """Half a sachet, stir, wait, the rest by colour, never more than the maximum."""

    sachet_g: float
    first_g: float
    step_g: float
    marks: tuple[FillMark, ...]
    shares: Shares


@dataclass(frozen=True)
class Answer:
    """Everything about one activator and one population."""

    title: str
    population: str
    homes: int
    bathers: str
    purpose: str
    wish: Target | None
    limit_ph: float
    """The most acid pH that counts as within the limit; 0 where there is none."""
    most_past: float
    """Share of homes that may end past it in what looks like success."""
    activator: tuple[tuple[str, float], ...]
    """Powders of the blend (key of the powder table, mass share)."""
    sizes: tuple[Size, ...]
    """Those that were asked for, else some around the best."""
    sizes_given: bool
    single: Size | None
    """The size that serves most homes; None where each takes too many past the limit."""
    wished_share: float
    wished: Size | None
    """The smallest size that serves the wished share; None if none does."""
    reaching: Size | None
    """The smallest size that brings the wished share to its turn, limits aside."""
    rules: tuple[PadRule, ...]
    by_colour: ColourRule | None
    recommended: str
    """``"one"``, ``"count"``, ``"sizes"``, ``"by colour"`` or ``"none"``."""
    cautions: tuple[Caution, ...]
    notes: tuple[Note, ...]
    doses: HomeDoses
    in_homes: Population

    def poured(self, way: str) -> Array:
        """Grams in each home if poured in one of the ways, shape (homes,)."""
        counted = len(self.doses.turns_g)
        if way == "one" and self.single is not None:
            return np.full(counted, self.single.grams)
        if way == "by colour" and self.by_colour is not None:
            return _poured_by_colour(self.in_homes, self.doses, self.by_colour)
        for rule in self.rules:
            if rule.kind == way:
                return np.asarray(rule.grams)[read_pads(self.in_homes.homes)]
        return np.zeros(counted)

    @property
    def over_the_limit(self) -> tuple[Size, ...]:
        """The sizes asked for that take too many homes past the limit."""
        if not self.sizes_given:
            return ()
        return tuple(one for one in self.sizes if one.shares.past_limit > self.most_past)

    @property
    def recommended_shares(self) -> Shares | None:
        """Shares of what is recommended; None if nothing is."""
        if self.recommended == "one" and self.single is not None:
            return self.single.shares
        if self.recommended == "by colour" and self.by_colour is not None:
            return self.by_colour.shares
        return next((one.shares for one in self.rules if one.kind == self.recommended), None)

    @property
    def reached(self) -> bool:
        """Whether what is recommended serves the wished share."""
        shares = self.recommended_shares
        return shares is not None and shares.turns >= self.wished_share

    @property
    def forbidden(self) -> bool:
        """Whether cautions forbid what is asked for, or what is recommended."""
        return bool(self.over_the_limit) or exit_code(self.cautions) != 0


def sachet_answer(
    inputs: RecipeInputs,
    homes: Homes,
    *,
    sizes_g: Sequence[float] = (),
    wished_share: float | None = None,
    most_sachets: int | None = None,
    accept_ph: str | None = None,
    progress: Progress | None = None,
) -> Answer:
    """Shares of homes for each size, and the best ways to sell and to pour.

    Parameters
    ----------
    inputs : RecipeInputs
        Whose bottle, activator, temperature, wish and bathers are kept.
    homes : Homes
        The households.
    sizes_g : sequence of float
        Sachets to be judged [g]; some around the best if none are given.
    wished_share : float, optional
        Share of homes that shall be served, 0 to 1.
    most_sachets : int, optional
        Most sachets that a customer opens, and most sizes on sale: 1 to 3.
    accept_ph : str, optional
        Why a pH that needs a written reason is accepted.
    progress : callable, optional
        Told the homes that are done, and all of them.

    Raises
    ------
    ValueError
        If the activator does not lower the pH, nothing can be seen, or a number is out of range.
    """
    share = _own("wished_share") if wished_share is None else wished_share
    most = int(_own("most_sachets")) if most_sachets is None else most_sachets
    _check(share, most)
    wish = None if inputs.wish.target is None else parse_target(inputs.wish.target)
    bathers = judged_bathers(inputs.wish.bathers)
    limit_ph = caution_limit_ph(bathers, reasoned=accept_ph is not None)
    population = filled(inputs, homes)
    _check_acid(population)
    volumes = (float(population.volume_l.min()), float(population.volume_l.max()))
    turning = turning_table(inputs, wish, volumes)
    # Without sizes of the maker's own those that are shown depend on the needs, so the pH after
    # them is solved second.
    doses = home_doses(population, turning, limit_ph, sizes_g, progress)
    _check_turned_before(doses, wish)
    counted = _Counted(doses, _own(f"most_past_limit_{bathers}"))
    best = counted.best()
    shown = tuple(sizes_g) or _around(best, counted)
    extra = [one for one in (best, *counted.sizes_for(share)) if one is not None]
    wanted = sorted({*shown, *extra})
    final = _final_ph(population, doses, tuple(sizes_g), wanted)
    sized = {one: _size(one, counted, final[one]) for one in wanted}
    wished, reaching = counted.sizes_for(share)
    pads = _Pads(homes, counted)
    rules = tuple(rule for rule in (pads.by_count(most), pads.by_size(most)) if rule is not None)
    sachet = _sachet(rules, best, counted)
    by_colour = None if sachet is None else _by_colour(population, counted, sachet)
    single = None if best is None else sized[best]
    recommended = _recommended(share, single, rules, by_colour)
    answer = Answer(
        title=inputs.title,
        population=homes.population,
        homes=homes.count,
        bathers=bathers,
        purpose=inputs.wish.purpose,
        wish=wish,
        limit_ph=limit_ph,
        most_past=counted.most_past,
        activator=tuple(Blend(inputs.activator.parts).parts.items()),
        sizes=tuple(sized[one] for one in sorted(set(shown))),
        sizes_given=bool(sizes_g),
        single=single,
        wished_share=share,
        wished=None if wished is None else sized[wished],
        reaching=None if reaching is None else sized[reaching],
        rules=rules,
        by_colour=by_colour,
        recommended=recommended,
        cautions=(),
        notes=homes.notes,
        doses=doses,
        in_homes=population,
    )
    cautions = _cautions(inputs, answer, accept_ph)
    return replace(answer, cautions=cautions)


def caution_limit_ph(bathers: str, *, reasoned: bool = False) -> float:
    """The most acid pH that these bathers may have; 0 where nobody bathes."""
    if bathers == "nobody":
        return 0.0
    accepted = LEVELS.index("justify" if reasoned else "mind")
    return gentlest_ph(bathers, accepted, acid=True)


def size_shares(doses: HomeDoses, grams: ArrayLike) -> Shares:
    """Shares of homes for grams: one number, or one for each home."""
    poured = np.broadcast_to(np.asarray(grams, dtype=np.float64), doses.turns_g.shape)
    past = poured > doses.limit_g
    turns = (poured >= doses.turns_g) & (poured <= doses.passed_g) & ~past
    served, over = float(np.mean(turns)), float(np.mean(past))
    return Shares(served, max(1.0 - served - over, 0.0), over)


def _own(name: str) -> float:
    return value_of("trade/sachets.csv", name)


def _check(share: float, most: int) -> None:
    if not 0.0 < share < 1.0:
        raise ValueError(f"wished share is {share:.0%}; accepted are shares between 0 % and 100 %")
    top = int(_own("most_sachets"))
    if not 1 <= most <= top:
        raise ValueError(f"sachets is {most}; accepted are 1 to {top}")


def _check_acid(population: Population) -> None:
    """A sachet is judged by how far it lowers the pH; another kind of activator is refused."""
    some = take(population.bath, slice(0, 16))
    plenty = some.volume_l * typical("plenty_of_activator").value
    before = some.solve().ph
    after = some.with_activator(plenty, population.per_gram).solve().ph
    if float(np.median(before - after)) < typical("least_turn_ph").value:
        raise ValueError(
            "the activator does not lower the pH of tap water; accepted is one with an acid in it"
        )


def _check_turned_before(doses: HomeDoses, wish: Target | None) -> None:
    before = float(np.mean(doses.turns_g == 0.0))
    if before > 0.5:
        what = "" if wish is None else f" {wish.word or wish.hex or f'pH {wish.ph:g}'}"
        raise ValueError(
            f"target is{what}, which {before:.0%} of these homes have before any sachet; "
            "accepted is one that the sachet brings about"
        )


class _Counted:
    """Counts of homes along the grams, from their intervals."""

    def __init__(self, doses: HomeDoses, most_past: float) -> None:
        self.doses = doses
        self.most_past = most_past
        self.count = len(doses.turns_g)
        self.served = np.isfinite(doses.turns_g) & (doses.turns_g <= doses.most_g)
        self.grid = _round_sizes(self.doses, GRID)
        self.coarse = _round_sizes(self.doses, COARSE)

    def best(self) -> float | None:
        """The size that serves most homes, if any within the limit serves one."""
        turns, past = self.along(self.grid)
        turns = np.where(past <= self.most_past, turns, -1.0)
        best = int(np.argmax(turns))
        return float(self.grid[best]) if turns[best] > 0 else None

    def sizes_for(self, share: float) -> tuple[float | None, float | None]:
        """The smallest size that serves a share, and the smallest that turns it, limits aside."""
        turns, past = self.along(self.grid)
        served = np.flatnonzero((turns >= share) & (past <= self.most_past))
        turning = np.searchsorted(np.sort(self.doses.turns_g), self.grid, side="right")
        reaching = np.flatnonzero(turning >= share * self.count)
        return (
            float(self.grid[served[0]]) if len(served) else None,
            float(self.grid[reaching[0]]) if len(reaching) else None,
        )

    def along(self, grams: Array, among: Mask | None = None) -> tuple[Array, Array]:
        """Shares of all homes that are served, and past the limit, if those `among` pour this."""
        chosen = np.ones(self.count, dtype=bool) if among is None else among
        doses, served = self.doses, self.served & chosen
        begun = np.searchsorted(np.sort(doses.turns_g[served]), grams, side="right")
        ended = np.searchsorted(np.sort(doses.most_g[served]), grams, side="left")
        past = np.searchsorted(np.sort(doses.limit_g[chosen]), grams, side="left")
        return (begun - ended) / self.count, past / self.count


def _round_sizes(doses: HomeDoses, count: int) -> Array:
    """Round grams from what the easiest homes need to what the hardest do."""
    needs = doses.turns_g[np.isfinite(doses.turns_g)]
    if not len(needs):
        needs = doses.limit_g[np.isfinite(doses.limit_g)]
    if not len(needs):
        raise ValueError("no amount of this activator turns a home; another wish or powder might")
    low, high = np.quantile(needs, (0.005, 0.995))
    return _round_grams(np.geomspace(max(low, 0.01), max(high, 0.02), count))


def _round_grams(grams: Array) -> Array:
    """Grams that a scale shows, each once: whole ones, tenths below five, hundredths below half."""
    steps = np.where(grams >= 5.0, 1.0, np.where(grams >= 0.5, 0.1, 0.01))
    return np.unique(np.maximum(np.round(grams / steps) * steps, 0.01).round(2))


def _around(best: float | None, counted: _Counted) -> tuple[float, ...]:
    """Some sizes that show how the shares change: smaller than the best, and larger."""
    grid = counted.grid
    middle = float(grid[len(grid) // 3]) if best is None else best
    chosen = {
        float(grid[np.argmin(np.abs(grid - factor * middle))])
        for factor in (0.5, 0.75, 1.0, 1.5, 2.0, 3.0)
    }
    return tuple(sorted(chosen))


def _final_ph(
    population: Population, doses: HomeDoses, given: tuple[float, ...], wanted: Sequence[float]
) -> dict[float, Array]:
    """PH of the homes after each size: solved with the needs, or now."""
    known = dict(zip(given, doses.final_ph, strict=True))
    for one in wanted:
        if one not in known:
            known[one] = ph_after(population, np.full(len(doses.start_ph), one))
    return known


def _size(grams: float, counted: _Counted, ph: Array) -> Size:
    low, middle, high = (float(v) for v in np.quantile(ph, SIDES))
    return Size(grams, size_shares(counted.doses, grams), low, middle, high)


class _Pads:
    """Homes by the step of the strip that their customers read."""

    def __init__(self, homes: Homes, counted: _Counted) -> None:
        self.counted = counted
        self.steps = strip_pads()
        self.read = read_pads(homes)

    def by_count(self, most: int) -> PadRule | None:
        """One size; the strip says how many: the best of all rules that rise with the step."""
        if most < 2:
            return None
        grid = self.counted.grid
        sizes = _round_grams(np.concatenate([grid / most, grid]))
        tables = [
            [self.counted.along(number * sizes, self.read == pad) for number in range(1, most + 1)]
            for pad in range(len(self.steps))
        ]
        best: tuple[float, float, tuple[int, ...]] | None = None
        for numbers in combinations_with_replacement(range(1, most + 1), len(self.steps)):
            if len(set(numbers)) < 2:
                continue
            chosen = [tables[pad][number - 1] for pad, number in enumerate(numbers)]
            turns, past = (np.sum(one, axis=0) for one in zip(*chosen, strict=True))
            turns = np.where(past <= self.counted.most_past, turns, -1.0)
            place = int(np.argmax(turns))
            if turns[place] > 0 and (best is None or turns[place] > best[0]):
                best = (float(turns[place]), float(sizes[place]), numbers)
        if best is None:
            return None
        _, size, numbers = best
        return self._rule("count", (size,), tuple(size * number for number in numbers))

    def by_size(self, most: int) -> PadRule | None:
        """Several sizes; the strip says which."""
        sizes = self.counted.coarse
        best: tuple[float, tuple[int, ...], tuple[float, ...]] | None = None
        for groups in range(2, most + 1):
            for cuts in combinations(range(1, len(self.steps)), groups - 1):
                served, grams = self._best_of_groups(cuts, sizes)
                better = best is None or served > best[0] + _own("worthwhile_gain") * (
                    groups > len(best[2])
                )
                if served > 0 and better:
                    best = (served, cuts, grams)
        if best is None:
            return None
        _, cuts, grams = best
        ends = (*cuts, len(self.steps))
        each = tuple(
            grams[next(k for k, end in enumerate(ends) if pad < end)]
            for pad in range(len(self.steps))
        )
        return self._rule("sizes", tuple(sorted(set(grams))), each)

    def _best_of_groups(
        self, cuts: tuple[int, ...], sizes: Array
    ) -> tuple[float, tuple[float, ...]]:
        """Share served and the sizes, for steps cut into neighbouring groups."""
        turns, past = np.zeros(()), np.zeros(())
        ends = zip((0, *cuts), (*cuts, len(self.steps)), strict=True)
        for start, end in ends:
            one, over = self.counted.along(sizes, (self.read >= start) & (self.read < end))
            turns = turns[..., None] + one
            past = past[..., None] + over
        turns = np.where(past <= self.counted.most_past, turns, -1.0)
        place = np.unravel_index(int(np.argmax(turns)), turns.shape)
        return float(turns[place]), tuple(float(sizes[k]) for k in place)

    def _rule(self, kind: str, sizes: tuple[float, ...], grams: tuple[float, ...]) -> PadRule:
        shares = size_shares(self.counted.doses, np.asarray(grams)[self.read])
        return PadRule(kind, sizes, tuple(float(v) for v in self.steps), grams, shares)


@dataclass(frozen=True)
class _PadRow:
    mg_l_caco3: float
    source: str
    confidence: str


def strip_pads() -> Array:
    """Steps of the alkalinity pad of a test strip [mg/L CaCO3]."""
    return np.array([row.mg_l_caco3 for row in read_table("trade/strip_pads.csv", _PadRow)])


def read_pads(homes: Homes) -> NDArray[np.int_]:
    """The step that each home's customer names: the nearest to a reading with the strip's error."""
    alkalinity = homes.alkalinity_meq_l
    sd = reading_spread("alkalinity", "strip").sd(alkalinity)
    read = alkalinity_in(alkalinity + sd * homes.strip_error, "mg_l_caco3")
    steps = strip_pads()
    return np.asarray(np.searchsorted(0.5 * (steps[1:] + steps[:-1]), read))


def _sachet(rules: Sequence[PadRule], best: float | None, counted: _Counted) -> float | None:
    """The sachet of those who pour by colour: the one that is sold anyway."""
    for rule in rules:
        if rule.kind == "count":
            return rule.sizes_g[0]
    if best is not None:
        return best
    return float(counted.grid[len(counted.grid) // 3])


def _by_colour(population: Population, counted: _Counted, sachet: float) -> ColourRule:
    """Maxima per fill mark that serve most homes, each with as few past the limit as allowed."""
    doses = counted.doses
    first, step = _own("first_part") * sachet, _own("later_part") * sachet
    totals = np.arange(first, _own("most_by_colour") * sachet + 0.5 * step, step)
    stops = np.searchsorted(totals, doses.look_g)
    marks, poured = [], np.zeros(counted.count)
    for up_to, among in _fill_marks(population):
        most = _most_by_colour(doses, totals, stops, among, counted.most_past)
        usual = typical("least_tub").value <= up_to < np.inf
        depth = float(depth_cm(up_to)) if usual else None
        marks.append(FillMark(up_to, depth, float(totals[most])))
        poured[among] = totals[np.minimum(stops[among], most)]
    return ColourRule(sachet, first, step, tuple(marks), size_shares(doses, poured))


def _poured_by_colour(population: Population, doses: HomeDoses, rule: ColourRule) -> Array:
    end = max(mark.most_g for mark in rule.marks)
    totals = np.arange(rule.first_g, end + 0.5 * rule.step_g, rule.step_g)
    stops = np.searchsorted(totals, doses.look_g)
    poured = np.zeros(len(doses.look_g))
    for mark, (_, among) in zip(rule.marks, _fill_marks(population), strict=True):
        most = int(np.argmin(np.abs(totals - mark.most_g)))
        poured[among] = totals[np.minimum(stops[among], most)]
    return poured


def _fill_marks(population: Population) -> Iterator[tuple[float, Mask]]:
    """Round litres, and the homes that judge their tub to hold no more than that."""
    volume = population.volume_l
    large = float(np.median(volume)) >= typical("least_tub").value
    step = _own("fill_mark_step") if large else 1.0
    thirds = np.quantile(volume, np.arange(1, FILL_MARKS) / FILL_MARKS)
    ends = [float(v) for v in np.unique(np.round(thirds / step) * step)]
    sd = reading_spread("volume", "by-eye").sd_relative
    judged = volume * np.exp(sd * population.homes.fill_error)
    below = -np.inf
    for end in (*ends, np.inf):
        yield end, (judged > below) & (judged <= end)
        below = end


def _most_by_colour(
    doses: HomeDoses, totals: Array, stops: NDArray[np.int_], among: Mask, most_past: float
) -> int:
    """Index of the maximum that serves most of these homes within the limit; else the first."""
    best, served = 0, -1.0
    if not among.any():
        return 0
    for most in range(len(totals)):
        poured = totals[np.minimum(stops[among], most)]
        past = np.mean(poured > doses.limit_g[among])
        turned = np.mean((poured >= doses.turns_g[among]) & (poured <= doses.most_g[among]))
        if past <= most_past and turned > served:
            best, served = most, float(turned)
    return best


def _recommended(
    share: float, single: Size | None, rules: Sequence[PadRule], by_colour: ColourRule | None
) -> str:
    """The simplest way that serves the share, or that no other betters by much."""
    ways: list[tuple[str, float]] = []
    if single is not None:
        ways.append(("one", single.shares.turns))
    ways.extend((rule.kind, rule.shares.turns) for rule in rules)
    if by_colour is not None:
        ways.append(("by colour", by_colour.shares.turns))
    allowed = {
        "one": single is not None,
        **{rule.kind: True for rule in rules},
        "by colour": by_colour is not None,
    }
    ways = [(name, served) for name, served in ways if allowed[name] and served > 0]
    if not ways:
        return "none"
    top = max(served for _, served in ways)
    enough = min(share, top - _own("worthwhile_gain"))
    return next(name for name, served in ways if served >= enough)


def _cautions(inputs: RecipeInputs, answer: Answer, accept_ph: str | None) -> tuple[Caution, ...]:
    """Cautions of what is recommended; the acid side is that of all but the homes allowed past."""
    after = ph_after(answer.in_homes, answer.poured(answer.recommended))
    acid = float(np.quantile(after, min(answer.most_past, SIDES[0])))
    start = answer.doses.start_ph
    before = (float(np.quantile(start, side)) for side in (SIDES[0], ALKALINE_SIDE))
    powders = Blend(inputs.activator.parts).parts
    return judge(
        Situation(
            bathers=inputs.wish.bathers,
            child_age_years=inputs.wish.child_age_years,
            foam_bath_present=inputs.foam_bath is not None,
            moments=(
                Moment("before", *before),
                Moment("after", acid, float(np.quantile(after, ALKALINE_SIDE))),
            ),
            pouring=inputs.activator.pouring,
            poured=inputs.activator.poured,
            purpose=inputs.wish.purpose,
            market=inputs.wish.market,
            colourants=tuple(Colourant(c.name, c.preserved) for c in inputs.colours),
            water_temperature_c=inputs.water_temperature_c,
            powders=tuple(powders),
            accept_ph_reason=accept_ph,
            accept_pouring_reason=None,
        )
    )


__all__ = [
    "Answer",
    "ColourRule",
    "FillMark",
    "PadRule",
    "Shares",
    "Size",
    "caution_limit_ph",
    "read_pads",
    "sachet_answer",
    "size_shares",
    "strip_pads",
]
