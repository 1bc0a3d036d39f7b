"""Trouble: causes of what went wrong with a bath, ranked over the possible tubs, and one test.

Every cause moves the planner's possible tubs, or shows in other ways. A tub counts by how well it
agrees with the complaint and with what else was seen; a cause by how common it is and by how many
of its tubs agree.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cache, cached_property

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr

from dosing.bath.assembled import Setting, Truth, assemble, water_l
from dosing.bath.inputs import RecipeInputs
from dosing.bath.possible_tubs import Possible, possible_tubs
from dosing.ingredients.hardness_units import alkalinity_in
from dosing.ingredients.trade_values import NINE_IN_TEN, reading_spread
from dosing.plan.answer import make_plan, preview
from dosing.recipe import quantities as q
from dosing.workshop.learning import labs_of
from indicator.appearance import delta_e
from indicator.notes import say
from indicator.tables import Sourced, read_table, read_toml
from indicator.words import plain_word, threshold

Array = NDArray[np.float64]
TABLE = "trade/troubles.csv"
WORDS = "text/en/troubles.toml"
TUBS, SEED = 256, 23
COMPUTED = ("stayed-blue", "no-tint", "turned-too-far")
"""Complaints that the engine computes of moved tubs."""
GREY, MUDDY = "grey", ("grey", "brown")
UNTURNED = "stayed-blue"
"""The complaint of another colour than was meant, and what most of it is called."""
BODY = ("hurt", "stung", "reddened")
"""Complaints that are about a person: help first, never a dose."""
GAS, SWALLOWED, TOO_MUCH = "gas", "swallowed", "poured-too-much"
FIRST_AID = (GAS, SWALLOWED, *BODY, "small-child", "slipped")
"""Complaints that each get their own first aid, however many are spoken of."""
ADVISED = (
    *(GAS, SWALLOWED, "hurt", "small-child", "slipped", TOO_MUCH),
    *("spoilt", "stained", "leaked", "undissolved", "turned-back", "too-dark"),
)
"""Complaints that get advice, and no ranked causes."""
NOT_MEANT = r"\b(?:not|instead|rather)\b"
"""After which the colour is named that did not come."""
NEARLY = 0.5
"""Share of the best separation of the first two with which a test may be chosen, if it tells more
of all causes."""
LEAST_WEIGHT = 1e-300
LEAST_SHARE = 0.03
"""Of a cause that is told."""
MOST_TOLD, MOST_FORESEEN = 4, 2
"""Causes that are told at most, and where the plan itself foresees what came."""
MOST_SAID = 300
"""Characters in which a maker says what happened."""
PADS_PPM = np.array([20.0, 60.0, 100.0, 150.0, 210.0])
"""Halfway between the steps of a strip."""
VOLUMES = np.array([0.7, 0.85, 0.95, 1.05, 1.15, 1.3, 1.5])
"""Counted water over the recipe's, between which a count is told apart."""
ACIDITIES = np.arange(3.0, 9.01, 0.25)
PALE, PALE_SD = np.log(0.7), 0.25
"""Strength over the stated one from which a glass looks pale, as a logarithm, and its spread."""
TOO_FAR, FAR_SD = 0.5, 0.2
"""PH below that of the tub as read from which it has turned too far, and the spread of that."""
LESS, LESS_SD = 0.5, 0.3
"""Share of the tint or change that was meant below which somebody complains, and its spread."""
FIGURES = ("strip", "litres", "ph")
"""Tests that are answered with a number."""
YES, NO = ("yes", "y", "true"), ("no", "n", "false")


@dataclass(frozen=True)
class _TroubleRow(Sourced):
    row: str
    cause: str
    what: str
    value: float
    low: float | None
    high: float | None


@dataclass(frozen=True)
class Cause:
    """A cause of a complaint."""

    name: str
    share: float
    """How likely it is, 0 to 1, among those that the tables know."""

    @property
    def told(self) -> str:
        """Sentence of the catalogue."""
        return _said("cause", self.name)

    @property
    def now(self) -> str:
        """Sentence on what to do."""
        return _said("now", self.name)


@dataclass(frozen=True)
class Separating:
    """The one test that tells the first cause from the second."""

    name: str
    separates: float
    """By how much the answers expected of the two differ, 0 (alike) to 1 (never alike)."""
    first_says: str
    """The answer that speaks for the first cause most."""
    information: float
    """Entropy of the causes that its answer takes away on average [nat]."""
    border: str = ""
    """Of a number: above it, or below it, the answer speaks for the first cause."""

    @property
    def in_figures(self) -> bool:
        """Whether it is answered with a number rather than yes or no."""
        return self.name in FIGURES

    @property
    def told(self) -> str:
        """Sentence of the catalogue, without its end."""
        return _said("test", self.name)


@dataclass(frozen=True)
class TroubleAnswer:
    """Causes of a complaint, the likeliest first, and the one test to do.

    There are none where advice is all: bleach or gas, somebody swallowed some or is hurt beyond
    the skin, too much was poured, the product has changed, something left a stain or leaked.
    """

    complaint: str
    happened: str
    """As it was written."""
    causes: tuple[Cause, ...]
    test: Separating | None
    """None where only one cause is left, or no test that tells the first two apart."""
    seen: tuple[tuple[str, str], ...]
    """Tests that were answered, and how."""
    hardly_turns: bool = False
    """Whether it did not turn, and the plan itself foresees no clear change."""
    expected: str = ""
    """The plan's own likeliest end, where that is the colour complained of."""
    aids: tuple[str, ...] = ()
    """Complaints spoken of that each get first aid."""

    @property
    def told(self) -> str:
        """Complaint in words."""
        return _said("complaint", self.complaint)

    @property
    def foreseen(self) -> bool:
        """Whether the plan itself expects the colour complained of."""
        return bool(self.expected)

    @property
    def help_first(self) -> bool:
        """Whether it is about a person, who is to be helped before anything else."""
        return any(aid in BODY for aid in self.aids)

    @property
    def swallowed(self) -> bool:
        """Whether somebody swallowed some."""
        return SWALLOWED in self.aids

    @property
    def poured_too_much(self) -> bool:
        """Whether more was poured than was meant."""
        return self.complaint == TOO_MUCH


def trouble(
    happened: str,
    inputs: RecipeInputs,
    seen: Mapping[str, str] | None = None,
    poured_g: float | None = None,
) -> TroubleAnswer:
    """Rank the causes of what went wrong.

    Parameters
    ----------
    happened : str
        A complaint of the tables, or the maker's own words for it.
    inputs : RecipeInputs
        The recipe in core units.
    seen : mapping of str to str, optional
        Test to its answer: ``"yes"`` or ``"no"``, a strip's ``"180 ppm"``, ``"140 L"`` or a pH.
    poured_g : float, optional
        Activator poured in [g]; the plan's dose if not given.

    Returns
    -------
    TroubleAnswer

    Raises
    ------
    ValueError
        If nothing known is spoken of, or a test or its answer is not known.
    """
    spoken, answered = _complaints_of(happened), dict(seen or {})
    complaint, aids = spoken[0], tuple(name for name in spoken if name in FIRST_AID)
    if {complaint, *aids} & {*ADVISED}:
        return TroubleAnswer(complaint, happened, (), None, (), aids=aids)
    causes = _causes(complaint)
    plan = make_plan(inputs)
    poured = plan if poured_g is None else preview(inputs, poured_g)
    grams = float(poured.dose_g.best)
    tubs = _Tubs.of(inputs, grams)
    weighed = {name: tubs.moved(name).agreeing(complaint, name) for name in causes}
    for name, answer in answered.items():
        outcome = tubs.outcome_of(name, answer)
        for cause in causes:
            weighed[cause] = weighed[cause] * tubs.moved(cause).answers(name, cause)[:, outcome]
    common = {name: _number("common", name) * float(weighed[name].mean()) for name in causes}
    whole = sum(common.values())
    ranked = sorted(causes, key=lambda name: -common[name])
    end = _expected(complaint, happened, (plan.odds.commonest_word, plan.after.colour.word))
    hardly = complaint == UNTURNED and poured.change_delta_e < threshold("change_obvious")
    most = MOST_FORESEEN if end or hardly else MOST_TOLD
    told = [name for name in ranked if common[name] >= LEAST_SHARE * whole][:most]
    likely = [_Expected(name, common[name] / whole, weighed[name]) for name in ranked]
    # Where no second cause is worth a word, nothing is left to be told apart.
    open_tests = [name for name in _tests(causes) if name not in answered and len(told) > 1]
    return TroubleAnswer(
        complaint=complaint,
        happened=happened,
        causes=tuple(Cause(name, common[name] / whole) for name in told),
        test=_best_test([tubs.separating(name, likely) for name in open_tests]),
        seen=tuple(answered.items()),
        expected=end,
        hardly_turns=hardly,
        aids=aids,
    )


def complaint_of(happened: str) -> str:
    """Complaint that a maker's words speak of first.

    Raises
    ------
    ValueError
        If they speak of none that is known, or at great length.
    """
    return _complaints_of(happened)[0]


def _complaints_of(happened: str) -> tuple[str, ...]:
    """Complaints that a maker's words speak of, as the catalogue orders them."""
    if len(happened) > MOST_SAID:
        raise ValueError(say("trouble.too-long", {"characters": len(happened), "most": MOST_SAID}))
    said = " ".join(re.sub("['’]", "", happened.casefold()).replace("-", " ").split())
    known: dict[str, str] = read_toml(WORDS)["words"]
    if said.replace(" ", "-") in known:
        return (said.replace(" ", "-"),)
    if spoken := tuple(name for name, pattern in known.items() if re.search(pattern, said)):
        return spoken
    accepted = ", ".join(name.replace("-", " ") for name in known)
    raise ValueError(say("trouble.unknown", {"value": repr(happened), "accepted": accepted}))


def observed(written: str) -> tuple[str, str]:
    """A test and its answer, from ``"test = answer"``; raises InputError for what is none."""
    test, equals, answer = written.partition("=")
    if not (test.strip() and equals and answer.strip()):
        raise q.InputError(say("trouble.saw", {"value": repr(written)}), "saw", written)
    return test.strip().casefold().replace(" ", "-"), answer.strip()


def tells_of_hurt(said: str) -> bool:
    """Whether a complaint speaks of skin, eyes or breath, or of what was swallowed."""
    try:
        return bool({*_complaints_of(said)} & {GAS, SWALLOWED, *BODY})
    except ValueError:
        return False


def names_of_tests() -> tuple[str, ...]:
    """Tests whose answers may be given."""
    return tuple(read_toml(WORDS)["test"])


def _expected(complaint: str, happened: str, ends: Sequence[object]) -> str:
    """End of the plan that somebody complains of, whatever they call it; empty for none."""
    if complaint != GREY:
        return ""
    came = re.split(NOT_MEANT, happened.casefold())[0]
    spoken = {*MUDDY, *map(plain_word, re.findall(r"\w+", came))}
    return next((str(word) for word in ends if word and word in spoken), "")


def _best_test(tests: Sequence[Separating]) -> Separating | None:
    """Of the tests that tell the first two apart well, the one that tells most of all."""
    enough = NEARLY * max((test.separates for test in tests), default=0.0)
    nearly = (test for test in tests if test.separates >= enough)
    return max(nearly, key=lambda test: test.information, default=None)


def _doubt(chances: Array) -> Array:
    """Entropy of answers, the last axis [nat]."""
    return np.asarray(-np.sum(chances * np.log(np.maximum(chances, LEAST_WEIGHT)), axis=-1))


def _said(what: str, name: str) -> str:
    return str(read_toml(WORDS)[what][name])


@cache
def _numbers() -> dict[tuple[str, str, str], _TroubleRow]:
    return {(one.row, one.cause, one.what): one for one in read_table(TABLE, _TroubleRow)}


def _number(row: str, cause: str, what: str = "") -> float:
    return _numbers()[row, cause, what].value


def _moves(cause: str) -> _TroubleRow | None:
    rows = (one for one in _numbers().values() if (one.row, one.cause) == ("moves", cause))
    return next(rows, None)


def _causes(complaint: str) -> tuple[str, ...]:
    """Causes that may lead to a complaint."""
    shown = [
        one.cause for one in _numbers().values() if (one.row, one.what) == ("shows", complaint)
    ]
    moved = [one.cause for one in _numbers().values() if one.row == "moves"]
    return tuple(dict.fromkeys([*shown, *(moved if complaint in COMPUTED else ())]))


def _tests(causes: tuple[str, ...]) -> tuple[str, ...]:
    """Tests on which these causes differ."""
    says = {one.what for one in _numbers().values() if one.row == "says" and one.cause in causes}
    moved = {move.what for cause in causes if (move := _moves(cause))}
    figures = {"alkalinity_meq_l": "strip", "volume": "litres", "pigment": "pale"}
    says |= {figures[what] for what in moved if what in figures}
    return tuple(name for name in names_of_tests() if name in says)


@dataclass(frozen=True)
class _Expected:
    """A cause with how likely it is, and how well each of its tubs agrees so far."""

    cause: str
    share: float
    weights: Array


@dataclass(frozen=True)
class _Tubs:
    """Possible tubs of a recipe with so much activator in them, perhaps moved by a cause."""

    inputs: RecipeInputs
    grams: float
    possible: Possible
    truth: Truth
    unmoved: _Tubs | None = None
    """The same without the cause; None if there is none."""

    @classmethod
    def of(cls, inputs: RecipeInputs, grams: float) -> _Tubs:
        """Tubs of a recipe as its readings allow them."""
        possible = possible_tubs(inputs, TUBS)
        return cls(inputs, grams, possible, possible.truth)

    @cached_property
    def _moved(self) -> dict[str, _Tubs]:
        return {}

    def moved(self, cause: str) -> _Tubs:
        """The tubs as a cause makes them; themselves where it moves none of their quantities."""
        move = _moves(cause)
        if move is None:
            return self
        if cause not in self._moved:
            spread = np.log((move.high or 1.0) / (move.low or 1.0)) / NINE_IN_TEN
            normal = np.random.default_rng(SEED).standard_normal(TUBS)
            factor = move.value * np.exp(spread * normal)
            moved = np.asarray(getattr(self.truth, move.what)) * factor
            truth = replace(self.truth, **{move.what: moved})
            self._moved[cause] = replace(self, truth=truth, unmoved=self)
        return self._moved[cause]

    @cached_property
    def _setting(self) -> Setting:
        return assemble(self.inputs, self.truth)

    @cached_property
    def ph(self) -> Array:
        """PH before and after the pour, shape (2, tubs)."""
        doses = self.possible.tipped_g(np.array([[0.0], [self.grams]]))
        return np.asarray(self._setting.bath.with_activator(doses, self._setting.per_gram).ph)

    @cached_property
    def labs(self) -> Array:
        """Colours before and after the pour, and of the water without colour, (tubs, 3, 3)."""
        held = self.possible.read.bath.surfactants_g_l
        clear = {which: np.zeros(TUBS) for which in self._setting.bath.strengths}
        bare = replace(self._setting, bath=replace(self._setting.bath, strengths=clear))
        seen = labs_of(self._setting, self.ph, held), labs_of(bare, self.ph[:1], held)
        return np.concatenate(seen, axis=1)

    def agreeing(self, complaint: str, cause: str) -> Array:
        """Chance that each tub leads to the complaint, shape (tubs,)."""
        shown = _numbers().get(("shows", cause, complaint))
        if shown is not None or complaint not in COMPUTED:
            return np.full(TUBS, 0.0 if shown is None else shown.value)
        if complaint == "turned-too-far":
            read = self.possible.judged(self.grams).ph[-1]
            return np.asarray(ndtr((float(read) - TOO_FAR - self.ph[1]) / FAR_SD))
        if not self._setting.bath.strengths:
            return np.zeros(TUBS)
        meant = self.unmoved or self
        tinted = _as_meant(self.tint, meant.tint, threshold("visible"))
        if complaint == "no-tint":
            return 1.0 - tinted
        return tinted * (1.0 - _as_meant(self.change, meant.change, threshold("change_obvious")))

    @cached_property
    def tint(self) -> Array:
        """CIEDE2000 of the tub before the pour from clear water, shape (tubs,)."""
        return np.asarray(delta_e(self.labs[:, 2], self.labs[:, 0]))

    @cached_property
    def change(self) -> Array:
        """CIEDE2000 of the pour, shape (tubs,)."""
        return np.asarray(delta_e(self.labs[:, 0], self.labs[:, 1]))

    def answers(self, test: str, cause: str) -> Array:
        """Chance of each answer to a test in each tub, shape (tubs, answers)."""
        if test in (*FIGURES, "pale"):
            slip, read = _number("slip", "any"), self._read(test)
            return np.asarray((1.0 - slip) * read + slip / read.shape[1])
        row = _numbers().get(("says", cause, test)) or _numbers()["says", "any", test]
        return np.tile([row.value, 1.0 - row.value], (TUBS, 1))

    def _read(self, test: str) -> Array:
        """Chance of each answer to a test that the engine computes, where nobody slips."""
        if test == "strip":
            ppm = alkalinity_in(np.asarray(self.truth.alkalinity_meq_l), "ppm")
            sd = alkalinity_in(reading_spread("alkalinity", "strip").sd_absolute, "ppm")
            return _between(np.asarray(ppm), PADS_PPM, float(sd))
        if test == "litres":
            counted = reading_spread("volume", "measured").sd_relative
            return _between(np.asarray(self.truth.volume) * np.ones(TUBS), VOLUMES, counted)
        if test == "ph":
            return _between(self.ph[1], ACIDITIES, reading_spread("ph", "meter").sd_absolute)
        pale = ndtr((PALE - np.log(np.asarray(self.truth.pigment) * np.ones(TUBS))) / PALE_SD)
        return np.column_stack([pale, 1.0 - pale])

    def outcome_of(self, test: str, answer: str) -> int:
        """Place of an answer among those to a test."""
        if test not in names_of_tests():
            accepted = ", ".join(names_of_tests())
            raise ValueError(say("trouble.test", {"value": repr(test), "accepted": accepted}))
        if test == "strip":
            meq_l = q.alkalinity_meq_l(answer, "strip")
            return int(np.searchsorted(PADS_PPM, float(alkalinity_in(meq_l, "ppm"))))
        if test == "litres":
            read = q.volume_l(answer, "litres") / water_l(self.inputs.tub)
            return int(np.searchsorted(VOLUMES, read))
        if test == "ph":
            return int(np.searchsorted(ACIDITIES, q.ph(answer, "ph")))
        plain = answer.strip().casefold()
        if plain not in (*YES, *NO):
            raise ValueError(say("trouble.answer", {"test": test, "value": repr(answer)}))
        return 0 if plain in YES else 1

    def separating(self, test: str, causes: Sequence[_Expected]) -> Separating:
        """How well a test tells the first two causes apart, and all of them, by their tubs."""
        answers = np.stack(
            [
                each.weights
                / max(float(each.weights.sum()), LEAST_WEIGHT)
                @ self.moved(each.cause).answers(test, each.cause)
                for each in causes
            ]
        )
        apart = answers[0] - answers[1]
        says, border = self._speaks(test, apart)
        shares = np.array([each.share for each in causes])
        told = _doubt(shares @ answers) - float(shares @ _doubt(answers))
        return Separating(test, float(0.5 * np.abs(apart).sum()), says, float(told), border)

    def _speaks(self, test: str, apart: Array) -> tuple[str, str]:
        """The answer that speaks for the first of two causes, and the border of a number."""
        if test not in FIGURES:
            return "yes" if apart[0] > 0 else "no", ""
        # Where the two differ most in how many of their readings lie below it.
        below = np.cumsum(apart)[:-1]
        at = int(np.abs(below).argmax())
        borders = {
            "strip": f"{PADS_PPM[at % len(PADS_PPM)]:g} ppm",
            "litres": f"{VOLUMES[at % len(VOLUMES)] * water_l(self.inputs.tub):.0f} L",
            "ph": f"pH {ACIDITIES[at % len(ACIDITIES)]:g}",
        }
        return "lower" if below[at] > 0 else "higher", borders[test]


def _as_meant(seen: Array, meant: Array, least: float) -> Array:
    """Chance that somebody takes a tint or a change for the one that was meant, shape of `seen`."""
    enough = max(least, LESS * float(np.median(meant)))
    return np.asarray(ndtr((seen - enough) / (LESS_SD * enough)))


def _between(values: Array, edges: Array, relative_or_sd: float) -> Array:
    """Chance that a reading of each value falls between edges, shape (values, edges + 1)."""
    below = ndtr((edges - values[:, None]) / relative_or_sd)
    whole = np.column_stack([np.zeros(len(values)), below, np.ones(len(values))])
    return np.diff(whole, axis=1)
