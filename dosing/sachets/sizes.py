"""Sachets: which size turns how many homes, and which way to pour is worth selling."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from dosing.bath.assembled import assemble
from dosing.bath.inputs import RecipeInputs
from dosing.bath.jugs import Jugs, fill_jugs
from dosing.bath.mixed import Bath
from dosing.bath.possible_tubs import ALKALINE_SIDE
from dosing.ingredients.powders import Blend
from dosing.ingredients.trade_values import typical
from dosing.plan.cautions import Caution, Moment, Situation, Verdicts, exit_code
from dosing.plan.levels import LEVELS, judged_bathers, reserve_limit
from dosing.plan.pouring import gentlest_ph
from dosing.plan.rules import judge, verdicts
from dosing.sachets.counting import Counted, Shares, sachet_value, size_shares
from dosing.sachets.home_doses import (
    HomeDoses,
    Limit,
    Population,
    filled,
    home_doses,
)
from dosing.sachets.populations import Homes
from dosing.sachets.rules import (
    ColourRule,
    PadRule,
    Pads,
    by_colour_rule,
    poured_by_colour,
    read_pads,
    sachet_of,
)
from dosing.sachets.titration import tubs_at
from dosing.sachets.turning import turning_table
from indicator.notes import Note
from indicator.words import Target, parse_target

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]

SIDES = (0.05, 0.5, 0.95)
AROUND = (0.5, 0.75, 1.0, 1.5, 2.0, 3.0)
"""Sizes that are shown where none are asked for, over the best."""


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
class Needed:
    """Grams that turn the easiest, the middle and the hardest homes; infinite where none do."""

    low: float
    """Enough for 5 % of the homes."""
    middle: float
    high: float
    """Enough for 95 %."""


@dataclass(frozen=True)
class SachetAnswer:
    """Everything about one activator and one population."""

    title: str
    population: str
    homes: int
    bathers: str
    purpose: str
    market: str
    wish: Target | None
    limit_ph: float
    """The most acid pH that counts as within the limit; 0 where there is none."""
    limit_reserve_meq_l: float
    """The most acid reserve that is allowed [meq/L]; infinite where nobody bathes."""
    most_past_share: float
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
    too_light_g: float | None
    """A size that nobody can weigh and fill, if it would serve clearly more homes."""
    rules: tuple[PadRule, ...]
    by_colour: ColourRule
    recommended: str
    """``"one"``, ``"count"``, ``"sizes"``, ``"by colour"`` or ``"none"``."""
    cautions: tuple[Caution, ...]
    verdicts: Verdicts | None
    """Whether it may be poured, given and sold; None before it is judged."""
    assumptions: tuple[Note, ...]
    doses: HomeDoses
    in_homes: Population
    tub: Bath
    """The recipe's own, as read: the water that jugs are told for."""

    def poured(self, way: str) -> Array:
        """Grams in each home if poured in one of the ways, shape (homes,)."""
        if way == "one" and self.single is not None:
            return np.full(self.homes, self.single.grams)
        if way == "by colour":
            return poured_by_colour(self.in_homes, self.doses, self.by_colour)
        return np.asarray(self.rule(way).grams)[read_pads(self.in_homes.homes)]

    def rule(self, way: str) -> PadRule:
        """The strip rule of a way, ``"count"`` or ``"sizes"``."""
        return next(rule for rule in self.rules if rule.kind == way)

    @property
    def ways(self) -> dict[str, Shares]:
        """Every way to sell and pour that keeps the limit, the simplest first."""
        every = {} if self.single is None else {"one": self.single.shares}
        every |= {rule.kind: rule.shares for rule in self.rules}
        every["by colour"] = self.by_colour.shares
        return {
            way: shares
            for way, shares in every.items()
            if shares.past_limit_share <= self.most_past_share
        }

    @property
    def best_way(self) -> str | None:
        """The way that serves most homes; None where none serves one."""
        ways = self.ways
        best = max(ways, key=lambda way: ways[way].turns_share, default=None)
        return best if best is not None and ways[best].turns_share > 0 else None

    @property
    def over_the_limit(self) -> tuple[Size, ...]:
        """The sizes asked for that take too many homes past the limit."""
        if not self.sizes_given:
            return ()
        return tuple(
            size for size in self.sizes if size.shares.past_limit_share > self.most_past_share
        )

    @property
    def light_sizes(self) -> tuple[Size, ...]:
        """The sizes asked for that nobody can weigh and fill."""
        given = self.sizes if self.sizes_given else ()
        return tuple(size for size in given if size.grams < sachet_value("least_sachet"))

    @property
    def needed_g(self) -> Needed:
        """Mass that turns a home [g]."""
        ends = (float(np.quantile(self.doses.turns_g, side, method="nearest")) for side in SIDES)
        return Needed(*ends)

    @property
    def reached(self) -> bool:
        """Whether a way serves the wished share, and no caution forbids what is asked for."""
        return self.served and not self.forbidden

    @property
    def served(self) -> bool:
        """Whether what is recommended serves the wished share."""
        shares = self.ways.get(self.recommended)
        return shares is not None and shares.turns_share >= self.wished_share

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
) -> SachetAnswer:
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

    Returns
    -------
    SachetAnswer
        Sizes, rules, cautions and verdicts.

    Raises
    ------
    ValueError
        If the activator does not lower the pH, nothing can be seen, or a number is out of range.
    """
    share = sachet_value("wished_share") if wished_share is None else wished_share
    most = int(sachet_value("most_sachets")) if most_sachets is None else most_sachets
    _check(share, most, sizes_g)
    wish = None if inputs.wish.target is None else parse_target(inputs.wish.target)
    bathers = judged_bathers(inputs.wish.bathers)
    limit = caution_limit(bathers, reasoned=accept_ph is not None)
    population = filled(inputs, homes)
    _check_acid(population)
    volumes = (float(population.volume_l.min()), float(population.volume_l.max()))
    turning = turning_table(inputs, wish, volumes)
    doses = home_doses(population, turning, limit)
    _check_turned_before(doses, wish)
    counted = Counted(doses, sachet_value(f"most_past_limit_{bathers}"))
    best = counted.best()
    wished, reaching = counted.sizes_for(share)
    shown = tuple(sizes_g) or _around(counted)
    wanted = {size for size in (*shown, best, wished, reaching) if size is not None}
    sized = {grams: _size(grams, counted, population.ph_after(grams)) for grams in sorted(wanted)}
    pads = Pads(homes, counted)
    rules = tuple(rule for rule in (pads.by_count(most), pads.by_size(most)) if rule is not None)
    answer = SachetAnswer(
        title=inputs.title,
        population=homes.population,
        homes=homes.count,
        bathers=bathers,
        purpose=inputs.wish.purpose,
        market=inputs.wish.market,
        wish=wish,
        limit_ph=limit.ph,
        limit_reserve_meq_l=limit.reserve_meq_l,
        most_past_share=counted.most_past_share,
        activator=tuple(Blend(inputs.activator.parts).parts.items()),
        sizes=tuple(sized[size] for size in sorted(set(shown))),
        sizes_given=bool(sizes_g),
        single=None if best is None else sized[best],
        wished_share=share,
        wished=None if wished is None else sized[wished],
        reaching=None if reaching is None else sized[reaching],
        too_light_g=counted.too_light(),
        rules=rules,
        by_colour=by_colour_rule(population, counted, sachet_of(rules, counted)),
        recommended="none",
        cautions=(),
        verdicts=None,
        assumptions=homes.notes,
        doses=doses,
        in_homes=population,
        tub=assemble(inputs).bath,
    )
    cautions, three = _cautions(inputs, answer, accept_ph)
    allowed = exit_code(cautions) == 0
    recommended = _recommended(answer) if allowed else "none"
    return replace(answer, recommended=recommended, cautions=cautions, verdicts=three)


def caution_limit(bathers: str, *, reasoned: bool = False) -> Limit:
    """Limit of how sour a bath may become for these bathers.

    Parameters
    ----------
    bathers : str
        As `dosing.plan.cautions.judged_bathers` gives them.
    reasoned : bool
        Whether a pH that needs a written reason is accepted.

    Returns
    -------
    Limit
        The most acid pH and the most acid reserve [meq/L].
    """
    if bathers == "nobody":
        return Limit(0.0, np.inf)
    accepted = LEVELS.index("justify" if reasoned else "mind")
    return Limit(gentlest_ph(bathers, accepted, acid=True), reserve_limit(bathers, accepted))


def _check(share: float, most: int, sizes_g: Sequence[float]) -> None:
    if any(not (np.isfinite(size) and size >= 0) for size in sizes_g):
        raise ValueError("a sachet size is no mass; accepted are finite masses from 0 up")
    if not 0.0 < share < 1.0:
        raise ValueError(f"wished share is {share:.0%}; accepted are shares between 0 % and 100 %")
    top = int(sachet_value("most_sachets"))
    if not 1 <= most <= top:
        raise ValueError(f"sachets is {most}; accepted are 1 to {top}")


def _check_acid(population: Population) -> None:
    """A sachet is judged by how far it lowers the pH; another kind of activator is refused."""
    some = tubs_at(population.bath, slice(0, 16))
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


def _around(counted: Counted) -> tuple[float, ...]:
    """Some sizes that show how the shares change: smaller than the best, and larger."""
    grid, usual = counted.grid, counted.usual()
    nearest = (np.argmin(np.abs(grid - factor * usual)) for factor in AROUND)
    return tuple(sorted({float(grid[place]) for place in nearest}))


def _size(grams: float, counted: Counted, ph: Array) -> Size:
    low, middle, high = (float(v) for v in np.quantile(ph, SIDES))
    return Size(grams, size_shares(counted.doses, grams), low, middle, high)


def _recommended(answer: SachetAnswer) -> str:
    """The simplest way that serves the share; else the best, if it serves enough to be worth it."""
    ways, best = answer.ways, answer.best_way
    serving = [way for way, of in ways.items() if of.turns_share >= answer.wished_share]
    worth = best is not None and ways[best].turns_share >= sachet_value("least_share")
    return next(iter(serving), str(best) if worth else "none")


def _cautions(
    inputs: RecipeInputs, answer: SachetAnswer, accept_ph: str | None
) -> tuple[tuple[Caution, ...], Verdicts]:
    """Cautions and verdicts of the sourest way; its acid side leaves out those allowed past."""
    start = answer.doses.start_ph
    moments = [moment_of("before", start, np.zeros(1), answer.most_past_share)]
    homes, doses = answer.in_homes, [answer.poured(way) for way in answer.ways]
    poured = [
        moment_of("after", homes.ph_after(dose), homes.reserve_after(dose), answer.most_past_share)
        for dose in doses
    ]
    if poured:
        most = max(moment.reserve_meq_l for moment in poured)
        sourest = min(poured, key=lambda pour: pour.ph_acid_side)
        moments.append(replace(sourest, reserve_meq_l=most))
    situation = Situation(
        inputs, tuple(moments), accept_ph=accept_ph, whose_tap=False, jugs=_jugs(answer)
    )
    # Of tubs into which nothing is poured no pH need be told.
    told = (caution for caution in judge(situation) if poured or caution.code != "ph-ok")
    return tuple(told), verdicts(situation)


def _jugs(answer: SachetAnswer) -> tuple[Jugs, ...]:
    """What the largest portion of any of the ways is dissolved in."""
    portions = [] if answer.single is None else [answer.single.grams]
    portions += [grams for rule in answer.rules for grams in rule.sizes_g]
    portions.append(sachet_value("first_part") * answer.by_colour.sachet_g)
    largest = max(portions)
    return (fill_jugs(dict(answer.activator), largest, answer.tub),) if largest > 0 else ()


def moment_of(name: str, ph: Array, reserve_meq_l: Array, most_past_share: float) -> Moment:
    """A moment of many homes, without the few most acid ones that may be past the limit.

    Parameters
    ----------
    name : str
        ``"before"`` or ``"after"``.
    ph : numpy.ndarray
        pH of each home, shape (homes,).
    reserve_meq_l : numpy.ndarray
        Acid reserve of each home, shape (homes,) [meq/L].
    most_past_share : float
        Share of homes that may be past the limit, 0 to 1.

    Returns
    -------
    Moment
        The pH at both sides, and the acid reserve [meq/L].
    """
    acid = SIDES[0] if name == "before" else min(most_past_share, SIDES[0])
    return Moment(
        name,
        # The last of those that may be past is left out whole, not mixed with its neighbour.
        float(np.quantile(ph, acid, method="higher")),
        float(np.quantile(ph, ALKALINE_SIDE)),
        float(np.quantile(reserve_meq_l, 1.0 - acid, method="lower")),
    )
