"""Complaints of makers whose cause is planted, in worlds that the ranking of causes does not know.

The sizes of effects are even between ends of their own, the waters are those of Danish homes as
published or a made-up softer population, the makers' own errors are drawn per maker, and gas leaves
that nobody counts. A maker says what happened and up to two odd things that were noticed; where
there are fewer, does a test that `trouble` names: two observations. Then comes the one test that is
named after these.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from makers import tables, water_of

from dosing.bath.assembled import Setting, Truth, assemble
from dosing.bath.inputs import RecipeInputs
from dosing.recipe import recipe_from
from dosing.workshop.trouble import TroubleAnswer, trouble
from indicator.appearance import delta_e
from indicator.spread import drawn_labs

SEED, OBSERVATIONS = 20264, 2
AIMED_PH = 5.2
PADS_PPM = np.array([0.0, 40.0, 80.0, 120.0, 180.0, 240.0])
PPM_PER_MEQ_L = 50.04
MISREAD = 0.03
COMPUTED = {
    "stayed-blue": ("alkalinity-higher", "softened-water", "larger-tub", "weak-powder"),
    "no-tint": ("weak-brew", "old-brew", "larger-tub"),
    "turned-too-far": ("alkalinity-lower", "smaller-tub", "too-much-powder"),
}
OTHERS = {
    "stayed-blue": ("metals", "lamp"),
    "no-tint": ("chlorine",),
    "grey": ("metals", "old-brew", "lamp", "chalk"),
    "cloudy": ("chalk", "oil", "conditioner", "undissolved"),
    "no-foam": ("hard-water", "oil", "conditioner", "foam-late", "little-foam-bath"),
    "stung": ("not-stirred", "too-much-powder", "broken-skin", "sensitive-skin", "hot-water"),
    "faded": ("chlorine", "light", "alkaline-water", "old-brew"),
    "clumped": ("damp", "warm-store", "carbonate-in-pack"),
}
EFFECTS = {
    "alkalinity-higher": ("alkalinity_meq_l", 1.3, 3.0),
    "softened-water": ("alkalinity_meq_l", 1.5, 4.0),
    "alkalinity-lower": ("alkalinity_meq_l", 0.3, 0.8),
    "larger-tub": ("volume", 1.2, 1.9),
    "smaller-tub": ("volume", 0.45, 0.85),
    "weak-powder": ("purity", 0.3, 0.8),
    "too-much-powder": ("purity", 1.25, 2.2),
    "weak-brew": ("pigment", 0.1, 0.5),
    "old-brew": ("pigment", 0.1, 0.6),
}
TELLS = {
    "turns-in-glass": ("alkalinity-higher", "softened-water", "larger-tub", "weak-powder"),
    "daylight": ("lamp",),
    "still-water": (
        *("metals", "chlorine", "chalk", "hard-water", "alkaline-water"),
        *("alkalinity-higher", "softened-water"),
    ),
    "lumpy": ("weak-powder", "damp", "carbonate-in-pack"),
    "softener": ("softened-water",),
    "chlorine-smell": ("chlorine",),
    "rust": ("metals",),
    "brown": ("old-brew",),
    "oil-used": ("oil",),
    "conditioner-used": ("conditioner",),
    "white-settles": ("chalk",),
    "grains": ("undissolved",),
    "after-filling": ("foam-late",),
    "more-foam-bath": ("little-foam-bath",),
    "sun": ("light",),
    "in-one-place": ("not-stirred",),
    "shaved": ("broken-skin",),
    "still-red": ("sensitive-skin",),
    "hot": ("hot-water",),
    "stood-open": ("damp",),
    "stood-warm": ("warm-store",),
    "fizzes": ("carbonate-in-pack",),
    "scale-off": ("too-much-powder",),
}
"""Causes of which a test tells, as a chemist would say: the makers' answers to it."""
SIGNS = (
    *("lumpy", "softener", "chlorine-smell", "rust", "brown", "oil-used", "conditioner-used"),
    *("grains", "after-filling", "sun", "in-one-place", "shaved", "hot", "stood-open"),
    *("stood-warm", "daylight"),
)
"""Tests whose answer somebody may know without doing anything."""
NOTICED, COINCIDENCE = (0.65, 1.0), (0.0, 0.2)
"""How often a maker answers yes where the cause is there, and where it is not: even between."""
WORDS = {
    "stayed-blue": ("it stayed blue", "the colour did not turn", "nothing happened at all"),
    "no-tint": ("there is hardly any colour", "the water is colourless", "too pale"),
    "grey": ("it went grey", "a muddy tub", "dull and dirty"),
    "cloudy": ("the water is cloudy", "milky water", "it got hazy"),
    "no-foam": ("no foam", "hardly any bubbles", "the foam vanished"),
    "stung": ("it stung", "my skin is burning", "it itched"),
    "faded": ("the colour faded", "it lost its colour", "bleached in a day"),
    "clumped": ("the powder clumped", "it caked", "lumps in the sachet"),
    "turned-too-far": ("it turned too far", "too pink", "went straight to red"),
}


@dataclass(frozen=True)
class Complaint:
    """One complaint: its world, and how its maker answers."""

    complaint: str
    cause: str
    words: str
    inputs: RecipeInputs
    grams: float
    truth: Mapping[str, float]
    """Alkalinity [meq/L]; volume and pigment over the recipe's."""
    noticed: float
    coincidence: float
    random: np.random.Generator

    def answer(self, test: str) -> str:
        """The maker's answer to a test."""
        if test == "strip":
            ppm = self.truth["alkalinity_meq_l"] * PPM_PER_MEQ_L + self.random.normal(0.0, 15.0)
            pad = int(np.abs(ppm - PADS_PPM).argmin())
            if self.random.random() < MISREAD:
                pad = int(np.clip(pad + self.random.choice([-1, 1]), 0, len(PADS_PPM) - 1))
            return f"{PADS_PPM[pad]:g} ppm"
        if test == "litres":
            counted = self.truth["volume"] * self.random.uniform(0.93, 1.07)
            return f"{counted * float(self.inputs.tub.volume_l or 0.0):.0f} L"
        if test == "pale":
            paler = self.truth["pigment"] < self.random.uniform(0.5, 0.9)
            return "yes" if paler != (self.random.random() < 0.1) else "no"
        chance = self.noticed if self.cause in TELLS[test] else self.coincidence
        return "yes" if self.random.random() < chance else "no"

    def struck(self) -> dict[str, str]:
        """Up to two odd things that the maker noticed, of what has to do with this."""
        plausible = {*COMPUTED.get(self.complaint, ()), *OTHERS.get(self.complaint, ())}
        signs = [sign for sign in SIGNS if plausible & set(TELLS[sign])]
        order = [str(sign) for sign in self.random.permutation(signs)]
        noticed = [sign for sign in order if self.answer(sign) == "yes"]
        return dict.fromkeys(noticed[:OBSERVATIONS], "yes")

    def rankings(self) -> list[TroubleAnswer]:
        """Ranking after what happened and two observations, and after the test that is then named.

        The observations are what struck the maker; where that is less, tests as they are named.
        """
        seen, found = self.struck(), []
        while True:
            ranked = trouble(self.words, self.inputs, seen, self.grams)
            if len(seen) >= OBSERVATIONS or ranked.test is None:
                found.append(ranked)
            if ranked.test is None or len(seen) > OBSERVATIONS:
                return [found[0], found[-1]]
            seen = {**seen, ranked.test.name: self.answer(ranked.test.name)}


def complaint(number: int) -> Complaint:
    """One complaint, of a seed of its own."""
    random = np.random.default_rng((SEED, number))
    kind = str(random.choice(list(WORDS)))
    cause = str(random.choice([*COMPUTED.get(kind, ()), *OTHERS.get(kind, ())]))
    while True:
        inputs, truth = _home(random)
        grams = _aim(inputs)
        if not np.isfinite(grams) or grams <= 0:
            continue
        if cause in EFFECTS:
            what, low, high = EFFECTS[cause]
            truth = replace(truth, **{what: getattr(truth, what) * random.uniform(low, high)})
        if cause not in COMPUTED.get(kind, ()) or _complained(kind, inputs, truth, grams, random):
            break
    told: dict[str, Any] = {name: float(getattr(truth, name)) for name in _TRUE}
    return Complaint(
        complaint=kind,
        cause=cause,
        words=str(random.choice(WORDS[kind])),
        inputs=inputs,
        grams=grams,
        truth=told,
        noticed=random.uniform(*NOTICED),
        coincidence=random.uniform(*COINCIDENCE),
        random=random,
    )


_TRUE = ("alkalinity_meq_l", "volume", "pigment")


def _home(random: np.random.Generator) -> tuple[RecipeInputs, Truth]:
    """A recipe by strip and eye, and what is true where nothing goes wrong."""
    alkalinity, hardness, ph = water_of(int(random.integers(2)), random)
    pad = int(np.abs(alkalinity * PPM_PER_MEQ_L + random.normal(0, 12) - PADS_PPM).argmin())
    row = {
        "strip_ppm": f"{PADS_PPM[pad]:g}",
        "volume_l": f"{10 * random.integers(8, 17)}",
        "volume_measured": "yes" if random.random() < 0.5 else "",
    }
    truth = Truth(
        alkalinity_meq_l=alkalinity,
        volume=random.triangular(0.8, 1.0, 1.25),
        purity=random.uniform(0.96, 1.0) * np.exp(random.normal(0, 0.04)),
        pigment=np.exp(random.uniform(-0.35, 0.35)),
        tap_ph=ph - 7.6,
        gas_lost=random.uniform(0.1, 0.95),
        hardness=2 * hardness / alkalinity * random.uniform(0.8, 1.2),
    )
    return recipe_from(tables(row, pigment=str(random.choice(PIGMENTS)))), truth


PIGMENTS = ("butterfly-pea", "butterfly-pea", "red-cabbage")


def _aim(inputs: RecipeInputs) -> float:
    setting = assemble(inputs)
    return float(np.round(setting.bath.grams_for_ph(AIMED_PH, setting.per_gram)[0]))


def _complained(
    kind: str, inputs: RecipeInputs, truth: Truth, grams: float, random: np.random.Generator
) -> bool:
    """Whether this maker, with limits of their own, would complain of that."""
    meant, came = (_seen(assemble(inputs, one), grams, random) for one in (None, truth))
    share = random.uniform(0.35, 0.7)
    if kind == "turned-too-far":
        return bool(came["ph"] < meant["ph"] - random.uniform(0.3, 0.9))
    if kind == "no-tint":
        return bool(came["tint"] < share * meant["tint"])
    return bool(came["change"] < share * meant["change"] and came["tint"] > 8.0)


def _seen(setting: Setting, grams: float, random: np.random.Generator) -> dict[str, float]:
    """Tint and change of a tub, with gas that nobody counts and another pigment."""
    poured = grams * random.uniform(0.95, 1.05)
    bath = setting.bath.with_activator(poured, setting.per_gram)
    carbon = bath.totals["C"] * random.uniform(0.85, 1.0)
    later = replace(bath, totals={**bath.totals, "C": carbon})
    strengths = {which: float(value) for which, value in setting.bath.strengths.items()}
    ph = np.array([float(setting.bath.ph), float(later.ph)])
    draw = int(random.integers(0, 200))
    before, after = drawn_labs(strengths, ph, setting.view)[draw]
    clear = drawn_labs(dict.fromkeys(strengths, 0.0), ph[:1], setting.view)[draw][0]
    return {
        "ph": float(later.ph),
        "tint": float(delta_e(clear, before)),
        "change": float(delta_e(before, after)),
    }
