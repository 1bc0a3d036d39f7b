"""Blends: activators that limit themselves, so that one sachet suits more homes.

An acid together with its salt holds the pH near its pK: too much of it does less harm in soft
water, and it takes more of it in hard. What that costs is mass, and acid reserve in the bath, by
which it stings. All mixtures of up to three powders on a lattice are reckoned with the charge that
a gram of each takes up at the pH of each home; the best of them are then solved in full. Nothing
in the search is random.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import combinations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from dosing.bath.assembled import assemble
from dosing.bath.inputs import RecipeInputs
from dosing.bath.jugs import fill_jugs
from dosing.bath.mixed import Bath
from dosing.ingredients.powders import blend_per_gram, per_gram, powder
from dosing.plan.cautions import Caution, Situation, exit_code
from dosing.plan.levels import LEVELS, judged_bathers, reserve_level
from dosing.plan.rules import judge
from dosing.sachets.counting import sachet_value
from dosing.sachets.home_doses import filled
from dosing.sachets.populations import Homes
from dosing.sachets.sizes import SIDES, SachetAnswer, caution_limit, moment_of
from dosing.sachets.titration import charge_mol, tubs_at
from dosing.sachets.turning import turning_table
from indicator.words import parse_target

Array = NDArray[np.float64]

USUAL_POWDERS = (
    "citric-acid-anhydrous",
    "trisodium-citrate",
    "cream-of-tartar",
    "tartaric-acid",
    "malic-acid",
)
PLAIN = "citric-acid-anhydrous"
"""What every proposal is shown beside."""
MOST_POWDERS = 3
LATTICE = 20
"""Steps of a share."""
JUDGED_HOMES = 1024
MASSES = 64
SHORTLIST = 6
"""Blends of each kind that are solved in full."""
TRIED_G_L = 0.5
"""Concentration at which it is found what a gram takes up."""
SOLVED_MASSES = 8
NEARLY_AS_MANY = 0.85
"""Of the homes that a blend's best mass suits: masses from there on are solved."""
NEARLY = 0.01
"""A share of homes that nobody would weigh more powder for."""

_SOLVED = (
    *("grams", "in_band_share", "past_limit_share", "ph_low", "ph_middle", "ph_high"),
    *("reserve_meq_l", "reserve_high_meq_l"),
)
"""Numbers of a proposal that come from solving it in all homes."""


@dataclass(frozen=True)
class Proposal:
    """One blend at one mass, the same sachet in every home."""

    kind: str
    """``"plain"``, ``"widest"``, ``"lightest"``, ``"mildest"`` or ``"cheapest"``."""
    parts: tuple[tuple[str, float], ...]
    """Powder and its share by mass."""
    grams: float
    in_band_share: float
    """Share of homes whose pH just after pouring lies in the band, 0 to 1."""
    past_limit_share: float
    """Share of homes past the caution limit."""
    ph_low: float
    """5 % of the homes end more acid."""
    ph_middle: float
    ph_high: float
    reserve_meq_l: float
    """Acid reserve in the middle home [meq/L]."""
    reserve_high_meq_l: float
    """95 % quantile [meq/L]."""
    reserve_level: str
    """Caution level of `reserve_high_meq_l`."""
    cost: float | None
    """In the money of the prices; None if one is not known."""
    cautions: tuple[Caution, ...] = ()
    """Those of a bath with it, the heaviest first."""

    @property
    def forbidden(self) -> bool:
        """Whether a caution speaks against pouring it."""
        return exit_code(self.cautions) != 0


@dataclass(frozen=True)
class BlendAnswer:
    """Proposals, plain citric acid first."""

    proposals: tuple[Proposal, ...]
    band: tuple[float, float] | None
    """Wished band of pH; None for "turned, and within the caution limit"."""
    limit_ph: float
    homes: int
    """Homes on which the proposals were judged."""
    volume_l: float
    """Water of the middle home [L]."""
    most_past_share: float
    """Share of homes that may end past the caution limit."""
    tub: Bath
    """The recipe's own, as read: the water that jugs are told for."""
    priced: frozenset[str] = frozenset()
    """Powders whose price was told."""

    def serving(self, share: float) -> Proposal | None:
        """The lightest blend that suits a share of the homes within the limit, if one does.

        It turns them, or where a band is wished, it keeps to that.
        """
        serving = [
            proposal
            for proposal in self.proposals
            if proposal.kind != "plain"
            and proposal.in_band_share >= share
            and proposal.past_limit_share <= self.most_past_share
            and not proposal.forbidden
        ]
        return min(serving, key=lambda candidate: candidate.grams, default=None)


def cost_per_gram(parts: Mapping[str, float], prices_per_kg: Mapping[str, float]) -> float | None:
    """Cost of a gram of a blend; None where a powder has no price.

    Parameters
    ----------
    parts : mapping of str to float
        Powder and its share by mass.
    prices_per_kg : mapping of str to float
        Price of a powder, in any money.

    Returns
    -------
    float or None
        In the money of the prices.
    """
    used = {name: part for name, part in parts.items() if part > 0}
    if not used.keys() <= prices_per_kg.keys():
        return None
    return sum(part * prices_per_kg[name] for name, part in used.items()) / 1000.0


def succeeds(answer: SachetAnswer, blends: BlendAnswer | None) -> bool:
    """Whether a way or a blend serves the wished share, and no limit is passed for it.

    Where a band was wished, it is a blend that must keep to it.

    Parameters
    ----------
    answer : SachetAnswer
        Of the sizes and rules.
    blends : BlendAnswer, optional
        Other activators, where they were asked for.

    Returns
    -------
    bool
        What the exit code of ``sachet`` tells.
    """
    blend = None if blends is None else blends.serving(answer.wished_share)
    banded = blends is not None and blends.band is not None
    return (blend is not None or (answer.served and not banded)) and not answer.forbidden


def propose_blends(
    inputs: RecipeInputs,
    homes: Homes,
    *,
    powders: Sequence[str] = USUAL_POWDERS,
    band: tuple[float, float] | None = None,
    prices_per_kg: Mapping[str, float] | None = None,
) -> BlendAnswer:
    """Blends whose final pH suits the widest share of homes, with little mass and reserve.

    Parameters
    ----------
    inputs : RecipeInputs
        Whose bottle, temperature, wish and bathers are kept; its activator is not.
    homes : Homes
        The households; the first thousand of them are looked at.
    powders : sequence of str
        What the maker has; plain citric acid is always looked at.
    band : tuple of float, optional
        Lowest and highest pH; if not given, a home suits where it turns within the caution limit.
    prices_per_kg : mapping of str to float, optional
        Powder to its price.

    Returns
    -------
    BlendAnswer
        Proposals, plain citric acid first.

    Raises
    ------
    ValueError
        If a powder is unknown or sets gas free, the band is empty, or no blend suits a home.
    """
    names = tuple(dict.fromkeys((PLAIN, *(powder(name).name for name in powders))))
    _check(names, band)
    prices = {powder(name).name: price for name, price in (prices_per_kg or {}).items()}
    search = _Search(inputs, homes, names, band, prices)
    best = _chosen(search.solved_shortlist())
    plain = search.plain()
    if not best and not plain:
        raise ValueError("no blend of these powders suits a home; another wish or powder might")
    chosen = {"plain": max(plain, key=_suits)} if plain else {}
    return BlendAnswer(
        proposals=tuple(search.judged(which) for which in _distinct({**chosen, **best})),
        band=band,
        limit_ph=search.limit.ph,
        homes=min(homes.count, JUDGED_HOMES),
        volume_l=float(np.median(search.bath.volume_l)),
        most_past_share=search.most_past_share,
        tub=search.tub,
        priced=frozenset(prices),
    )


def _suits(proposal: Proposal) -> float:
    return proposal.in_band_share


def _check(names: Sequence[str], band: tuple[float, float] | None) -> None:
    for name in names:
        if "C" in powder(name).mol_per_g:
            raise ValueError(
                f"powders name {name!r}, which sets gas free with an acid and bursts a sealed "
                "sachet; accepted are powders without carbonate"
            )
        if powder(name).kind != "solid":
            raise ValueError(f"powders name {name!r}, which is a liquid; accepted are dry powders")
    if band is not None and not 0.0 < band[0] < band[1] < 14.0:
        raise ValueError(
            f"band is pH {band[0]:g} to {band[1]:g}; accepted are two pH values, the lower first"
        )


class _Search:
    """Some homes, and what each blend does in them."""

    def __init__(
        self,
        inputs: RecipeInputs,
        homes: Homes,
        names: Sequence[str],
        band: tuple[float, float] | None,
        prices: Mapping[str, float],
    ) -> None:
        population = filled(inputs, homes)
        self.inputs = inputs
        self.names, self.band, self.prices = names, band, prices
        self.tub = assemble(inputs).bath
        self.bathers = judged_bathers(inputs.wish.bathers)
        self.limit = caution_limit(self.bathers)
        self.most_past_share = sachet_value(f"most_past_limit_{self.bathers}")
        self.bath = tubs_at(population.bath, slice(0, JUDGED_HOMES))
        self.start_ph = self.bath.solve().ph
        if band is None:
            wish = None if inputs.wish.target is None else parse_target(inputs.wish.target)
            volume = population.volume_l
            turning = turning_table(inputs, wish, (float(volume.min()), float(volume.max())))
            turned, passed, _ = turning.at(self.start_ph, volume[:JUDGED_HOMES])
            self.high, self.low = turned, np.maximum(passed, max(self.limit.ph, 0.1))
        else:
            self.low, self.high = (np.full_like(self.start_ph, end) for end in band)
        self.reserves = self._reserves()

    def _reserves(self) -> dict[str, float]:
        """Acid reserve that a gram of each powder adds in the middle home [meq/L]."""
        order = np.argsort(self.bath.volume_l)
        tub = tubs_at(self.bath, order[[len(order) // 2]])
        bare = float(tub.acid_reserve_meq_l()[0])
        some = 0.3 * float(tub.volume_l[0])
        return {
            name: (float(tub.with_activator(some, per_gram(name)).acid_reserve_meq_l()[0]) - bare)
            / some
            for name in self.names
        }

    def solved_shortlist(self) -> list[Proposal]:
        """The blends of the shortlist, solved at their masses."""
        return [which for blend in self._shortlist() for which in self._solved(*blend)]

    def plain(self) -> list[Proposal]:
        """Plain citric acid at the masses that suit most homes, within the limit if any does."""
        shares = np.array([[float(name == PLAIN) for name in self.names]])
        masses, suited, past = self._reckoned_shares(shares)
        within = np.where(past[0] <= self.most_past_share, suited[0], 0.0)
        limited = bool(within.max() > 0)
        range_of = _worthwhile(masses, within if limited else suited[0])
        return self._solved({PLAIN: 1.0}, range_of, limited=limited)

    def _shortlist(self) -> list[tuple[dict[str, float], Array]]:
        """The blends worth solving, with the masses that are."""
        shares = np.array(list(_all_shares(len(self.names))))
        masses, suited, past = self._reckoned_shares(shares)
        suited[past > self.most_past_share] = 0.0
        weights = [masses, self._per_gram(shares, self.reserves)[:, None] * masses]
        suited[weights[1] > self.limit.reserve_meq_l] = 0.0
        if suited.max() <= 0.0:
            return []
        nearly = suited >= sachet_value("blend_light_share") * suited.max()
        if self.prices:
            dear = 1e6
            price = {name: self.prices.get(name, dear) for name in self.names}
            weights.append(self._per_gram(shares, price)[:, None] * masses)
        scores = [-suited.max(axis=1)]
        scores += [np.where(nearly, weight, np.inf).min(axis=1) for weight in weights]
        kept = dict.fromkeys(
            int(row)
            for score in scores
            for row in np.argsort(score, kind="stable")[:SHORTLIST]
            if suited[row].max() > 0
        )
        return [
            (
                {n: float(s) for n, s in zip(self.names, shares[row], strict=True) if s > 0},
                _worthwhile(masses, suited[row]),
            )
            for row in kept
        ]

    def _reckoned_shares(self, shares: Array) -> tuple[Array, Array, Array]:
        """Masses, and for each blend the shares of homes that it suits and takes too far."""
        least = self._reckoned(shares, self.high)
        most = self._reckoned(shares, self.low)
        limit = most
        if self.limit.ph <= 0.0:
            limit = np.full_like(most, np.inf)
        elif self.band is not None:
            limit = self._reckoned(shares, np.full_like(self.high, self.limit.ph))
        volume = float(np.median(self.bath.volume_l))
        end = sachet_value("blend_most_g_l")
        masses = np.geomspace(0.02, end, MASSES) * volume
        suited, past = np.empty((2, len(shares), MASSES))
        for place, mass in enumerate(masses):
            suited[:, place] = np.mean((mass >= least) & (mass <= most), axis=1)
            past[:, place] = np.mean(mass > limit, axis=1)
        return masses, suited, past

    def _per_gram(self, shares: Array, of: Mapping[str, float]) -> Array:
        """Something that blends have by the gram, shape (blends,)."""
        each = np.array([of[name] for name in self.names])
        return np.asarray(np.where(shares > 0, shares * each, 0.0).sum(axis=1))

    def _reckoned(self, shares: Array, ph: Array) -> Array:
        """Grams to a pH, shape (blends, homes), if a gram takes up the same charge throughout."""
        bath = self.bath
        left = charge_mol(bath, ph)
        tried = TRIED_G_L * bath.volume_l
        taken = np.stack(
            [
                (left - charge_mol(bath.with_activator(tried, per_gram(name)), ph)) / tried
                for name in self.names
            ]
        )
        together = shares @ taken
        with np.errstate(divide="ignore", invalid="ignore"):
            grams = np.where(together > 0, left / together, np.inf)
        return np.where(np.isnan(ph), np.inf, np.where(ph >= self.start_ph, 0.0, grams))

    def _after(self, parts: Mapping[str, float], grams: ArrayLike) -> tuple[Array, Array]:
        """PH and acid reserve [meq/L] in every home after so many grams of a blend."""
        after = self.bath.with_activator(grams, blend_per_gram(parts))
        return after.solve().ph, after.acid_reserve_meq_l()

    def _solved(
        self, parts: Mapping[str, float], masses: Array, *, limited: bool = True
    ) -> list[Proposal]:
        """The masses of one blend that suit some homes within the limit, not judged yet."""
        ph, reserve = self._after(parts, masses[:, None])
        sour = reserve > self.limit.reserve_meq_l
        past = np.mean((ph < self.limit.ph) | sour, axis=1)
        suited = (ph <= self.high + 1e-9) & (ph >= self.low - 1e-9) & ~sour
        ends = [*np.quantile(ph, SIDES, axis=1), *np.quantile(reserve, SIDES[1:], axis=1)]
        columns = np.stack([masses, suited.mean(axis=1), past, *ends], axis=1)
        price, together = cost_per_gram(parts, self.prices), tuple(parts.items())
        return [
            Proposal(
                kind="",
                parts=together,
                reserve_level=LEVELS[int(reserve_level(row[-1], self.bathers))],
                cost=None if price is None else price * float(row[0]),
                **dict(zip(_SOLVED, row.tolist(), strict=True)),
            )
            for row in columns
            if row[1] > 0 and (row[2] <= self.most_past_share or not limited)
        ]

    def judged(self, proposal: Proposal) -> Proposal:
        """A blend with its cautions."""
        parts = dict(proposal.parts)
        ph, reserve = self._after(parts, proposal.grams)
        moments = (
            moment_of("before", self.start_ph, np.zeros(1), self.most_past_share),
            moment_of("after", ph, reserve, self.most_past_share),
        )
        poured = replace(self.inputs, activator=replace(self.inputs.activator, parts=parts))
        jugs = (fill_jugs(parts, proposal.grams, self.tub),)
        situation = Situation(poured, moments, whose_tap=False, jugs=jugs)
        return replace(proposal, cautions=judge(situation))


def _all_shares(powders: int) -> Iterator[Array]:
    """Shares of all blends of up to `MOST_POWDERS` of the powders."""
    for size in range(1, min(MOST_POWDERS, powders) + 1):
        for subset in combinations(range(powders), size):
            for cuts in combinations(range(1, LATTICE), size - 1):
                whole = np.zeros(powders)
                whole[list(subset)] = np.diff((0, *cuts, LATTICE)) / LATTICE
                yield whole


def _worthwhile(masses: Array, suited: Array) -> Array:
    """Masses around those that suit nearly as many homes as any, in round grams."""
    near = masses[suited >= NEARLY_AS_MANY * suited.max()]
    tried = np.linspace(0.85 * near[0], 1.1 * near[-1], SOLVED_MASSES)
    return np.unique(np.maximum(np.round(tried) if near[0] >= 5 else np.round(tried, 1), 0.1))


def _chosen(solved: Sequence[Proposal]) -> dict[str, Proposal]:
    """The widest, and the lightest, mildest and cheapest that are nearly as wide."""
    if not solved:
        return {}
    top = max(map(_suits, solved))
    keep = sachet_value("blend_light_share")
    widest = [which for which in solved if _suits(which) >= top - NEARLY]
    nearly = [which for which in solved if _suits(which) >= keep * top]
    chosen = {
        "widest": min(widest, key=lambda which: which.grams),
        "lightest": min(nearly, key=lambda which: which.grams),
        "mildest": min(nearly, key=lambda which: which.reserve_meq_l),
    }
    priced = [(which.cost, which) for which in nearly if which.cost is not None]
    if priced:
        chosen["cheapest"] = min(priced, key=lambda pair: pair[0])[1]
    return chosen


def _distinct(chosen: Mapping[str, Proposal]) -> list[Proposal]:
    """Each blend once, under the first of its names."""
    kept: dict[object, Proposal] = {}
    for kind, which in chosen.items():
        kept.setdefault((frozenset(which.parts), which.grams), replace(which, kind=kind))
    return list(kept.values())
