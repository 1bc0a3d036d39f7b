"""Sachets: which size turns how many homes, and which way to pour is worth selling."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from dosing.bath.inputs import RecipeInputs, refuse_learnt
from dosing.bath.jugs import Jugs, fill_jugs
from dosing.ingredients.powders import Blend, blend_per_gram
from dosing.plan.cautions import Caution, Verdicts, exit_code
from dosing.plan.households import elsewhere
from dosing.plan.levels import judged_bathers
from dosing.plan.rules import judge, verdicts
from dosing.sachets.blends import JUDGED_HOMES, USUAL_POWDERS, Proposal, propose_blends, serves
from dosing.sachets.counting import Counted, Ends, Shares, Size, ends_of, sachet_value
from dosing.sachets.home_doses import Limit
from dosing.sachets.populations import Homes
from dosing.sachets.rules import Way, poured_from
from dosing.sachets.survey import Survey, survey_homes
from dosing.sachets.waters import WaterCell, water_cells
from indicator.notes import Note
from indicator.words import Wish

NONE = "none"
"""Where no way is worth recommending."""
AROUND = (0.5, 1.0, 2.0, 3.0)
"""Sizes that are shown where none are asked for, over the best."""


@dataclass(frozen=True)
class Label:
    """Contents and directions of a sachet."""

    kind: str
    """How it is poured: as the kinds of ways, or a ``"blend"`` for every home."""
    grams: float
    parts_g: tuple[tuple[str, float], ...]
    """Powder and its mass [g]."""
    jugs: Jugs
    """Tub water that it is dissolved in."""
    for_ppm: tuple[float, ...]
    """Steps of a strip for which it is, where there are several sizes."""


@dataclass(frozen=True)
class Offer:
    """Grams that are sold, in one sachet or by a rule."""

    least_g: float
    most_g: float
    """In one tub [g]."""
    shares: Shares


@dataclass(frozen=True)
class SachetAnswer:
    """Everything about one activator and one population."""

    title: str
    population: str
    homes: int
    bathers: str
    market: str
    wish: Wish | None
    limit: Limit
    """How sour a bath may become."""
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
    reaching: Size | None
    """The smallest size that brings the wished share to its turn, limits aside."""
    needed_g: Ends
    """Mass that turns a home [g]."""
    tubs_l: Ends
    """Water in the tubs [L]."""
    ways: tuple[Way, ...]
    """Every way to sell and pour that keeps the limit, the simplest first."""
    best_way: Way | None
    """The simplest that serves the wished share, else the one that serves most homes."""
    blends: tuple[Proposal, ...]
    """Other activators, where the recipe's serves too few homes or they were asked for."""
    band_ph: tuple[float, float] | None
    """To which a blend shall keep the homes, where that was asked for."""
    cautions: tuple[Caution, ...]
    """Of the best way."""
    verdicts: Verdicts
    assumptions: tuple[Note, ...]
    survey: Survey

    @property
    def recommended(self) -> str:
        """Kind of the best way, if it serves enough homes and no caution forbids it; or "none"."""
        least = min(self.wished_share, sachet_value("least_share"))
        worth = self.best_way is not None and serves(self.best_way) >= least
        return self.best_way.kind if self.best_way and worth and self.allowed else NONE

    @property
    def allowed(self) -> bool:
        """Whether no caution forbids the best way."""
        return exit_code(self.cautions) == 0

    def worth_making(self) -> bool:
        """Whether a way to pour or a blend is worth making, and no caution forbids it."""
        return self.allowed and (self.blend_sold or self.recommended != NONE)

    @property
    def served(self) -> bool:
        """Whether what is recommended serves the wished share."""
        way = self.best_way
        return self.allowed and way is not None and serves(way) >= self.wished_share

    @property
    def over_the_limit(self) -> tuple[Size, ...]:
        """The sizes asked for that take too many homes past the limit."""
        past = (size for size in self.sizes if size.shares.past_limit_share > self.most_past_share)
        return tuple(past) if self.sizes_given else ()

    def best_blend(self) -> Proposal | None:
        """The lightest blend that serves the wished share; else the one that serves most homes."""
        most = self.most_past_share
        allowed = [
            blend
            for blend in self.blends
            if blend.kind != "plain"
            and blend.shares.past_limit_share <= most
            and not blend.forbidden
        ]
        serving = [blend for blend in allowed if serves(blend) >= self.wished_share]
        lightest = min(serving, key=lambda blend: blend.grams, default=None)
        return lightest or max(allowed, key=serves, default=None)

    @property
    def blend_serves(self) -> bool:
        """Whether the best blend serves the wished share."""
        blend = self.best_blend()
        return blend is not None and serves(blend) >= self.wished_share

    def sold_blend(self) -> Proposal | None:
        """The best blend, where it goes into the sachet instead of the recipe's activator."""
        sold = self.blend_serves and (self.band_ph is not None or not self.served)
        return self.best_blend() if sold else None

    @property
    def blend_sold(self) -> bool:
        """Whether the best blend goes into the sachet instead of the recipe's activator."""
        return self.sold_blend() is not None

    @property
    def reached(self) -> bool:
        """Whether a way or a blend serves the wished share, and nothing asked for is forbidden.

        Where a band was wished, it is a blend that must keep to it.
        """
        served = self.blend_serves or (self.served and self.band_ph is None)
        return served and self.allowed and not self.over_the_limit

    @property
    def labels(self) -> tuple[Label, ...]:
        """Text for each sachet that is worth making and may leave the house, as values."""
        blend, way = self.sold_blend(), self.best_way
        leaves_house = self.verdicts.give.allowed or self.verdicts.sell.allowed
        if not (self.worth_making() and leaves_house):
            return ()
        if blend is not None:
            return (self._label("blend", blend.grams, blend.parts),)
        if way is None:
            return ()
        return tuple(
            self._label(way.kind, size, self.activator, way.pads_of(size)) for size in way.sizes_g
        )

    def _label(
        self,
        kind: str,
        grams: float,
        parts: tuple[tuple[str, float], ...],
        for_ppm: tuple[float, ...] = (),
    ) -> Label:
        jugs = fill_jugs(dict(parts), grams, self.survey.tub)
        return Label(
            kind, grams, tuple((name, grams * part) for name, part in parts), jugs, for_ppm
        )

    @property
    def offer(self) -> Offer:
        """Grams and shares of what is sold, or comes nearest."""
        sold, way = self.sold_blend(), self.best_way
        if sold is None and way is not None:
            poured = self.survey.poured(way)
            return Offer(float(poured[poured > 0.0].min()), float(poured.max()), way.shares)
        size = sold or self.single or self.sizes[0]
        return Offer(size.grams, size.grams, size.shares)

    @property
    def waters(self) -> tuple[WaterCell, ...]:
        """Homes by their water and tub, with what the offer does there."""
        survey, blend, way = self.survey, self.sold_blend(), self.best_way
        seen = survey.in_homes
        if blend is None:
            after = seen.after(survey.poured(way) if way else self.offer.most_g)
        else:
            seen = seen.first(JUDGED_HOMES)
            poured = poured_from(seen.homes, blend.grams, blend.from_ppm)
            after = seen.bath.with_activator(poured, blend_per_gram(dict(blend.parts)))
        return water_cells(survey, seen, after)


def sachet_answer(
    inputs: RecipeInputs,
    homes: Homes,
    *,
    sizes_g: Sequence[float] = (),
    wished_share: float | None = None,
    most_sachets: int | None = None,
    powders: Sequence[str] | None = None,
    band: tuple[float, float] | None = None,
    prices_per_gram: Mapping[str, float] | None = None,
) -> SachetAnswer:
    """Shares of homes for each size, the best ways to sell and to pour, and better blends.

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
    powders : sequence of str, optional
        Powders for blends, none of them where empty; if not given, the usual ones where the
        activator serves too few homes.
    band : tuple of float, optional
        Lowest and highest pH that a blend shall keep to.
    prices_per_gram : mapping of str to float, optional
        Powder to the price of a gram, in any money.

    Returns
    -------
    SachetAnswer
        Sizes, rules, blends, cautions and verdicts.

    Raises
    ------
    ValueError
        If the activator does not lower the pH, nothing can be seen, or a number is out of range.
    """
    refuse_learnt(inputs)
    share = sachet_value("wished_share") if wished_share is None else wished_share
    most = int(sachet_value("most_sachets")) if most_sachets is None else most_sachets
    _check(share, most, sizes_g)
    survey = survey_homes(inputs, homes, most)
    counted = survey.counted
    homes = survey.in_homes.homes
    best = _best([way for way, _ in survey.ways], share)
    parts = Blend(inputs.activator.parts).parts
    after = None if best is None else survey.in_homes.after(survey.poured(best))
    situation = survey.situation(parts, 0.0 if best is None else best.sizes_g[-1], after)
    # Of tubs into which nothing is poured no pH need be told.
    cautions = tuple(c for c in judge(situation) if best is not None or c.code != "ph-ok")
    prices = prices_per_gram or {}
    blends: tuple[Proposal, ...] = ()
    if powders or band or (powders is None and (best is None or serves(best) < share)):
        blends = propose_blends(
            survey, powders=powders or USUAL_POWDERS, band=band, prices_per_gram=prices
        )
    shown = sorted(set(sizes_g)) or _around(counted)
    named = (counted.best(), counted.reaching(share))
    size = survey.sizes([*shown, *named], prices)
    answer = SachetAnswer(
        title=inputs.title,
        population=homes.population,
        homes=homes.count,
        bathers=judged_bathers(inputs.wish.bathers),
        market=inputs.wish.market,
        wish=survey.wish,
        limit=survey.limit,
        most_past_share=counted.most_past_share,
        activator=tuple(parts.items()),
        sizes=tuple(size[grams] for grams in shown),
        sizes_given=bool(sizes_g),
        single=size.get(named[0]),
        wished_share=share,
        reaching=size.get(named[1]),
        needed_g=ends_of(survey.doses.turns_g),
        tubs_l=replace(ends_of(homes.volume_l), low=homes.smallest_l),
        ways=tuple(way for way, _ in survey.ways),
        best_way=best,
        blends=blends,
        band_ph=band,
        cautions=cautions,
        verdicts=verdicts(situation),
        assumptions=homes.notes,
        survey=survey,
    )
    if answer.worth_making():
        return answer
    if sizes_g:
        # Whoever asks for a size wants that judged, whatever else would be worth making.
        after = survey.in_homes.after(np.full(homes.count, shown[-1]))
        asked = survey.situation(parts, shown[-1], after)
        return replace(answer, verdicts=verdicts(asked))
    if answer.reaching is None:
        return answer
    # Of what no way makes safe the grams that would turn the homes are judged, as a plan's are.
    passed_on = elsewhere(inputs, answer.reaching.grams)
    return replace(answer, verdicts=verdicts(replace(situation, elsewhere=passed_on)))


def _best(ways: Sequence[Way], share: float) -> Way | None:
    """The simplest way that serves a share; else the one that serves most homes, if any."""
    serving = next((way for way in ways if serves(way) >= share), None)
    best = serving or max(ways, key=serves, default=None)
    return best if best is not None and serves(best) > 0.0 else None


def _check(share: float, most: int, sizes_g: Sequence[float]) -> None:
    if any(not (np.isfinite(size) and size >= 0) for size in sizes_g):
        raise ValueError("a sachet size is no mass; accepted are finite masses from 0 up")
    if not 0.0 < share < 1.0:
        raise ValueError(f"wished share is {share:.0%}; accepted are shares between 0 % and 100 %")
    top = int(sachet_value("most_sachets"))
    if not 1 <= most <= top:
        raise ValueError(f"sachets is {most}; accepted are 1 to {top}")


def _around(counted: Counted) -> list[float]:
    """Some sizes that show how the shares change: smaller than the best, and larger."""
    grid, usual = counted.grid, counted.usual()
    nearest = (np.argmin(np.abs(grid - factor * usual)) for factor in AROUND)
    return sorted({float(grid[place]) for place in nearest})
