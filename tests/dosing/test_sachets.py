"""Sachets: shares of homes against a loop over single tubs, and rules against what they promise."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import cache

import numpy as np
import pytest
from numpy.typing import NDArray

from dosing.bath.assembled import Setting, Truth, assemble
from dosing.bath.inputs import ActivatorInputs, RecipeInputs, WishInputs
from dosing.bath.mixed import SolvedBath, surfactant_pka
from dosing.bath.spreads import relative_spreads
from dosing.ingredients.hardness_units import alkalinity_meq_l
from dosing.ingredients.water import WaterReadings
from dosing.plan.answer import preview
from dosing.plan.households import DOES_NOT_TURN, TOO_SOUR, TURNS, in_tub, verdict
from dosing.plan.levels import LEVELS, bath_level, gate_level
from dosing.plan.odds import possible_labs
from dosing.plan.records import Sight, Wish
from dosing.recipe import demo_recipe
from dosing.sachets.answer import SachetAnswer, sachet_answer
from dosing.sachets.counting import size_shares
from dosing.sachets.home_doses import HomeDoses, Limit, Population, filled, home_doses, limit_of
from dosing.sachets.populations import Homes, draw_homes
from dosing.sachets.rules import Way, read_pads, strip_pads
from dosing.sachets.turning import PIGMENTS, Turning, _has_word, turning_table
from indicator.absorbance import mixture_absorbance
from indicator.appearance import SeenColour, delta_e, seen
from indicator.spread import SEED, draws_of, height_sd
from indicator.words import Wish as IndicatorWish
from indicator.words import matches_word, parse_target, threshold

Array = NDArray[np.float64]


@cache
def soak(bathers: str, target: str | None) -> RecipeInputs:
    inputs = demo_recipe("1")
    return replace(inputs, wish=WishInputs(bathers=bathers, target=target))


@cache
def answer(bathers: str, target: str | None, population: str) -> SachetAnswer:
    return sachet_answer(soak(bathers, target), draw_homes(population, 3000), powders=())


def way_of(found: SachetAnswer, kind: str) -> Way:
    return next(way for way in found.ways if way.kind == kind)


def table_of(inputs: RecipeInputs, inside: Population, wish: IndicatorWish | None) -> Turning:
    return turning_table(inputs, wish, inside.bath.ph, inside.homes.volume_l)


def pours(
    inputs: RecipeInputs, homes: Homes, volume: Array, grams: float
) -> Iterator[tuple[Setting, SolvedBath, SolvedBath]]:
    """Each home solved for itself, before and after, with no table and no batch."""
    for home in range(homes.count):
        water = WaterReadings(
            alkalinity_meq_l=float(homes.alkalinity_meq_l[home]),
            hardness_mmol_l=float(homes.hardness_mmol_l[home]),
            ph=float(homes.ph[home]),
        )
        alone = in_tub(replace(inputs, water=water), float(volume[home]))
        own = Truth(warmer_c=float(homes.warmer_c[home]), gas_lost=float(homes.gas_lost[home]))
        setting = assemble(alone, own)
        after = setting.bath.with_activator(grams, setting.per_gram)
        yield setting, setting.bath.solve(), after.solve()


@dataclass(frozen=True)
class Pigments:
    """Butterfly pea as it may be: strength over the usual, constants and heights of its forms."""

    strength: Array
    pka: Array
    heights: Array

    def seen(self, setting: Setting, ph: Array) -> SeenColour:
        """Colours of one tub, one for each pigment."""
        ((which, usual),) = setting.bath.strengths.items()
        moved = surfactant_pka([which], setting.bath.surfactants_g_l).get(which, which.pka)
        pka = self.pka + moved - which.pka
        strengths = {which: usual * self.strength}
        absorbance = mixture_absorbance(
            strengths, np.full(len(pka), ph), {which: pka}, {which: self.heights}
        )
        return seen(absorbance, setting.view)


def drawn_pigments(inputs: RecipeInputs, random: np.random.Generator, count: int) -> Pigments:
    """Drawn here, one by one, from the spreads that its tables tell."""
    (colour,) = inputs.colours
    which, forms = colour.colourant, len(colour.colourant.forms)
    sd = np.array([form.pka_sd or 0.0 for form in which.forms])
    sigma = np.sqrt(np.log1p(relative_spreads(inputs)[2] ** 2))
    return Pigments(
        np.exp(sigma * random.standard_normal(count)),
        which.pka + sd * random.standard_normal((count, forms)),
        np.exp(height_sd(which) * random.standard_normal((count, forms))),
    )


def table_pigments(inputs: RecipeInputs) -> Pigments:
    """Those of the table, in its order."""
    (colour,) = inputs.colours
    drawn = draws_of(colour.colourant, PIGMENTS, SEED)
    sigma = np.sqrt(np.log1p(relative_spreads(inputs)[2] ** 2))
    normal = np.random.default_rng(SEED - 1).standard_normal(PIGMENTS)
    return Pigments(np.exp(sigma * normal), drawn.pka, drawn.heights)


@pytest.mark.slow
@pytest.mark.parametrize(
    ("bathers", "word", "population", "grams", "count"),
    [
        ("adult", None, "denmark", 32.0, 500),
        ("child", None, "mixed", 12.0, 200),
        ("adult", "blue", "mixed", 24.0, 200),
    ],
)
def test_shares_are_those_of_a_loop_over_single_tubs(
    bathers: str, word: str | None, population: str, grams: float, count: int
) -> None:
    inputs, homes = soak(bathers, word), draw_homes(population, count)
    inside, pigments = filled(inputs, homes), table_pigments(inputs)
    target = None if word is None else parse_target(word)
    doses = home_doses(inside, table_of(inputs, inside, target), limit_of(inputs))
    shares = size_shares(doses, grams)
    wished = Wish("none", "") if word is None else Wish("word", word, word=word)
    found = []
    each = pours(inputs, homes, inside.homes.volume_l, grams)
    for home, (setting, before, after) in enumerate(each):
        at = slice(home % PIGMENTS, home % PIGMENTS + 1)
        own = Pigments(pigments.strength[at], pigments.pka[at], pigments.heights[at])
        start, end = (own.seen(setting, solved.ph) for solved in (before, after))
        reserve = float(after.bath.acid_reserve_meq_l())
        level = LEVELS[int(bath_level(after.ph, reserve, bathers))]
        change = float(delta_e(start.lab, end.lab)[0])
        found.append(verdict(Sight("after", float(after.ph), end), change, level, wished, "mind"))
    assert 0.1 < shares.turns_share < 0.9
    assert shares.turns_share == pytest.approx(found.count(TURNS) / count, abs=0.01)
    assert shares.past_limit_share == pytest.approx(found.count(TOO_SOUR) / count, abs=0.01)
    assert shares.does_not_turn_share == pytest.approx(found.count(DOES_NOT_TURN) / count, abs=0.01)


@pytest.mark.slow
@pytest.mark.parametrize(
    ("bathers", "population", "grams"), [("nobody", "denmark", 40.0), ("adult", "mixed", 16.0)]
)
def test_shares_are_those_of_pigments_drawn_for_themselves(
    bathers: str, population: str, grams: float
) -> None:
    inputs, random = soak(bathers, None), np.random.default_rng(1)
    inside = filled(inputs, draw_homes(population, 5000))
    shares = size_shares(
        home_doses(inside, table_of(inputs, inside, None), limit_of(inputs)), grams
    )
    homes, turned = draw_homes(population, 300), []
    for setting, before, after in pours(inputs, homes, homes.volume_l, grams):
        pigments = drawn_pigments(inputs, random, 50)
        labs = [pigments.seen(setting, solved.ph).lab for solved in (before, after)]
        reserve = float(after.bath.acid_reserve_meq_l())
        kept = bath_level(after.ph, reserve, bathers) <= LEVELS.index("mind")
        turned.append(np.mean(kept & (delta_e(*labs) >= threshold("change_obvious"))))
    # Three standard errors: of 300 evenly spread homes, and of the table's 251 pigments.
    assert shares.turns_share == pytest.approx(np.mean(turned), abs=0.04)


@pytest.mark.parametrize(("bathers", "limit"), [("adult", 4.5), ("child", 5.0)])
def test_the_limit_is_where_the_gates_begin(bathers: str, limit: float) -> None:
    # 5.0: Guidelines for Canadian Recreational Water Quality 2012; 4.5: a US state agency's note.
    assert limit_of(soak(bathers, None)).ph == limit
    assert gate_level(limit, bathers) <= LEVELS.index("mind") < gate_level(limit - 0.01, bathers)
    assert limit_of(soak("nobody", None)) == Limit(0.0, np.inf)


def test_shares_are_those_counted_by_hand() -> None:
    # Ten grams: one home turns, one needs more, one has turned on past it, one is too sour, and one
    # that is too sour has turned on as well.
    turns, passed, limit = [5.0, 12.0, 2.0, 5.0, 2.0], [20.0, 20.0, 8.0, 20.0, 8.0], [30.0] * 5
    limit[3:] = [9.0, 9.0]
    doses = HomeDoses(*map(np.array, ([8.0] * 5, turns, passed, limit, turns)))
    shares = size_shares(doses, 10.0)
    assert (shares.turns_share, shares.past_limit_share) == pytest.approx((0.2, 0.4))
    assert shares.does_not_turn_share == pytest.approx(0.4)


@pytest.mark.slow
def test_grams_to_the_limit_and_to_the_turn_give_these_ph() -> None:
    inputs, homes = soak("adult", "5.4"), draw_homes("denmark", 300)
    inside = filled(inputs, homes)
    table = table_of(inputs, inside, parse_target("5.4"))
    doses = home_doses(inside, table, Limit(4.5, np.inf))
    np.testing.assert_allclose(inside.after(doses.turns_g).ph, 5.4, atol=1e-6)
    np.testing.assert_allclose(inside.after(doses.limit_g).ph, 4.5, atol=1e-6)
    for grams in (10.0, 25.0):
        final_ph = inside.after(grams).ph
        np.testing.assert_array_equal(final_ph < 4.5, grams > doses.limit_g)
        np.testing.assert_array_equal(final_ph <= 5.4, grams >= doses.turns_g)


@pytest.mark.slow
def test_shares_add_up_and_more_powder_is_never_less_sour() -> None:
    doses = answer("adult", None, "denmark").survey.doses
    past = []
    for grams in (0.0, 5.0, 20.0, 60.0, 400.0):
        shares = size_shares(doses, grams)
        assert (
            shares.turns_share + shares.does_not_turn_share + shares.past_limit_share
            == pytest.approx(1.0)
        )
        past.append(shares.past_limit_share)
    assert past == sorted(past)
    assert past[0] == 0.0
    assert past[-1] == 1.0


@pytest.mark.slow
@pytest.mark.parametrize(
    # In the soft water of Japan hardly a home turns obviously within the limit.
    ("population", "target"),
    [("denmark", None), ("mixed", None), ("japan", "5.6")],
)
def test_the_single_size_is_the_best_of_all_that_keep_the_limit(
    population: str, target: str | None
) -> None:
    found = answer("adult", target, population)
    assert found.single is not None
    assert found.single.shares.past_limit_share <= found.most_past_share
    step = 1.0 if found.single.grams >= 5 else 0.1
    others = np.arange(step, 60.0, step)
    served = [size_shares(found.survey.doses, grams) for grams in others]
    best = max(one.turns_share for one in served if one.past_limit_share <= found.most_past_share)
    # Sizes are tried a few per cent apart.
    assert found.single.shares.turns_share >= best - 0.02


@pytest.mark.slow
def test_a_strip_rule_serves_more_than_one_size_and_keeps_the_limit() -> None:
    found = answer("adult", None, "denmark")
    pads = read_pads(found.survey.in_homes.homes)
    for rule in (way_of(found, "count"), way_of(found, "sizes")):
        assert rule.shares.past_limit_share <= found.most_past_share
        assert rule.shares.turns_share > way_of(found, "one").shares.turns_share
        grams = [pad.grams for pad in rule.pads]
        assert grams == sorted(grams)
        # What the customers really pour, with their misread strips.
        poured = np.asarray(grams)[pads]
        assert size_shares(found.survey.doses, poured) == rule.shares
        np.testing.assert_array_equal(found.survey.poured(rule), poured)
    count = way_of(found, "count")
    numbers = np.array([pad.grams for pad in count.pads]) / count.sizes_g[0]
    np.testing.assert_allclose(numbers, np.round(numbers))
    assert numbers.max() <= 3


@pytest.mark.slow
def test_a_rule_says_nothing_is_for_waters_softer_than_its_homes() -> None:
    # Danish waters are hard: hardly anyone there reads the first steps of a strip, but whoever
    # holds a sachet may live in softer water, where the same grams would be far too sour.
    homes = draw_homes("denmark", 4000)
    found = sachet_answer(soak("adult", "6.0"), homes, powders=())
    read, limits = read_pads(found.survey.in_homes.homes), found.survey.doses.limit_g
    # By the colour some pour two, of what stands for one.
    rules = [way for way in found.ways if way.kind != "colour"]
    assert rules
    for rule in rules:
        grams = [pad.grams for pad in rule.pads]
        assert grams[0] == 0.0
        assert grams == sorted(grams)
        for step, dose in enumerate(grams):
            if dose > 0.0 and (read == step).any():
                assert np.mean(dose > limits[read == step]) <= 0.05
        assert set(rule.sizes_g) <= set(grams) or rule.kind == "count"
        assert size_shares(found.survey.doses, np.asarray(grams)[read]) == rule.shares


@pytest.mark.slow
def test_misread_strips_are_in_the_shares() -> None:
    homes = draw_homes("denmark", 3000)
    exact = sachet_answer(
        soak("adult", None), replace(homes, strip_error=np.zeros(3000)), powders=()
    )
    assert (
        way_of(exact, "count").shares.turns_share
        > way_of(answer("adult", None, "denmark"), "count").shares.turns_share
    )
    read = strip_pads()[read_pads(replace(homes, strip_error=np.zeros(3000)))]
    true = homes.alkalinity_meq_l * 50.04
    # Half the widest step of the strip, except beyond its last pad.
    assert np.all(np.abs(read - true)[true < 240.0] <= 30.0 + 1e-6)


@pytest.mark.slow
def test_those_without_a_reading_pour_one_more_at_most() -> None:
    found = answer("adult", None, "denmark")
    rule = way_of(found, "colour")
    (sachet_g,) = rule.sizes_g
    assert rule.shares.past_limit_share <= found.most_past_share
    poured = found.survey.poured(rule)
    assert size_shares(found.survey.doses, poured) == rule.shares
    assert set(poured) <= {0.0, sachet_g, 2 * sachet_g}
    # Who pours one says that it has turned; whoever pours another saw no turn.
    once, twice = poured == sachet_g, poured == 2 * sachet_g
    assert np.all(found.survey.doses.look_g[once] <= sachet_g)
    assert np.all(found.survey.doses.look_g[twice] > sachet_g)
    # One more is for those whom one does not serve; nothing, where the label says so.
    only = np.where(poured > 0.0, sachet_g, 0.0)
    assert rule.shares.turns_share > size_shares(found.survey.doses, only).turns_share
    read = strip_pads()[read_pads(found.survey.in_homes.homes)]
    np.testing.assert_array_equal(poured == 0.0, read < rule.from_ppm)


@pytest.mark.slow
@pytest.mark.parametrize("population", ["denmark", "mixed", "norway-1991", "japan"])
@pytest.mark.parametrize("bathers", ["adult", "child"])
def test_what_is_recommended_serves_the_share_or_is_the_best_of_some_worth(
    population: str, bathers: str
) -> None:
    found = answer(bathers, None, population)
    served = {way.kind: way.shares.turns_share for way in found.ways}
    assert all(way.shares.past_limit_share <= found.most_past_share for way in found.ways)
    best = max(served.values(), default=0.0)
    if best >= found.wished_share:
        first = next(kind for kind, turns in served.items() if turns >= found.wished_share)
        assert found.recommended == first
        assert found.served
    elif best >= 0.5:
        assert served[found.recommended] == best
        assert found.best_way is not None
        assert found.recommended == found.best_way.kind
    else:
        assert found.recommended == "none"
    assert found.served == (best >= found.wished_share)


@pytest.mark.slow
def test_no_sachet_is_offered_that_nobody_can_fill() -> None:
    found = answer("child", None, "norway-1991")
    sizes = [one.grams for one in found.sizes]
    sizes += [grams for way in found.ways for grams in way.sizes_g]
    assert min(sizes) >= 1.0


@pytest.mark.slow
def test_wished_share_and_what_it_would_cost() -> None:
    found = answer("nobody", None, "denmark")
    assert found.reaching is not None
    assert found.reaching.shares.turns_share >= 0.8
    smaller = size_shares(found.survey.doses, found.reaching.grams - 2.0)
    assert smaller.turns_share < 0.8
    assert found.reaching.shares.past_limit_share == 0.0
    sour = answer("child", None, "denmark")
    assert not sour.served
    assert sour.reaching is not None
    assert sour.reaching.shares.past_limit_share > sour.most_past_share


@pytest.mark.slow
def test_own_sizes_past_the_limit_are_no_success() -> None:
    found = sachet_answer(
        soak("child", None), draw_homes("denmark", 2000), sizes_g=(10.0, 40.0), powders=()
    )
    assert [one.grams for one in found.sizes] == [10.0, 40.0]
    assert [one.grams for one in found.over_the_limit] == [40.0]
    assert not found.reached
    assert not answer("child", None, "denmark").over_the_limit


def test_a_foot_bath_keeps_its_own_water() -> None:
    inputs = demo_recipe("4")
    own_l = float(assemble(inputs).bath.volume_l)
    inside = filled(inputs, draw_homes("denmark", 500))
    if own_l < 40.0:
        assert np.median(inside.homes.volume_l) == pytest.approx(own_l, rel=0.05)
    else:
        assert np.median(inside.homes.volume_l) == pytest.approx(120.0, rel=0.05)


@pytest.mark.parametrize(
    ("changes", "match"),
    [
        ({"wished_share": 1.2}, "wished share"),
        ({"most_sachets": 4}, "sachets is 4"),
        ({"sizes_g": (-1.0,)}, "no mass"),
    ],
)
def test_bad_numbers_are_refused(changes: dict[str, object], match: str) -> None:
    with pytest.raises(ValueError, match=match):
        sachet_answer(soak("adult", "5.4"), draw_homes("denmark", 50), **changes)  # type: ignore[arg-type]  # free keywords


@pytest.mark.slow
def test_what_cannot_turn_is_refused() -> None:
    homes = draw_homes("denmark", 50)
    bare = replace(soak("adult", None), colours=())
    with pytest.raises(ValueError, match="no colour"):
        sachet_answer(bare, homes)
    soda = replace(soak("adult", None), activator=ActivatorInputs({"sodium-bicarbonate": 1.0}))
    with pytest.raises(ValueError, match="does not lower"):
        sachet_answer(soda, homes)
    with pytest.raises(ValueError, match="before any sachet"):
        sachet_answer(soak("adult", "blue"), homes)


def planned(inputs: RecipeInputs, ppm: float, volume_l: float, grams: float) -> bool:
    """Whether the plan of a home lets it pour so much: strip and eye as its recipe names them."""
    water = WaterReadings(float(alkalinity_meq_l(ppm, "mg_l_caco3")), instrument="strip")
    own = in_tub(replace(inputs, water=water), volume_l)
    by_eye = replace(own, tub=replace(own.tub, volume_measured=False))
    return preview(by_eye, grams).verdicts.pour.allowed


def told_doses(found: SachetAnswer) -> Iterator[tuple[RecipeInputs, float, float]]:
    """All that labels tell a home to pour: the recipe, the step of its strip and the grams."""
    inputs = found.survey.inputs
    for way in found.ways:
        times = 2.0 if way.kind == "colour" else 1.0
        yield from ((inputs, pad.mg_l_caco3, times * pad.grams) for pad in way.pads)
    for blend in found.blends:
        activator = replace(inputs.activator, parts=dict(blend.parts))
        steps = strip_pads()[strip_pads() >= blend.from_ppm].tolist()
        yield from ((replace(inputs, activator=activator), step, blend.grams) for step in steps)


@pytest.mark.slow
def test_the_softest_step_of_a_strip_pours_nothing_that_a_plan_forbids() -> None:
    inputs = soak("child", None)
    found = sachet_answer(inputs, draw_homes("mixed", 500), powders=())
    assert found.ways
    assert all(way.pads[0].grams == 0.0 and way.from_ppm > 0.0 for way in found.ways)
    softest = min(
        (pad.mg_l_caco3, pad.grams) for way in found.ways for pad in way.pads if pad.grams
    )
    assert planned(inputs, softest[0], found.tubs_l.low, softest[1])
    assert not planned(inputs, 0.0, found.tubs_l.low, softest[1])


@pytest.mark.slow
@pytest.mark.parametrize("bathers", ["adult", "child"])
@pytest.mark.parametrize("recipe", ["1", "3", "5"])
def test_no_label_tells_a_home_to_pour_what_its_plan_forbids(recipe: str, bathers: str) -> None:
    inputs = demo_recipe(recipe)
    wish = WishInputs(bathers=bathers, target="6.0")
    found = sachet_answer(replace(inputs, wish=wish), draw_homes("mixed", 2000))
    told = list(told_doses(found))
    assert len({grams for _, _, grams in told if grams}) > 3
    for own, ppm, grams in told:
        assert grams == 0.0 or planned(own, ppm, found.tubs_l.low, grams), (ppm, grams)


def test_ends_that_are_not_named_one_by_one_have_the_word_of_their_neighbours() -> None:
    inputs = replace(soak("adult", None), wish=WishInputs(bathers="adult"))
    ends = np.arange(9.0, 2.95, -0.1)
    for count in (len(ends), len(ends) - 1):
        labs = possible_labs(inputs, assemble(inputs), ends[:count], 60)
        for word in ("blue", "purple"):
            named = matches_word(labs, word)
            assert 0.01 < named.mean() < 0.99
            # Only a run of one end, between two others that agree, may be missed.
            assert np.mean(_has_word(labs, word) != named) < 0.005
