"""Learning from logged pours: a home's possible tubs, weighed by the pH and colours that came.

The planner's possible tubs are drawn as for a plan. Each counts by how well it agrees with the pH
and the colours of all pours, by the errors of meter and eye, the scale, the pigment's spread and
what a tap's water does from day to day. Later rounds draw near the tubs that agree, so that many
carry the weight.
"""

from __future__ import annotations

import json
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from dosing.bath.assembled import Setting
from dosing.bath.inputs import RecipeInputs
from dosing.bath.learnt_home import LearntHome
from dosing.bath.mixed import surfactant_pka
from dosing.bath.possible_tubs import QUANTITIES, Possible, possible_tubs
from dosing.ingredients.water import WaterReadings, typical_water_names
from dosing.jar.learnt import Learnt
from dosing.jar.model import jar_value, ph_noise
from dosing.recipe import recipe_from
from dosing.recipe.own_waters import learnt_for, of_volume, own_water, water_folder
from dosing.workshop.records import UNCHANGED, LoggedPour
from indicator.appearance import lab_of
from indicator.files import whole_file
from indicator.notes import Note, say
from indicator.pigments import Pigments
from indicator.spread import drawn_absorbance, reading_error
from indicator.srgb import lab_from_hex
from indicator.tables import value_of
from indicator.words import certainties, colour_word, colour_words, parse_target

Array = NDArray[np.float64]
TABLE = "trade/learning.csv"
TUBS = 2048
"""Doubling it moves the ends of a learnt dose by less than 2 % (tests/dosing/test_learning.py)."""
ROUNDS = 3
LEAST_CARRYING = 200
"""Tubs that shall carry the weight of a round from which the next one draws."""
WIDER = 1.3
"""Each next round draws so much wider, so that no tub that agrees is out of its reach."""
KEPT = ("alkalinity", "volume", "tap_ph", "hardness", "constants")
"""Quantities of the water, the tub and nature that are saved; brew and powder may be others."""
OF_THE_TUB = ("alkalinity_meq_l", "volume", "tap_ph", "hardness")
"""Fields of `Truth` that the middle tub has."""
CHECKED = ("alkalinity", "volume", "purity", "pigment")
"""Quantities that a maker can look at again."""
NUDGE = 0.03
"""Share of the dose for slopes."""
_NAME = re.compile(r"[a-z0-9][a-z0-9-]{0,39}")


@dataclass(frozen=True)
class HomeLearnt:
    """Water and tub of one home as its pours taught them; ends hold nine cases of ten."""

    home: str
    on: date
    """Of the last pour."""
    pours: int
    """How many told something."""
    metered_days: int
    """Days with a metered pH among them."""
    alkalinity: Learnt
    """[meq/L], before and after."""
    strength: Learnt
    """Of the colours over the stated one, before and after."""
    share_of_tubs: float
    """Effective share of the possible tubs that carries the weight, 0 to 1."""
    contradicts: bool
    """Whether hardly any possible tub agrees, or the pours do not agree among themselves."""
    check: tuple[Note, ...]
    """What to check then, the likeliest first."""
    tables: Mapping[str, Any]
    """Recipe of the last pour."""
    learnt: LearntHome

    @property
    def raises_maximum(self) -> bool:
        """Whether a grown-up's own maximum may rise by it."""
        return self.learnt.raises


@dataclass(frozen=True)
class _Weighed:
    """Possible tubs of one round, the last of which is told."""

    possible: Possible
    """Of the last pour."""
    prior: Array
    """Logarithm of the density of each before any pour over that of the round, shape (tubs,)."""
    likelihood: Array
    """Logarithm of how well each agrees with the pours, shape (tubs,)."""
    scatter: float
    """How far the pours scatter in the tub that fits best, over what their errors let expect."""
    pulls: Array
    """Root of what each pour adds to it, shape (tubs, pours)."""

    @property
    def weights(self) -> Array:
        """They sum to 1, shape (tubs,)."""
        return _weights(self.prior + self.likelihood)

    @property
    def share_before(self) -> float:
        """Effective share of the tubs as they were before any pour that carries the weight."""
        relative = np.exp(self.likelihood - self.likelihood.max())
        density = np.exp(self.prior)
        return float(np.mean(density * relative) ** 2 / np.mean(density * relative**2))


def learn(pours: Sequence[LoggedPour], today: date, pigments: Pigments | None = None) -> HomeLearnt:
    """Weigh the possible tubs of a home by its pours.

    Parameters
    ----------
    pours : sequence of LoggedPour
        Of one home; those older than what may be used, or of which nothing was seen, are left out.
    today : date
        When it is asked.
    pigments : Pigments, optional
        What the maker can name; the shipped ones and those of the usual own folder if not given.

    Returns
    -------
    HomeLearnt

    Raises
    ------
    ValueError
        If they are of several homes, or none of them tells anything.
    """
    homes = sorted({pour.home for pour in pours})
    if len(homes) > 1:
        raise ValueError(say("learning.error-several-homes", {"homes": ", ".join(homes)}))
    recent = [pour for pour in pours if pour.on <= today <= pour.on + learnt_for()]
    recipes = {repr(pour.recipe): _unlearnt(pour, pigments) for pour in recent}
    read = [(pour, recipes[repr(pour.recipe)]) for pour in recent]
    telling = [pair for pair in read if _tells(*pair)]
    if not telling:
        raise ValueError(say("learning.error-nothing-learnt", {"days": learnt_for().days}))
    last, base = max(telling, key=lambda pair: pair[0].on)
    rounds = _weigh(telling, base.water, None)
    for _ in range(ROUNDS - 1):
        rounds = _weigh(telling, base.water, _nearer(rounds))
    before = possible_tubs(base, TUBS)
    with_meter = [pour for pour, _ in telling if pour.ph is not None and _metered(pour)]
    metered = sorted({pour.on.isoformat() for pour in with_meter})
    tubs, weights = rounds.possible, rounds.weights
    check = _check(rounds, [pour for pour, _ in telling])
    return HomeLearnt(
        home=last.home,
        on=last.on,
        pours=len(telling),
        metered_days=len(metered),
        alkalinity=_before_after("alkalinity_meq_l", before, tubs, weights),
        strength=_before_after("pigment", before, tubs, weights),
        share_of_tubs=rounds.share_before,
        contradicts=bool(check),
        check=check,
        tables=last.recipe,
        learnt=_home(last, len(telling), tuple(metered), tubs, weights),
    )


def write_water(learnt: HomeLearnt, name: str, folder: Path | None = None) -> Path:
    """Save a learnt water under a name, for ``[water] like = "NAME"``.

    Parameters
    ----------
    learnt : HomeLearnt
        Of `learn`.
    name : str
        Small letters, digits and hyphens.
    folder : Path, optional
        The maker's own folder; the usual one if not given.

    Returns
    -------
    Path
        The file.

    Raises
    ------
    ValueError
        If the pours contradict the reading or each other, or the name cannot be used.
    OSError
        If it cannot be written.
    """
    if learnt.contradicts:
        raise ValueError(say("learning.error-contradicts", {"home": learnt.home}))
    if not _NAME.fullmatch(name) or name in typical_water_names():
        raise ValueError(say("learning.error-water-name", {"value": repr(name)}))
    tables = {
        "water": _as_read(learnt.tables.get("water", {}), folder),
        "tub": of_volume(learnt.tables.get("tub", {})),
        "learnt": {
            key: getattr(learnt.learnt, key) for key in ("quantities", "scores", "covariance")
        },
        "learnt.middle": learnt.learnt.middle,
    }
    top = {
        "home": learnt.home,
        "on": learnt.on.isoformat(),
        "pours": learnt.pours,
        "metered": learnt.learnt.metered,
    }
    lines = [f"# {say('learning.file')}", *_pairs(top)]
    for heading, table in tables.items():
        lines += ["", f"[{heading}]", *_pairs(table)]
    path = water_folder(folder) / f"{name}.toml"
    path.parent.mkdir(parents=True, exist_ok=True)
    with whole_file(path) as draft:
        draft.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return path


def _as_read(water: Mapping[str, Any], folder: Path | None) -> dict[str, Any]:
    """The water as somebody read it, where the recipe names an own water."""
    like = str(water.get("like", ""))
    if "like" not in water or like.replace(" ", "-") in typical_water_names():
        return dict(water)
    rest = {key: value for key, value in water.items() if key != "like"}
    return {**own_water(like, folder).water, **rest}


def _pairs(table: Mapping[str, Any]) -> list[str]:
    # What JSON writes of text, numbers, yes and no and lists of them, TOML reads.
    return [f"{key} = {json.dumps(value)}" for key, value in table.items()]


def _unlearnt(pour: LoggedPour, pigments: Pigments | None) -> RecipeInputs:
    """Recipe of a pour, its water as it was read."""
    return replace(recipe_from(pour.recipe, pour.home, pigments), learnt=None)


def _metered(pour: LoggedPour) -> bool:
    return pour.ph_read_with == "meter"


def _tells(pour: LoggedPour, inputs: RecipeInputs) -> bool:
    return _ph_of(pour, inputs) is not None or bool(
        inputs.colours and (pour.colour_hex or pour.colour_word)
    )


def _ph_of(pour: LoggedPour, inputs: RecipeInputs) -> float | None:
    """PH as read; a strip's pads are read by colour, and tell nothing in a coloured bath."""
    return pour.ph if _metered(pour) or not inputs.colours else None


def _weigh(
    baths: Sequence[tuple[LoggedPour, RecipeInputs]],
    water: WaterReadings,
    nearer: LearntHome | None,
) -> _Weighed:
    """Possible tubs, drawn near those that agreed so far, and how well each agrees."""
    # Most pours of a home are of one recipe.
    tubs = {
        id(inputs): possible_tubs(replace(inputs, water=water, learnt=nearer), TUBS)
        for inputs in {id(inputs): inputs for _, inputs in baths}.values()
    }
    agreed = [_Agreement.of(pour, tubs[id(inputs)], inputs) for pour, inputs in baths]
    likelihood, scatter, pulls = together(agreed)
    last = tubs[id(max(baths, key=lambda pair: pair[0].on)[1])]
    prior = np.zeros(TUBS) if nearer is None else _prior_over(nearer, last.drawn)
    return _Weighed(last, prior, likelihood, scatter, pulls)


def _prior_over(nearer: LearntHome, drawn: Array) -> Array:
    """Logarithm of the standard normal density of scores over the one that they were drawn by."""
    root = np.linalg.cholesky(np.asarray(nearer.covariance))
    own = np.linalg.solve(root, (drawn - np.asarray(nearer.scores)).T)
    narrower = np.sum(np.log(np.diag(root)))
    return np.asarray(0.5 * np.sum(own**2, axis=0) - 0.5 * np.sum(drawn**2, axis=1) + narrower)


def _nearer(rounds: _Weighed) -> LearntHome:
    """Mean and spread of the tubs that agree, from which the next round draws."""
    exponent = 1.0
    log_weights = rounds.prior + rounds.likelihood
    while carrying(_weights(exponent * log_weights)) < LEAST_CARRYING:
        exponent *= 0.7
    scores, covariance = _moments(rounds.possible.drawn, _weights(exponent * log_weights))
    return _of_scores(QUANTITIES, scores, WIDER**2 * covariance)


def _of_scores(quantities: tuple[str, ...], scores: Array, covariance: Array) -> LearntHome:
    rows = tuple(tuple(map(float, row)) for row in covariance)
    return LearntHome("", "", "", 0, (), {}, quantities, tuple(map(float, scores)), rows)


def _moments(drawn: Array, weights: Array) -> tuple[Array, Array]:
    mean = weights @ drawn
    off = drawn - mean
    return mean, np.asarray((weights[:, None] * off).T @ off)


def _weights(logarithms: Array) -> Array:
    relative = np.exp(logarithms - logarithms.max())
    return np.asarray(relative / relative.sum())


def carrying(weights: Array) -> float:
    """Number of tubs that carry the weight: one over the sum of the squares of their shares."""
    return float(1.0 / np.sum(weights**2))


@dataclass(frozen=True)
class _Agreement:
    """Misfit of one pour in every possible tub, and the variances that allow for it."""

    off: Array
    """Of the pH and of L*, a* and b*, shape (tubs, 4); 0 for what was not seen."""
    own: Array
    """Variance of this pour alone; infinite for what was not seen, as `off`."""
    shared: Array
    """Variance that all pours share, shape (4,)."""
    word: Array
    """Logarithm of how many people would use the maker's word, shape (tubs,)."""

    @classmethod
    def of(cls, pour: LoggedPour, tubs: Possible, inputs: RecipeInputs) -> _Agreement:
        """Agreement of a pour with its possible tubs."""
        worth = np.exp(-tubs.constants * tubs.drawn[:, QUANTITIES.index("constants")])
        dose = pour.grams * worth * np.array([[1.0], [1.0 + NUDGE]])
        bath = tubs.setting.bath.with_activator(dose, tubs.setting.per_gram)
        ph = np.asarray(bath.ph)
        weighing = tubs.weighing.sd(pour.grams) / max(pour.grams, 1e-9)
        varies = np.hypot(weighing, value_of(TABLE, "alkalinity_from_day_to_day")) / NUDGE
        drift = value_of(TABLE, "drift_until_read")
        off, own = np.zeros((len(worth), 4)), np.full((len(worth), 4), np.inf)
        shared, word = np.zeros(4), np.zeros(len(worth))
        read = _ph_of(pour, inputs)
        if read is not None:
            noise, common = ph_noise(str(pour.ph_read_with), read)
            off[:, 0] = read - ph[0]
            own[:, 0] = noise**2 + drift**2 + (varies * (ph[1] - ph[0])) ** 2
            shared[0] = common**2
        if inputs.colours and (pour.colour_hex or pour.colour_word):
            held = tubs.read.bath.surfactants_g_l
            labs = labs_of(tubs.setting, ph, held)
            if pour.colour_hex:
                error = reading_error("hex" if pour.eye else "photograph")
                seen = np.asarray(lab_from_hex(pour.colour_hex))
                chroma = float(np.hypot(seen[1], seen[2]))
                variance = error.absolute**2 + (error.relative * chroma) ** 2
                share = value_of(TABLE, "shared_colour")
                off[:, 1:] = seen - labs[:, 0]
                own[:, 1:] = (1 - share) * variance + (varies * (labs[:, 1] - labs[:, 0])) ** 2
                shared[1:] = share * variance
            else:
                came = str(pour.colour_word)
                if came == UNCHANGED:
                    start = labs_of(
                        tubs.setting, np.broadcast_to(tubs.setting.bath.ph, (1, len(worth))), held
                    )
                    came = str(colour_word(np.median(start[:, 0], axis=0)))
                word = np.log(word_share(labs[:, 0], came))
        return cls(off, own, shared, word)


def together(pours: Sequence[_Agreement]) -> tuple[Array, float, Array]:
    """Logarithm of the likelihood, scatter and pulls of pours that share some errors.

    What scatters more than its errors let expect counts for less.

    Parameters
    ----------
    pours : sequence of _Agreement
        Of the same tubs.

    Returns
    -------
    numpy.ndarray
        Likelihood, shape (tubs,).
    float
        Scatter in the tub that fits best, 1 where it is as expected.
    numpy.ndarray
        Pull of each pour, shape (tubs, pours).
    """
    off = np.stack([pour.off for pour in pours], axis=1)
    own = np.stack([pour.own for pour in pours], axis=1)
    shared = np.max([pour.shared for pour in pours], axis=0)
    precision = 1.0 / own
    pooled = np.sum(precision, axis=1)
    pull = np.sum(off * precision, axis=1)
    common = pull * shared / (1.0 + shared * pooled)
    misfit = np.sum(off**2 * precision, axis=1) - common * pull
    width = np.sum(np.log(np.where(np.isfinite(own), own, 1.0)), axis=1)
    width += np.log1p(shared * pooled)
    words = np.sum([pour.word for pour in pours], axis=0)
    each = np.sqrt(np.sum((off - common[:, None]) ** 2 * precision, axis=2))
    total = np.sum(misfit, axis=1)
    seen = max(int(np.isfinite(own[0]).sum()), 1)
    scatter = float(np.sqrt(total.min() / seen))
    likelihood = words - 0.5 * (total / max(scatter, 1.0) ** 2 + np.sum(width, axis=1))
    return likelihood, scatter, each


def labs_of(tubs: Setting, ph: Array, surfactants_g_l: Mapping[str, ArrayLike]) -> Array:
    """CIELAB of many tubs, each with a pigment that the maker's may be.

    Parameters
    ----------
    tubs : Setting
        Batch shape (tubs,).
    ph : numpy.ndarray
        At each moment, shape (moments, tubs).
    surfactants_g_l : mapping of str to array_like
        Surfactants in the tub as read [g/L].

    Returns
    -------
    numpy.ndarray
        Shape (tubs, moments, 3).
    """
    strengths = {
        which: np.broadcast_to(strength, ph.shape[1:])[:, None]
        for which, strength in tubs.bath.strengths.items()
    }
    pka = surfactant_pka(strengths, surfactants_g_l)
    return lab_of(drawn_absorbance(strengths, ph.T, pka), tubs.view)


def word_share(labs: Array, written: str) -> Array:
    """Share of people who would call colours by a maker's word, slips counted, 0 to 1.

    Parameters
    ----------
    labs : numpy.ndarray
        CIELAB, shape (..., 3).
    written : str
        A colour word as a wish may have it.

    Returns
    -------
    numpy.ndarray
        Shape (...).

    Raises
    ------
    ValueError
        If it is no colour word.
    """
    slip, word = value_of(TABLE, "word_slip"), parse_target(written).word
    if word is None or word not in colour_words():
        raise ValueError(say("learning.error-no-colour-word", {"value": repr(written)}))
    votes = certainties(labs)[0][..., colour_words().index(word)]
    return np.asarray((1.0 - slip) * votes + slip / len(colour_words()))


def _before_after(field: str, before: Possible, after: Possible, weights: Array) -> Learnt:
    ends = (0.05, 0.5, 0.95)
    prior = np.quantile(np.asarray(getattr(before.truth, field)), ends)
    values = np.asarray(getattr(after.truth, field))
    order = np.argsort(values)
    now = np.interp(ends, np.cumsum(weights[order]) - 0.5 * weights[order], values[order])
    return Learnt(*map(float, (*now, *prior)))


def _check(rounds: _Weighed, pours: Sequence[LoggedPour]) -> tuple[Note, ...]:
    """What to check where the pours contradict each other or the reading; nothing where not."""
    weights = rounds.weights
    pulls, scattered = weights @ rounds.pulls, rounds.scatter > jar_value("most_scatter")
    if scattered and pulls.max() > value_of(TABLE, "stands_out") * pulls.min():
        worst = pours[int(np.argmax(pulls))]
        return (Note("learning.check-pour", {"date": worst.on.isoformat(), "grams": worst.grams}),)
    if not scattered and rounds.share_before >= value_of(TABLE, "least_share"):
        return ()
    moved = np.abs(weights @ rounds.possible.drawn)
    strained = sorted(CHECKED, key=lambda name: -moved[QUANTITIES.index(name)])
    return tuple(Note(f"learning.check-{name}") for name in strained)


def _home(
    last: LoggedPour, pours: int, metered: tuple[str, ...], tubs: Possible, weights: Array
) -> LearntHome:
    """The tubs that agree as what is saved: their spread with that of a tap from day to day."""
    columns = [QUANTITIES.index(name) for name in KEPT]
    scores, covariance = _moments(tubs.drawn[:, columns], weights)
    alkalinity = np.asarray(tubs.truth.alkalinity_meq_l)
    # How a day's alkalinity is counted: per standard deviation of the reading.
    per_score = np.polyfit(tubs.drawn[:, columns[0]], alkalinity, 1)[0]
    daily = value_of(TABLE, "alkalinity_from_day_to_day") * float(weights @ alkalinity)
    covariance[0, 0] += (daily / per_score) ** 2
    middle = {name: float(weights @ np.asarray(getattr(tubs.truth, name))) for name in OF_THE_TUB}
    return replace(
        _of_scores(KEPT, scores, covariance),
        place=last.home,
        on=last.on.isoformat(),
        pours=pours,
        metered=metered,
        middle=middle,
    )
