"""Blends: activators that limit themselves, so that one sachet suits more homes.

An acid together with its salt holds the pH near its pK: too much of it does less harm in soft
water, and it takes more of it in hard. What that costs is mass, and acid reserve in the bath, by
which it stings. All mixtures of up to three powders on a lattice are estimated from the charge that
a gram of each takes up at the pH of each home; the best of them are then solved in full. Nothing
in the search is random.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cache
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from dosing.bath.mixed import Bath
from dosing.equilibrium import solve
from dosing.ingredients.powders import blend_per_gram, per_gram, powder
from dosing.plan.cautions import Caution, exit_code
from dosing.plan.rules import judge
from dosing.sachets.counting import Ends, Size, ends_of, sachet_value, shares_of
from dosing.sachets.rules import StripLimits, Way, poured_from
from dosing.sachets.survey import Survey, cost_of

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
SHORTLIST = 4
"""Blends of each kind that are solved in full."""
TRIED_G_L = 0.5
"""Concentration at which it is found what a gram takes up."""
SOLVED_MASSES = 8
NEARLY_AS_MANY = 0.85
"""Of the homes that a blend's best mass suits: masses from there on are solved."""
NEARLY = 0.01
"""A share of homes that nobody would weigh more powder for."""


@dataclass(frozen=True)
class Proposal(Size):
    """One blend at one mass, the same sachet in every home; it turns those that it suits."""

    kind: str
    """``"plain"``, ``"widest"``, ``"lightest"`` or ``"cheapest"``."""
    parts: tuple[tuple[str, float], ...]
    """Powder and its share by mass."""
    reserve_meq_l: Ends
    """Acid reserve [meq/L]."""
    cautions: tuple[Caution, ...] = ()
    """Those of a bath with it, the heaviest first."""
    from_ppm: float = 0.0
    """The softest step of an alkalinity strip that it is for [mg/L CaCO3]."""

    @property
    def forbidden(self) -> bool:
        """Whether a caution speaks against pouring it."""
        return exit_code(self.cautions) != 0

    @property
    def heavy(self) -> bool:
        """Whether it is a pack rather than a sachet."""
        return self.grams >= sachet_value("heavy_blend")

    @property
    def parts_g(self) -> tuple[tuple[str, float], ...]:
        """Powder and its mass in one sachet [g]."""
        return tuple((name, share * self.grams) for name, share in self.parts)


def propose_blends(
    survey: Survey,
    *,
    powders: Sequence[str] = USUAL_POWDERS,
    band: tuple[float, float] | None = None,
    prices_per_gram: Mapping[str, float] | None = None,
) -> tuple[Proposal, ...]:
    """Blends whose final pH suits the widest share of homes, with little mass.

    Parameters
    ----------
    survey : Survey
        Whose homes, bottle, wish and bathers are kept, its activator is not; the first thousand
        of the homes are looked at.
    powders : sequence of str
        What the maker has; plain citric acid is always looked at.
    band : tuple of float, optional
        Lowest and highest pH; if not given, a home suits where it turns within the caution limit.
    prices_per_gram : mapping of str to float, optional
        Powder to the price of a gram.

    Returns
    -------
    tuple of Proposal
        Plain citric acid first; only such as suit a home.

    Raises
    ------
    ValueError
        If a powder is unknown or sets gas free, or the band is empty.
    """
    names = tuple(dict.fromkeys((PLAIN, *(powder(name).name for name in powders))))
    _check(names, band)
    search = _Search(survey, names, band, prices_per_gram or {})
    plain, best = search.solved()
    chosen = {"plain": search.judged(max(plain, key=serves))} if plain else {}
    chosen |= search.chosen(best)
    return tuple(blend for blend in _distinct(chosen) if serves(blend) > 0.0)


def serves(sachet: Way | Proposal) -> float:
    """Share of homes that a way to pour, or a blend, turns within the limit, 0 to 1."""
    return sachet.shares.turns_share


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
        survey: Survey,
        names: Sequence[str],
        band: tuple[float, float] | None,
        prices: Mapping[str, float],
    ) -> None:
        self.survey, self.names, self.prices = survey, names, prices
        self.limit, self.most_past_share = survey.limit, survey.counted.most_past_share
        some = survey.in_homes.first(JUDGED_HOMES)
        self.homes, self.bath, self.goal = some.homes, some.bath, survey.goal(some, band)
        self.shares = np.array(list(_all_shares(len(names))))
        self._strip = cache(self._strip_limits)

    def solved(self) -> tuple[list[Proposal], list[Proposal]]:
        """Plain citric acid, and the blends worth solving, at masses that suit most homes."""
        masses, suited, past = self._estimated()
        kept = np.where(past > self.most_past_share, 0.0, suited)
        # Too sour for this person in the middle home, however mild the pH.
        kept[self._per_gram(self._reserves())[:, None] * masses > self.limit.reserve_meq_l] = 0.0
        # Plain acid is the first of the mixtures; it is shown even if it ends past the limit.
        limited = bool(kept[0].max() > 0.0)
        plain = self._at_masses(0, _worthwhile(masses, (kept if limited else suited)[0]), limited)
        rows = self._shortlist(masses, kept)
        best = [self._at_masses(row, _worthwhile(masses, kept[row])) for row in rows]
        return plain, [proposal for of_blend in best for proposal in of_blend]

    def _shortlist(self, masses: Array, suited: Array) -> list[int]:
        """The blends that suit most homes, and the lightest and cheapest of nearly as many."""
        if suited.max() <= 0.0:
            return []
        nearly = suited >= sachet_value("blend_light_share") * suited.max()
        weights = [np.broadcast_to(masses, suited.shape)]
        if self.prices:
            dear = 1e6
            price = self._per_gram([self.prices.get(name, dear) for name in self.names])
            weights.append(price[:, None] * masses)
        scores = [-suited.max(axis=1)]
        scores += [np.where(nearly, weight, np.inf).min(axis=1) for weight in weights]
        best = (row for score in scores for row in np.argsort(score, kind="stable")[:SHORTLIST])
        return [row for row in dict.fromkeys(map(int, best)) if suited[row].max() > 0.0]

    def _per_gram(self, of_powders: Sequence[float]) -> Array:
        """Something that powders have by the gram, for each blend, shape (blends,)."""
        return np.asarray(self.shares @ np.asarray(of_powders, dtype=np.float64))

    def _reserves(self) -> list[float]:
        """Acid reserve that a gram of each powder adds in the middle home [meq/L]."""
        middle = np.argsort(self.bath.volume_l)[len(self.bath.volume_l) // 2]
        some = 0.3 * float(self.bath.volume_l[middle])
        baths = [self.bath.with_activator(some, per_gram(name)) for name in self.names]
        before, *after = (bath.acid_reserve_meq_l()[middle] for bath in (self.bath, *baths))
        return [float(reserve - before) / some for reserve in after]

    def _estimated(self) -> tuple[Array, Array, Array]:
        """Masses, and for each blend the shares of homes that it suits and takes too far."""
        least, most = self._grams_to(self.goal.high), self._grams_to(self.goal.low)
        limit = self._grams_to(np.full_like(self.bath.ph, self.limit.ph or np.nan))
        volume = float(np.median(self.bath.volume_l))
        masses = np.geomspace(0.02, sachet_value("blend_most_g_l"), MASSES) * volume
        suited, past = np.empty((2, len(self.shares), MASSES))
        for place, mass in enumerate(masses):
            suited[:, place] = np.mean((mass >= least) & (mass <= most), axis=1)
            past[:, place] = np.mean(mass > limit, axis=1)
        return masses, suited, past

    def _grams_to(self, ph: Array) -> Array:
        """Grams to a pH, shape (blends, homes), if a gram takes up the same charge throughout."""
        bath = self.bath
        left = _charge_mol(bath, ph)
        tried = TRIED_G_L * bath.volume_l
        taken = np.stack(
            [
                (left - _charge_mol(bath.with_activator(tried, per_gram(name)), ph)) / tried
                for name in self.names
            ]
        )
        together = self.shares @ taken
        with np.errstate(divide="ignore", invalid="ignore"):
            grams = np.where(together > 0, left / together, np.inf)
        return np.where(np.isnan(ph), np.inf, np.where(ph >= bath.ph, 0.0, grams))

    def _after(self, parts: Mapping[str, float], grams: Array) -> Bath:
        return self.bath.with_activator(grams, blend_per_gram(parts))

    def _at_masses(self, row: int, masses: Array, limited: bool = True) -> list[Proposal]:
        """The masses of one blend that suit some homes within the limit, not judged yet."""
        pairs = zip(self.names, self.shares[row].tolist(), strict=True)
        parts = {name: share for name, share in pairs if share > 0.0}
        after = self._after(parts, masses[:, None])
        suited, past = self.goal.met(after)
        proposals = [
            Proposal(
                grams=mass,
                shares=shares_of(suited[place], past[place]),
                ph=ends_of(after.ph[place]),
                cost=cost_of(parts, mass, self.prices),
                kind="",
                parts=tuple(parts.items()),
                reserve_meq_l=ends_of(after.acid_reserve_meq_l()[place]),
            )
            for place, mass in enumerate(masses.tolist())
        ]
        most = self.most_past_share if limited else 1.0
        return [p for p in proposals if serves(p) > 0 and p.shares.past_limit_share <= most]

    def chosen(self, solved: Sequence[Proposal]) -> dict[str, Proposal]:
        """The best once they are judged, which never adds to the homes that a blend serves."""
        pool, judged = list(solved), list[Proposal]()
        while True:
            chosen = _chosen([*pool, *judged])
            blend = next((each for each in chosen.values() if each in pool), None)
            if blend is None:
                return chosen
            pool.remove(blend)
            told = self.judged(blend)
            if serves(told) > 0.0:
                judged.append(told)
            else:
                # Nor may anyone pour more of it.
                pool = [p for p in pool if p.parts != blend.parts or p.grams < blend.grams]

    def _strip_limits(self, parts: tuple[tuple[str, float], ...]) -> StripLimits:
        inputs = self.survey.inputs
        blend = replace(inputs, activator=replace(inputs.activator, parts=dict(parts)))
        return StripLimits(blend, self.survey.in_homes.homes.smallest_l)

    def judged(self, proposal: Proposal) -> Proposal:
        """A blend with its cautions, and the waters that it is for."""
        parts, grams = dict(proposal.parts), proposal.grams
        from_ppm = self._strip(proposal.parts).softest(grams)
        poured = poured_from(self.homes, grams, from_ppm)
        after = self._after(parts, poured)
        turned, past = self.goal.met(after)
        return replace(
            proposal,
            shares=shares_of(turned & (poured > 0.0), past),
            cautions=judge(self.survey.situation(parts, grams, after)),
            from_ppm=from_ppm,
        )


def _charge_mol(bath: Bath, ph: Array) -> Array:
    """Charge that tubs held at a pH have left over [mol]."""
    return np.asarray(solve(bath.totals, bath.temperature_c, ph=ph).charge_error * bath.water_kg)


def _all_shares(powders: int) -> Iterator[Array]:
    """Shares of all blends of up to `MOST_POWDERS` of the powders, the first alone first."""
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
    """The widest, and the lightest and cheapest that are nearly as wide."""
    if not solved:
        return {}
    top = max(map(serves, solved))
    widest = [blend for blend in solved if serves(blend) >= top - NEARLY]
    nearly = [b for b in solved if serves(b) >= sachet_value("blend_light_share") * top]
    chosen = {
        "widest": min(widest, key=lambda blend: blend.grams),
        "lightest": min(nearly, key=lambda blend: blend.grams),
    }
    priced = [(blend.cost, blend) for blend in nearly if blend.cost is not None]
    if priced:
        chosen["cheapest"] = min(priced, key=lambda pair: pair[0])[1]
    return chosen


def _distinct(chosen: Mapping[str, Proposal]) -> list[Proposal]:
    """Each blend once, under the first of its names."""
    kept: dict[object, Proposal] = {}
    for kind, blend in chosen.items():
        kept.setdefault((frozenset(blend.parts), blend.grams), replace(blend, kind=kind))
    return list(kept.values())
