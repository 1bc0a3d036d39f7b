"""The search for an effect: which colours, how strong, and which pH come nearest to two wishes.

A liquid's spectrum is linear in the strengths of its colourants and depends on the pH, so that the
spectra of all colourants along the pH are worked out once and thousands of mixtures are seen at a
time. Every set of colourants has a population of its own; all of them evolve together, and sets
that fall behind are given up. Nothing is known here of grams and litres.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import combinations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from dosing.trade_values import typical
from indicator.absorbance import WAVELENGTH_NM, mixture_absorbance
from indicator.appearance import delta_e, lab_of
from indicator.optics import View
from indicator.pigments import colourant
from indicator.words import lab_from_hex, matches_word, threshold, word_certainty

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]
Places = NDArray[np.intp]
Certainty = Callable[[Array, str], Array]

PH_STEP = 0.01
"""Of the pH at the end: as fine as a recipe states it."""
MOST_PIGMENTS, MOST_DYES = 2, 2
FAINTEST, DENSEST = 0.01, 8.0
"""Absorbance of one colourant, along the whole way of the light, between which is searched."""
PEOPLE = 24
"""Mixtures of one set that evolve together; more where there are few sets."""
MOST_PEOPLE = 160
ROWS_AT_ONCE = 6000
KEPT_SETS = 28
"""Sets that are followed to the end."""
ROUNDS = ((5, 0.45), (5, 0.45), (6, 0.45), (8, 0.5), (10, 0.5))
"""Generations, and the share of the sets that goes on after them."""
LAST_GENERATIONS = 45
TABLE_STEP = 5.0
"""Of the table of word certainties in CIELAB; between its points is interpolated."""
TABLE_REACH = 115.0
FAINTEST_CERTAINTY = 1e-12

MUCH_ACID_PH = 4.0
"""Below it each step of the pH takes several times the acid of the one before."""

# What a design is judged by. One is a plain miss: a colour that is off by the difference at which
# an eye no longer calls two colours the same, or a word with a third of the votes that it needs.
WEIGHTS: Mapping[str, float] = {
    "unsure": 0.25,
    "unseen": 3.0,
    "pale": 0.8,
    "deep": 0.4,
    "black": 4.0,
    "no-change": 6.0,
    "infusion": 0.4,
    "too-much-infusion": 20.0,
    "turn": 0.03,
    "sour": 0.15,
    "gate": 0.1,
    "own-acid": 0.8,
    "stains": 0.08,
    "ingredient": 0.08,
}


@dataclass(frozen=True)
class End:
    """A wished colour: a plain word or one exact colour."""

    text: str
    """As people read it."""
    word: str | None = None
    hex: str | None = None

    @property
    def faint(self) -> bool:
        """Whether the wish is a liquid without a tint."""
        return self.word == "colourless"


@dataclass(frozen=True)
class Field:
    """What a tub allows, for every pH at which a design may end."""

    ph_before: float
    ph: Array
    """pH values that may be aimed at, shape (steps,)."""
    acid_side: Array
    """5 % quantile of the pH over the possible tubs for each, shape (steps,)."""
    alkaline_side: Array
    """95 % quantile."""
    minded: Mask
    """Whether a caution asks to mind that pH."""


@dataclass(frozen=True)
class Palette:
    """The colourants that may be taken, with their spectra in this tub."""

    names: tuple[str, ...]
    before: Array
    """Spectrum at strength 1 before the activator, shape (colourants, wavelengths)."""
    after: Array
    """At every pH of the field and on both its sides, shape (colourants, steps, 3, wavelengths)."""
    low: Array
    """Least strength that is tried, shape (colourants,)."""
    high: Array
    """Most that is tried: as strong as the tub could take."""
    share: Array
    """Share of the tub that strength 1 takes up as infusion or solution, shape (colourants,)."""
    steady_from: Array
    """pH below which a dye is not relied on, shape (colourants,)."""
    stains: Array
    """1 where it stains strongly, else 0."""
    own_acid: Array
    """Acid that strength 1 brings, over what the water of the tub takes up, shape (colourants,)."""


@dataclass(frozen=True)
class Candidate:
    """A mixture and its end, as the search leaves them."""

    names: tuple[str, ...]
    strengths: tuple[float, ...]
    """pH-1 absorbance per cm of a pigment, mol/L of a dye."""
    ph: float
    cost: float


def palette(
    names: Sequence[str],
    field_: Field,
    view: View,
    bottle_strength: Mapping[str, float],
    own_acid: Mapping[str, float],
    pka: Mapping[str, ArrayLike] | None = None,
) -> Palette:
    """Spectra and bounds of the colourants in a tub.

    Parameters
    ----------
    names : sequence of str
        Keys of the colourants.
    field_ : Field
        The pH values in question.
    view : View
        How the tub is looked at.
    bottle_strength : mapping of str to float
        Strength of the infusion or solution that each would be poured from, in the colourant's
        unit of strength.
    own_acid : mapping of str to float
        Acid that each brings at strength 1, over what the water takes up.
    pka : mapping of str to array_like, optional
        Other apparent pKa's, as `mixture_absorbance` takes them.
    """
    ends = np.stack([field_.ph, field_.acid_side, field_.alkaline_side], axis=-1)
    before = np.stack([mixture_absorbance({n: 1.0}, field_.ph_before, pka) for n in names])
    after = np.stack([mixture_absorbance({n: 1.0}, ends, pka) for n in names])
    way = view.path_cm * (2.0 * view.obliquity if view.kind == "tub" else 1.0)
    peak = np.maximum(before.max(axis=-1), after.max(axis=(1, 2, 3))) * way
    share = 1.0 / np.array([bottle_strength[n] for n in names])
    most = typical("most_infusion_share").value / share
    high = np.minimum(DENSEST / peak, most)
    known = [colourant(n) for n in names]
    return Palette(
        names=tuple(names),
        before=before,
        after=after,
        low=np.minimum(FAINTEST / peak, 0.5 * high),
        high=high,
        share=share,
        steady_from=np.array([c.steady_from_ph or 0.0 for c in known]),
        stains=np.array([float(c.stains == "strongly") for c in known]),
        own_acid=np.array([own_acid[n] for n in names]),
    )


def colour_sets(names: Sequence[str]) -> list[tuple[int, ...]]:
    """Sets of one or two pigments and up to two dyes, as places in `names`.

    Two colourants of one family (the same petals by other numbers) never stand in one set.
    """
    known = [colourant(name) for name in names]
    pigments = [k for k, one in enumerate(known) if one.kind == "pigment"]
    dyes = [k for k, one in enumerate(known) if one.kind == "dye"]
    found = []
    for some in _some(pigments, 1, MOST_PIGMENTS):
        for more in _some(dyes, 0, MOST_DYES):
            whole = (*some, *more)
            if len({known[k].family for k in whole}) == len(whole):
                found.append(whole)
    return found


def _some(places: Sequence[int], least: int, most: int) -> list[tuple[int, ...]]:
    return [one for count in range(least, most + 1) for one in combinations(places, count)]


@dataclass(frozen=True)
class Task:
    """Everything that judges a mixture."""

    start: End
    end: End
    field: Field
    palette: Palette
    view: View
    both_sides: bool = True
    """Whether the end is judged on the sides of the possible tubs too, or at the aim alone."""
    clear_lab: Array = dataclasses.field(init=False)
    """The vessel without colour, shape (3,)."""

    def __post_init__(self) -> None:
        object.__setattr__(self, "clear_lab", lab_of(np.zeros(len(WAVELENGTH_NM)), self.view))

    def labs(self, places: Places, strengths: Array, step: Places) -> tuple[Array, Array]:
        """CIELAB before, shape (n, 3), and after, shape (n, 3, 3): at the aim and on both sides.

        Of the aim alone, shape (n, 1, 3), where the sides are not judged.

        Parameters
        ----------
        places : ndarray
            Colourants of each mixture, shape (n, members).
        strengths : ndarray
            Shape (n, members); 0 where there is none.
        step : ndarray
            Place of the pH in the field, shape (n,).
        """
        inks = self.palette
        before = np.einsum("nm,nmw->nw", strengths, inks.before[places])
        ends = inks.after if self.both_sides else inks.after[:, :, :1]
        after = np.zeros((len(step), *ends.shape[2:]))
        for member in range(places.shape[1]):
            after += strengths[:, member, None, None] * ends[places[:, member], step]
        return lab_of(before, self.view), lab_of(after, self.view)

    def cost(
        self, places: Places, strengths: Array, step: Places, certainty: Certainty = word_certainty
    ) -> Array:
        """What speaks against each mixture, 0 for one that nothing speaks against, shape (n,).

        Parameters
        ----------
        places, strengths, step
            As in `labs`.
        certainty : callable
            How surely a colour has a word.
        """
        before, after = self.labs(places, strengths, step)
        used = (strengths > 0).astype(np.float64)
        infusion = (strengths * self.palette.share[places]).sum(axis=1)
        infusion = infusion / typical("most_infusion_share").value
        own_acid = (strengths * self.palette.own_acid[places]).sum(axis=1)
        members = used.sum(axis=1)
        # The dye must hold where the tub ends, on its acid side too.
        steady = (used * self.palette.steady_from[places]).max(axis=1)
        too_acid = np.maximum(steady - self.field.acid_side[step], 0.0)
        missed = miss(self.start, before, certainty) + self._missed_end(after, certainty)
        return np.asarray(
            missed
            + looks(self.start, before, self.clear_lab)
            + looks(self.end, after[:, 0], self.clear_lab)
            + no_change(before, after[:, 0])
            + WEIGHTS["infusion"] * infusion
            + WEIGHTS["too-much-infusion"] * (np.maximum(infusion - 1.0, 0.0) + too_acid)
            + WEIGHTS["turn"] * np.abs(self.field.ph_before - self.field.ph[step])
            + WEIGHTS["sour"] * np.maximum(MUCH_ACID_PH - self.field.ph[step], 0.0)
            + WEIGHTS["own-acid"] * own_acid
            + WEIGHTS["gate"] * self.field.minded[step]
            + WEIGHTS["stains"] * (used * self.palette.stains[places]).sum(axis=1)
            + WEIGHTS["ingredient"] * (members - 1.0)
        )

    def _missed_end(self, after: Array, certainty: Certainty) -> Array:
        """The miss at the aim, and for a word half of it on the sides of the possible tubs."""
        if self.end.word is None or not self.both_sides:
            return miss(self.end, after[:, 0], certainty)
        aim, acid, alkaline = np.moveaxis(miss(self.end, after, certainty), -1, 0)
        return np.asarray(0.5 * aim + 0.25 * (acid + alkaline))


def miss(end: End, lab: Array, certainty: Certainty = word_certainty) -> Array:
    """How far colours are from a wish: 1 is a plain miss, shape (..., 3) to (...)."""
    if end.hex is not None:
        same = typical("same_colour_delta_e").value
        return np.asarray(delta_e(lab_from_hex(end.hex), lab) / same)
    word = str(end.word)
    lightness, chroma = lab[..., 0], np.hypot(lab[..., 1], lab[..., 2])
    if end.faint:
        over = np.maximum(chroma / threshold("colourless_chroma") - 1.0, 0.0)
        return np.asarray(over + np.maximum(threshold("grey_lightness") - lightness, 0.0) / 10.0)
    if word == "grey":
        over = np.maximum(chroma / threshold("grey_chroma") - 1.0, 0.0)
        return np.asarray(over + np.maximum(lightness - threshold("grey_lightness"), 0.0) / 10.0)
    votes = np.maximum(certainty(lab, word), FAINTEST_CERTAINTY)
    doubt = np.maximum(np.log(typical("sure_word_share").value / votes), 0.0)
    # Votes fall off with the square of the distance; far away the distance itself counts.
    doubt = np.where(doubt > 1.0, 2.0 * np.sqrt(doubt) - 1.0, doubt)
    dull = np.maximum(1.0 - chroma / threshold("grey_chroma"), 0.0)
    return np.asarray(doubt + WEIGHTS["unsure"] * (1.0 - votes) + dull)


def meets(end: End, lab: ArrayLike) -> Mask:
    """Whether colours are what was wished, shape (..., 3) to (...)."""
    values = np.asarray(lab, dtype=np.float64)
    if end.word is not None:
        return matches_word(values, end.word)
    away = delta_e(lab_from_hex(str(end.hex)), values)
    return np.asarray(away <= typical("same_colour_delta_e").value)


def looks(end: End, lab: Array, clear_lab: Array) -> Array:
    """What speaks against a colour to look at: too faint to be seen, too dark to be one."""
    if end.faint or end.hex is not None:
        # Who names one exact colour has chosen how pale or dark it is.
        return np.zeros(lab.shape[:-1])
    seen, lightness = delta_e(clear_lab, lab), lab[..., 0]
    unseen = np.maximum(1.0 - seen / threshold("visible"), 0.0)
    pale = np.maximum(1.0 - seen / threshold("strong"), 0.0)
    deep, black = threshold("deep_lightness"), threshold("black_lightness")
    depth = np.maximum((deep - lightness) / (deep - black), 0.0)
    return np.asarray(
        WEIGHTS["unseen"] * unseen
        + WEIGHTS["pale"] * pale
        + WEIGHTS["deep"] * depth
        + WEIGHTS["black"] * (lightness < black)
    )


def no_change(before: Array, after: Array) -> Array:
    """What speaks against a change that is not obvious."""
    seen = delta_e(before, after) / threshold("change_obvious")
    return np.asarray(WEIGHTS["no-change"] * np.maximum(1.0 - seen, 0.0))


@lru_cache(maxsize=32)
def _certainty_table(word: str) -> Array:
    """Logarithm of the certainty of a word over CIELAB, shape (lightness, a, b)."""
    light = np.arange(0.0, 100.0 + TABLE_STEP, TABLE_STEP)
    side = np.arange(-TABLE_REACH, TABLE_REACH + 0.5 * TABLE_STEP, TABLE_STEP)
    lab = np.stack(np.meshgrid(light, side, side, indexing="ij"), axis=-1)
    flat = lab.reshape(-1, 3)
    parts = [
        word_certainty(flat[k : k + ROWS_AT_ONCE], word) for k in range(0, len(flat), ROWS_AT_ONCE)
    ]
    votes = np.maximum(np.concatenate(parts), FAINTEST_CERTAINTY)
    return np.asarray(np.log(votes).reshape(lab.shape[:-1]))


def tabled_certainty(lab: Array, word: str) -> Array:
    """`word_certainty` from a table, near enough for a search and many times as fast."""
    from scipy.ndimage import map_coordinates

    places = (lab + np.array([0.0, TABLE_REACH, TABLE_REACH])) / TABLE_STEP
    flat = np.moveaxis(places, -1, 0).reshape(3, -1)
    found = map_coordinates(_certainty_table(word), flat, order=1, mode="nearest")
    return np.asarray(np.exp(found).reshape(lab.shape[:-1]))


def search(task: Task, seed: int, kept: int = KEPT_SETS) -> list[Candidate]:
    """The best mixture of each of the best sets, the best first.

    Parameters
    ----------
    task : Task
        Wishes, tub and colourants.
    seed : int
        The same seed gives the same answer.
    kept : int
        Sets that are followed to the end.

    Returns
    -------
    list of Candidate
        Empty where no set can be made of the palette.
    """
    sets = colour_sets(task.palette.names)
    if not sets:
        return []
    random = np.random.default_rng(seed)
    quick = replace(task, both_sides=False)
    tribes = _Tribes.founded(quick, sets, random)
    for generations, share in ROUNDS:
        for _ in range(generations):
            tribes = tribes.next_generation(quick, random)
        tribes = tribes.best(max(kept, int(share * len(tribes.members))))
    tribes = tribes.best(kept).judged_anew(task)
    for _ in range(LAST_GENERATIONS):
        tribes = tribes.next_generation(task, random)
    found = [_candidate(task, tribes, k) for k in range(len(tribes.members))]
    return sorted(found, key=lambda one: one.cost)


def _candidate(task: Task, tribes: _Tribes, which: int) -> Candidate:
    """The best of a set, judged exactly and without members that are not worth their place."""
    best = int(np.argmin(tribes.cost[which]))
    places, strengths, step = tribes.mixtures(task, tribes.genes[which, best][None, None], which)
    cost = float(task.cost(places, strengths, step)[0])
    for member in range(places.shape[1]):
        less = strengths.copy()
        less[0, member] = 0.0
        if less.any() and strengths[0, member] > 0:
            lighter = float(task.cost(places, less, step)[0])
            if lighter <= cost:
                strengths, cost = less, lighter
    used = np.flatnonzero(strengths[0] > 0)
    return Candidate(
        names=tuple(task.palette.names[places[0, k]] for k in used),
        strengths=tuple(float(strengths[0, k]) for k in used),
        ph=float(task.field.ph[step[0]]),
        cost=cost,
    )


@dataclass(frozen=True)
class _Tribes:
    """Populations of all sets; genes run from 0 to 1: logarithms of the strengths, then the pH."""

    members: Places
    """Colourants of each set, shape (sets, most members); the first fills up."""
    alive: Mask
    """Which of them count."""
    genes: Array
    """Shape (sets, people, most members + 1)."""
    cost: Array
    """Shape (sets, people)."""

    @classmethod
    def founded(
        cls, task: Task, sets: Sequence[tuple[int, ...]], random: np.random.Generator
    ) -> _Tribes:
        most = max(len(one) for one in sets)
        members = np.array([(*one, *(one[0],) * (most - len(one))) for one in sets], dtype=np.intp)
        alive = np.array([[k < len(one) for k in range(most)] for one in sets])
        people = int(np.clip(PEOPLE * 120 // len(sets), PEOPLE, MOST_PEOPLE))
        genes = random.random((len(sets), people, most + 1))
        return cls(members, alive, genes, np.zeros(genes.shape[:2])).judged_anew(task)

    def judged_anew(self, task: Task) -> _Tribes:
        """The same people under a task that judges otherwise."""
        return replace(self, cost=self.judged(task, self.genes))

    def best(self, count: int) -> _Tribes:
        """The sets whose best is best."""
        order = np.argsort(self.cost.min(axis=1), kind="stable")[:count]
        return _Tribes(self.members[order], self.alive[order], self.genes[order], self.cost[order])

    def mixtures(
        self, task: Task, genes: Array, which: int | slice = slice(None)
    ) -> tuple[Places, Array, Places]:
        """Colourants, strengths and pH of genes of shape (sets, people, genes), in one row."""
        members, alive = self.members[which], self.alive[which]
        if isinstance(which, int):
            members, alive = members[None], alive[None]
        inks = task.palette
        low, high = np.log(inks.low[members])[:, None], np.log(inks.high[members])[:, None]
        strengths = np.exp(low + genes[..., :-1] * (high - low)) * alive[:, None]
        last = len(task.field.ph) - 1
        step = np.rint(genes[..., -1] * last).astype(np.intp)
        places = np.broadcast_to(members[:, None], strengths.shape)
        wide = strengths.shape[-1]
        return places.reshape(-1, wide), strengths.reshape(-1, wide), step.reshape(-1)

    def judged(self, task: Task, genes: Array) -> Array:
        """Cost of genes, shape (sets, people)."""
        places, strengths, step = self.mixtures(task, genes)
        parts = [slice(k, k + ROWS_AT_ONCE) for k in range(0, len(step), ROWS_AT_ONCE)]
        found = [task.cost(places[p], strengths[p], step[p], tabled_certainty) for p in parts]
        return np.concatenate(found).reshape(genes.shape[:2])

    def next_generation(self, task: Task, random: np.random.Generator) -> _Tribes:
        """Differential evolution within each set: towards the best, by differences of others.

        Source: Storn and Price 1997, J. Global Optim. 11:341 (the scheme, here towards the best).
        """
        sets, people, wide = self.genes.shape
        rows = np.arange(sets)[:, None]
        best = self.genes[np.arange(sets), self.cost.argmin(axis=1)][:, None]
        one, two, three = (random.integers(0, people, (sets, people)) for _ in range(3))
        reach = random.uniform(0.3, 0.95, (sets, people, 1))
        pull = random.uniform(0.0, 0.9, (sets, people, 1))
        base = self.genes[rows, three]
        trial = base + pull * (best - base)
        trial = trial + reach * (self.genes[rows, one] - self.genes[rows, two])
        crossed = random.random((sets, people, wide)) < 0.85
        trial = np.where(crossed, trial, self.genes)
        # What runs over an end is turned back into the range.
        trial = np.abs(trial) % 2.0
        trial = np.where(trial > 1.0, 2.0 - trial, trial)
        cost = self.judged(task, trial)
        better = cost <= self.cost
        return replace(
            self,
            genes=np.where(better[..., None], trial, self.genes),
            cost=np.where(better, cost, self.cost),
        )
