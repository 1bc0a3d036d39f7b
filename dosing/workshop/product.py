"""Answer on a product: composition, bath, layouts, preservative, limits and verdicts."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace

from dosing.bath.assembled import water_l
from dosing.bath.inputs import RecipeInputs, refuse_learnt
from dosing.bath.mixed import colour_at
from dosing.ingredients.powders import Blend, powder, scale_floor_g, scale_step
from dosing.plan.case import Case, case
from dosing.plan.cautions import (
    GIVEN,
    Caution,
    Situation,
    Verdict,
    Verdicts,
    bather_assumptions,
    caution_of,
    exit_code,
    heaviest_first,
)
from dosing.plan.choosing import chosen, given
from dosing.plan.levels import LEVELS
from dosing.plan.odds import named_odds
from dosing.plan.records import Sight, Wish
from dosing.plan.rules import judge, verdicts
from dosing.plan.telling import weighed
from dosing.workshop.composition import (
    NUMBERS,
    CompositionRow,
    Formula,
    composition_rows,
    label_list,
)
from dosing.workshop.layouts import ColourLayout, layouts
from dosing.workshop.materials import (
    PERCENT,
    materials_by_name,
    name_key,
    parts_of,
    substances,
)
from dosing.workshop.permissions import (
    FORMALDEHYDE_RULES,
    SubstanceLimit,
    formaldehyde_label_percent,
    substance_limits,
)
from dosing.workshop.preserving import (
    NONE,
    OUTSIDE,
    PH_UNREAD,
    TESTED,
    UNTESTED,
    Preserving,
    preservatives_at,
    preserving,
    salts_ph,
)
from dosing.workshop.product_file import ProductFile
from dosing.workshop.product_tables import ChallengeTest
from dosing.workshop.sachet_limit import most_in_bath_g
from indicator.appearance import delta_e
from indicator.notes import Note, Value
from indicator.optics import bottle_view
from indicator.tables import number_of, value_of
from indicator.words import threshold

FOAM_BATH = "foam bath"
"""Part of a product, and place for its colour."""
SCENTED = ("parfum",)
"""Substances that hold perfume allergens which their own name does not tell."""
ACID_SALT, JUICE, LYE = "potassium-bitartrate", "lemon-juice", "sodium-hydroxide"
CARBONATES = ("sodium-bicarbonate", "sodium-carbonate")
MG_PER_G = 1000.0
LEAST_SACHET_G = 0.05
"""Less than that is no sachet."""
LEAST_KEPT = 0.5
"""Share of the colour below which a shelf time is too long for it."""
BREW_PH_ASSUMED = "assume.bottle.infusion-ph"
G_PER_L = 1000.0
"""Of a brew."""


@dataclass(frozen=True)
class PhConflict:
    """A pH that keeps the bottle's colour but not its preservative."""

    ph: float
    """Of the bottle."""
    works_to_ph: float
    """Nearest pH at which one of its preservatives works."""
    here: Sight
    """Bottle at its pH."""
    there: Sight
    """Bottle at the pH of the preservative."""
    change_delta_e: float
    """CIEDE2000 between the two."""
    instead: tuple[str, ...]
    """Preservatives whose suppliers say that they work at this pH."""


@dataclass(frozen=True)
class MarketAnswer:
    """Verdicts and cautions of one market."""

    market: str
    verdicts: Verdicts
    cautions: tuple[Caution, ...]


@dataclass(frozen=True)
class ProductAnswer:
    """A product: its composition, bath, colour, preservative, limits and verdicts."""

    name: str
    edition: str | None
    purpose: str
    bathers: str
    """As judged."""
    dose_ml: float
    """Foam bath for one bath [mL]."""
    baths: int
    """That a bottle is for."""
    volume_l: float
    """Of the tub that the directions speak of [L]."""
    activator_g: float
    """For one bath [g]; where no sachet is said, the dose of the plan."""
    most_sachet_g: float
    """Most activator in one sachet, as the plan and other homes allow [g]; NaN without a sachet."""
    composition: tuple[CompositionRow, ...]
    """Of the foam bath, of the colour beside it and of the activator."""
    not_opened: tuple[str, ...]
    """Ingredients of which nobody has said what is in them."""
    active_matter_percent: float
    """Active surfactant in the foam bath [%]."""
    active_matter_mg_l: float
    """In the tub [mg/L]."""
    before: Sight
    """Tub without activator."""
    after: Sight
    """Tub with it."""
    change_delta_e: float
    """CIEDE2000 between the two."""
    commonest_word: str | None
    """Colour word that most tubs of these readings end in, where hardly any has that of `after`."""
    layouts: tuple[ColourLayout, ...]
    """Three places for the colour; none without a plant colour."""
    limits: tuple[SubstanceLimit, ...]
    preserving: Preserving
    """Of the foam bath."""
    brews: tuple[Preserving, ...]
    """Of brews in bottles of their own."""
    conflict: PhConflict | None
    """None where colour and preservative go together, or nothing is known of that."""
    by_market: tuple[MarketAnswer, ...]
    verdicts: Verdicts
    """The heaviest of all markets."""
    cautions: tuple[Caution, ...]
    """Of all markets, each once, the heaviest first."""
    assumptions: tuple[Note, ...]
    recipe: RecipeInputs = field(metadata={"working": "of one bath"})
    """The bath of one dose, for plans, sachets, cards and the book."""
    product: ProductFile = field(metadata={"working": "as it was read"})

    @property
    def best_layout(self) -> str:
        """The layout with the largest change of those that are seen; dry petals of equals."""
        # Of equal ones the last: dry petals need no preservative.
        seen = [each for each in reversed(self.layouts) if each.visible]
        return max(seen, key=lambda each: round(each.change_delta_e)).name if seen else ""

    @property
    def do_next(self) -> str:
        """The one thing to do next.

        ``"made-of"``, ``"one-container"``, ``"read-ph"``, ``"preserve"``, ``"ph-or-preservative"``,
        ``"less"`` (of a preservative), ``"colour"`` (there is none), ``"smaller"`` (a sachet),
        ``"layout"`` (the change is slight), ``"no-turn"`` (to the same colour word), ``"fades"``,
        ``"market"`` (one of several refuses it), ``"heavy"`` (see the heaviest caution),
        ``"challenge-test"`` or ``"assessment"``.
        """
        codes = {caution.code for caution in self.cautions}
        for code, step in _NEXT:
            if code in codes:
                return step
        if not self.product.formula.colours:
            return "colour"
        own = next((each for each in self.layouts if each.chosen), None)
        elsewhere = own is not None and self.best_layout not in ("", own.name)
        if own and elsewhere and own.change_delta_e < threshold("change_obvious"):
            return "layout"
        if str(self.before.colour.phrase) == str(self.after.colour.phrase):
            return "no-turn"
        if own and elsewhere and own.kept_share < LEAST_KEPT:
            return "fades"
        if not self.allowed:
            return "market" if self.open_markets else "heavy"
        return "challenge-test" if self.untested else "assessment"

    @property
    def shut_markets(self) -> tuple[str, ...]:
        """Markets in which it may not be used for its purpose."""
        return tuple(each for each in self.product.markets if each not in self.open_markets)

    @property
    def untested(self) -> bool:
        """Whether a bottle waits for its challenge test."""
        return any(each.state == UNTESTED for each in (self.preserving, *self.brews))

    @property
    def bottle_list(self) -> tuple[str, ...]:
        """Names on the label of the foam bath, in their order."""
        rows = (row for row in self.composition if row.part == FOAM_BATH)
        return label_list(rows, us=[each.market for each in self.by_market] == ["US"])

    @property
    def colour_in_bottle(self) -> bool:
        """Whether the foam bath holds a plant colour."""
        return any(each.chosen and each.name == FOAM_BATH for each in self.layouts)

    @property
    def currency(self) -> str:
        """Of its costs; empty without a price."""
        return "" if self.product.price is None else self.product.price.currency

    @property
    def open_markets(self) -> tuple[str, ...]:
        """Markets in which it may be used for its purpose."""
        every = self.by_market
        return tuple(each.market for each in every if each.verdicts.of(self.purpose).allowed)

    @property
    def allowed(self) -> bool:
        """Whether it may be used for its purpose."""
        return self.verdicts.of(self.purpose).allowed


_NEXT = (
    ("blend-unknown", "made-of"),
    ("one-container", "one-container"),
    ("carbonate-in-liquid", "heavy"),
    ("bottle-ph-corrosive", "heavy"),
    ("lye-in-liquid", "heavy"),
    ("preservative-ph-unread", "read-ph"),
    ("preservative-none", "preserve"),
    ("preservative-outside", "ph-or-preservative"),
    ("substance-limit", "less"),
    ("sachet-too-large", "smaller"),
)


def assess(product: ProductFile) -> ProductAnswer:
    """Composition, bath, colour, preservative, limits and verdicts of a product.

    Parameters
    ----------
    product : ProductFile
        As `dosing.workshop.load_product` gives it.

    Returns
    -------
    ProductAnswer

    Raises
    ------
    ValueError
        If it is given or sold, and its water was learnt at one home.
    """
    if product.purpose in GIVEN:
        refuse_learnt(product.recipe)
    formula, known = product.formula, case(product.recipe).asked(None, None, None)
    wish = Wish("dose", "") if product.activator_g else Wish.written(product.recipe.wish.target)
    choice = given(known, product.activator_g) if product.activator_g else chosen(known, wish)
    poured = weighed(known, wish, choice)
    before, after = poured.sights["before"], poured.sights["after"]
    odds = named_odds(choice.odds, known.possible, str(after.colour.word), choice.pouring)
    kept = [_tested(preserving(*liquid), product) for liquid in _liquids(product)]
    dosed = replace(product, sachet_g=choice.grams, sachets_per_bath=1)
    litres = float(known.setting.bath.volume_l)
    active = sum(formula.surfactants_percent().values())
    limits = tuple(
        limit
        for market in product.markets
        for part, of, _ in _liquids(product)
        for limit in substance_limits(part, of.substances_percent(), market)
    )
    most_g = most_in_bath_g(product) / product.sachets_per_bath if product.sachet_g else math.nan
    own = [*_own_cautions(dosed, kept), *_sachet_cautions(product, most_g)]
    markets = tuple(
        _of_market(dosed, poured.everywhere, own, kept, limits, market)
        for market in product.markets
    )
    return ProductAnswer(
        name=product.name,
        edition=product.edition,
        purpose=product.purpose,
        bathers=known.bathers,
        dose_ml=product.dose_ml,
        baths=product.baths,
        volume_l=water_l(product.recipe.tub),
        activator_g=choice.grams,
        most_sachet_g=most_g,
        composition=tuple(_composition(product, choice.grams, litres)),
        not_opened=formula.not_opened,
        active_matter_percent=active,
        active_matter_mg_l=active / PERCENT * product.dose_g * MG_PER_G / litres,
        before=before,
        after=after,
        change_delta_e=float(delta_e(before.colour.lab, after.colour.lab)),
        commonest_word=odds.commonest_word,
        layouts=layouts(dosed),
        limits=limits,
        preserving=kept[0],
        brews=tuple(kept[1:]),
        conflict=next((told for each in kept if (told := _conflict(product, known, each))), None),
        by_market=markets,
        verdicts=_heaviest([each.verdicts for each in markets]),
        cautions=_each_once(markets),
        assumptions=(
            *_assumed(product, known.setting.assumptions),
            *bather_assumptions(product.bathers, product.child_age_years),
        ),
        recipe=product.recipe,
        product=product,
    )


def _tested(kept: Preserving, product: ProductFile) -> Preserving:
    """What may work is tested once a challenge test of this edition, near its pH, was passed."""
    near = value_of(NUMBERS, "challenge_test_ph")
    counts = any(
        each.edition == product.edition and abs(each.ph - kept.ph) <= near + 1e-9
        for each in _tests_of(kept, product)
        if kept.ph is not None
    )
    return replace(kept, state=TESTED) if counts and kept.state == UNTESTED else kept


def _tests_of(kept: Preserving, product: ProductFile) -> list[ChallengeTest]:
    return [each for each in product.challenge_tests if name_key(each.of) == name_key(kept.part)]


def _assumed(product: ProductFile, of_bath: Sequence[Note]) -> list[Note]:
    """What the bath takes for granted, but for the pH of a brew that the file gives."""
    read = any(colour.ph is not None for colour in product.formula.colours)
    return [each for each in of_bath if not (read and each.code == BREW_PH_ASSUMED)]


def _of_market(
    product: ProductFile,
    situation: Situation,
    anywhere: Sequence[Caution],
    kept: Sequence[Preserving],
    limits: Sequence[SubstanceLimit],
    market: str,
) -> MarketAnswer:
    """Verdicts of a market: those of the bath, and those of the product around it."""
    wish = replace(situation.inputs.wish, market=market)
    there = replace(situation, inputs=replace(situation.inputs, wish=wish))
    own = heaviest_first(
        [
            *anywhere,
            *_limit_cautions(product, [each for each in limits if each.market == market]),
            *_market_cautions(product, kept, market),
        ]
    )
    bath, told = verdicts(there), judge(there)
    # Who is sold to is given it as well.
    sold = judge(there.meant_for("sale"))
    three = Verdicts(
        pour=_with(bath.pour, told, own, ("pour",)),
        give=_with(bath.give, sold, own, ("pour", "give")),
        sell=_with(bath.sell, sold, own, ("pour", "give", "sell")),
    )
    return MarketAnswer(market, three, heaviest_first([*told, *own]))


def _own_cautions(product: ProductFile, kept: Sequence[Preserving]) -> Iterator[Caution]:
    """Cautions on the bottles, whatever the market."""
    yield from _formula_cautions(product)
    for each in kept:
        yield from _preserving_cautions(each, product)


def _sachet_cautions(product: ProductFile, most_g: float) -> Iterator[Caution]:
    """More in a sachet than the plan allows; where no sachet fits, other cautions say why."""
    if product.sachet_g and LEAST_SACHET_G <= most_g < product.sachet_g:
        most = scale_floor_g(most_g, scale_step(most_g))
        yield caution_of("sachet-too-large", {"grams": product.sachet_g, "most": most})


def _with(
    verdict: Verdict, bath: Sequence[Caution], own: Sequence[Caution], about: Sequence[str]
) -> Verdict:
    """A bath's verdict with the product's own cautions; the heaviest of all gives its reason."""
    counted = [caution for caution in own if caution.about in about]
    allowed = verdict.allowed and exit_code(tuple(counted)) == 0
    first = next((each for each in bath if each.code == verdict.because), None)
    worst = max([*([] if first is None else [first]), *counted], key=_weight, default=None)
    before = (not verdict.allowed, LEVELS.index(verdict.level))
    if worst is None or worst is first or _weight(worst)[:2] < before:
        return replace(verdict, allowed=allowed)
    return Verdict(worst.level, allowed, worst.code)


def _weight(caution: Caution) -> tuple[bool, int, bool, bool]:
    """Of equal ones that is named which is about others, and of this product."""
    heavy = exit_code((caution,)) > 0
    return heavy, LEVELS.index(caution.level), caution.about != "pour", caution.special


def _heaviest(those: Sequence[Verdicts]) -> Verdicts:
    def worst(name: str) -> Verdict:
        each: list[Verdict] = [getattr(three, name) for three in those]
        return max(each, key=lambda one: (not one.allowed, LEVELS.index(one.level)))

    return Verdicts(worst("pour"), worst("give"), worst("sell"))


def _each_once(markets: Sequence[MarketAnswer]) -> tuple[Caution, ...]:
    told = {
        (caution.code, caution.message): caution for each in markets for caution in each.cautions
    }
    return heaviest_first(told.values())


def _formula_cautions(product: ProductFile) -> Iterator[Caution]:
    """Blends that nobody opened, what is wrong in a liquid, and what is above its usual level."""
    formula = product.formula
    if formula.not_opened:
        names = {"names": ", ".join(formula.not_opened)}
        for code in ("blend-unknown", "blend-unknown-given", "blend-unknown-sold"):
            yield caution_of(code, names)
    judged = [of for _, of, _ in _liquids(product)]
    own = dict.fromkeys(name for each in judged for name in each.not_judged)
    if own:
        yield caution_of("substance-not-judged", {"names": ", ".join(own)})
    for liquid in _liquids(product):
        yield from _liquid_cautions(product, *liquid)
    yield from _surfactant_cautions(product)
    usual_of = {each.name: each.use_level_percent for each in formula.materials}
    for name in dict.fromkeys(each.use for each in formula.ingredients):
        row, percent = materials_by_name().get(name), formula.share_percent(name)
        usual = usual_of.get(name) or (None if row is None else (0.0, row.use_high))
        if usual is not None and usual[1] is not None and percent > usual[1]:
            label = name if row is None else row.label
            values: dict[str, Value] = {"name": label, "percent": percent, "limit": usual[1]}
            yield caution_of("above-use-level", values)


def stops_in_bottles(product: ProductFile) -> tuple[Caution, ...]:
    """Cautions on what is in a product's bottles for which nobody may pour them."""
    told = [each for liquid in _liquids(product) for each in _liquid_cautions(product, *liquid)]
    return tuple(each for each in told if each.level == "stop")


def _liquid_cautions(
    product: ProductFile, part: str, formula: Formula, ph: float | None
) -> Iterator[Caution]:
    """Acid or soda in a bottle, and its pH: as read, and as its lye makes it."""
    shares, acid = formula.substances_percent(), _free_acid_percent(formula)
    most = value_of(NUMBERS, "most_acid_in_bottle")
    if acid > most or _poured_with_colour_g(product, part, acid) > _most_with_colour_g(product):
        yield caution_of("one-container", {"percent": acid, "part": part})
    if any(shares.get(each, 0.0) > 0 for each in CARBONATES) and (
        acid > 0 or ph is None or ph < value_of(NUMBERS, "carbonate_stays_ph")
    ):
        yield caution_of("carbonate-in-liquid", {"part": part})
    low, high = number_of(NUMBERS, "bottle_ph").ends
    ends = [value_of(NUMBERS, f"corrosive_ph_{side}") for side in ("acid", "alkaline")]
    lye_ph = salts_ph(shares) if LYE in shares else None
    if lye_ph is not None and lye_ph >= ends[1]:
        # Surfactants take up no lye, so a lower reading cannot be of this formula.
        yield caution_of("bottle-ph-corrosive", {"ph": lye_ph, "part": part}, text="lye-in-liquid")
    if ph is not None and not ends[0] < ph < ends[1]:
        yield caution_of("bottle-ph-corrosive", {"ph": ph, "part": part})
    elif ph is not None and not low <= ph <= high:
        values: dict[str, Value] = {"ph": ph, "part": part, "low": low, "high": high}
        yield caution_of("bottle-ph-unusual", values)


def _surfactant_cautions(product: ProductFile) -> Iterator[Caution]:
    """None in the bottle, or far too much in the tub."""
    percent = sum(product.formula.surfactants_percent().values())
    grams = percent / PERCENT * product.dose_g / water_l(product.recipe.tub)
    usual = value_of(NUMBERS, "most_active_matter")
    if grams > usual:
        yield caution_of("much-surfactant", {"grams": grams, "usual": usual})
    if percent == 0 and not product.formula.not_opened:
        yield caution_of("surfactant-none")


def _poured_with_colour_g(product: ProductFile, part: str, percent: float) -> float:
    """Acid that a colour's own bottle brings into a bath, which the plan does not count [g]."""
    at = [each.name for each in product.formula.colours].index(part) if part != FOAM_BATH else None
    litres = 0.0 if at is None else product.recipe.colours[at].volume_l
    return percent / PERCENT * litres * G_PER_L


def _most_with_colour_g(product: ProductFile) -> float:
    grams = math.inf if product.activator_g is None else product.activator_g
    return value_of(NUMBERS, "most_acid_with_colour") * grams


def _free_acid_percent(formula: Formula) -> float:
    """Acid that a formula holds besides its preservatives [%]; part of it a glucoside takes up."""
    adjusters = (name for name, row in substances().items() if row.function == "pH adjuster")
    shares = formula.substances_percent()
    acids = [name for name in adjusters if name.endswith("-acid") or name == ACID_SALT]
    juice = shares.get(JUICE, 0.0) * powder(JUICE).content
    return juice + sum(shares.get(name, 0.0) for name in acids)


def _liquids(product: ProductFile) -> Iterator[tuple[str, Formula, float | None]]:
    """Bottles of a product, each with what is in it and its pH: foam bath first."""
    formula = product.formula
    yield FOAM_BATH, formula, product.ph
    for colour in formula.colours:
        if product.layout == "own bottle" and formula.share_percent(colour.name) == 0:
            yield colour.name, formula.bottled(colour), colour.ph


def _preserving_cautions(kept: Preserving, product: ProductFile) -> Iterator[Caution]:
    formula, names = product.formula, ", ".join(each.label for each in kept.preservatives)
    colour = formula.colour_named(kept.part)
    if kept.state == NONE and colour is None and not formula.not_opened:
        yield caution_of("preservative-none")
    if kept.state == NONE and colour is not None and colour.preserved:
        yield caution_of("brew-preservative-unsaid", {"name": colour.name})
    if kept.state == PH_UNREAD:
        yield caution_of("preservative-ph-unread", {"name": names})
    if kept.state == OUTSIDE:
        low = min(each.works_low for each in kept.preservatives)
        high = max(each.works_high for each in kept.preservatives)
        of: dict[str, Value] = {"ph": kept.ph or 0.0, "name": names, "low": low, "high": high}
        yield caution_of("preservative-outside", of)
    if kept.state == UNTESTED:
        yield _untested(kept, product)
    active = sum(formula.surfactants_percent().values())
    if kept.preservatives and active > 0 and colour is None:
        low, high = PERCENT * kept.free_low, PERCENT * kept.free_high
        yield caution_of("preservative-bound", {"active": active, "low": low, "high": high})


def _untested(kept: Preserving, product: ProductFile) -> Caution:
    tests = _tests_of(kept, product)
    if not tests:
        return caution_of("preservative-untested")
    last = max(tests, key=lambda each: each.passed)
    values: dict[str, Value] = {"part": kept.part, "passed": last.passed, "of": last.edition}
    values |= {"test_ph": last.ph, "edition": product.edition or "–", "ph": kept.ph or 0.0}
    return caution_of("preservative-tested-other", values)


def _limit_cautions(product: ProductFile, limits: Sequence[SubstanceLimit]) -> Iterator[Caution]:
    age = product.child_age_years
    for limit in limits:
        values: dict[str, Value] = {
            "market": limit.market,
            "substance": substances()[limit.substance].inci.lower(),
            "percent": limit.percent,
            "limit": limit.limit_percent,
            "entry": limit.entry,
            "years": limit.not_under_years,
        }
        if not limit.kept:
            yield _of_limit("substance-limit", values, limit)
        if limit.not_under_years:
            child = product.bathers in (None, "child")
            young = child and (age is None or age < limit.not_under_years)
            code = "substance-age" if young else "substance-age-label"
            yield _of_limit(code, values, limit)


def _of_limit(code: str, values: Mapping[str, Value], limit: SubstanceLimit) -> Caution:
    return replace(caution_of(code, values), source=limit.source, confidence=limit.confidence)


def _market_cautions(
    product: ProductFile, kept: Sequence[Preserving], market: str
) -> Iterator[Caution]:
    most = formaldehyde_label_percent(market)
    percent = max(each.formaldehyde_percent for each in kept)
    if percent > most.value:
        words = "contains" if market == "UK" else "releases"
        values: dict[str, Value] = {"market": market, "percent": percent, "limit": most.value}
        code = f"formaldehyde-{'label' if market in FORMALDEHYDE_RULES else 'advised'}"
        yield caution_of("formaldehyde-label", values | {"words": words}, text=code, rests_on=most)
    if product.bathers in (None, "child"):
        yield caution_of("toy-question")
    scented = [each for each in SCENTED if each in product.formula.substances_percent()]
    if scented:
        names = ", ".join(substances()[each].inci for each in scented)
        code = f"perfume-allergens{'' if market == 'EU' else '-elsewhere'}"
        said: dict[str, Value] = {"names": names, "market": market}
        yield caution_of("perfume-allergens", said, text=code)
    yield caution_of("kit-one-product")


def _conflict(product: ProductFile, known: Case, kept: Preserving) -> PhConflict | None:
    """What the bottle would look like where its preservative works."""
    held, inside = known.setting.bottle, product.layout == FOAM_BATH
    coloured = inside == (kept.part == FOAM_BATH)
    if kept.state != OUTSIDE or kept.ph is None or held is None or not coloured:
        return None
    ends = [end for each in kept.preservatives for end in (each.works_low, each.works_high)]
    there = min(ends, key=lambda end: abs(end - (kept.ph or 0.0)))
    view = bottle_view(light=product.recipe.wish.light)
    sights = [
        Sight("bottle", ph, colour_at(held.strengths, ph, view, held.surfactants_g_l))
        for ph in (kept.ph, there)
    ]
    return PhConflict(
        ph=kept.ph,
        works_to_ph=there,
        here=sights[0],
        there=sights[1],
        change_delta_e=float(delta_e(*(each.colour.lab for each in sights))),
        instead=tuple(row.name for row in preservatives_at(kept.ph)),
    )


def _as_plant(row: CompositionRow) -> CompositionRow:
    """Petals that are steeped at the tub: the plant itself, whose extract alone gets there."""
    names = [name.removesuffix(" Extract") for name in (row.inci, row.inci_us)]
    dissolved = row.mg_per_l * value_of(NUMBERS, "extract_of_petals")
    return replace(row, inci=names[0], inci_us=names[1], mg_per_l=dissolved)


def _composition(product: ProductFile, grams: float, litres: float) -> Iterator[CompositionRow]:
    """Rows of the foam bath, of the colour beside it and of the activator."""
    formula = product.formula
    yield from composition_rows(
        FOAM_BATH,
        formula.substances_percent(),
        product.dose_g * MG_PER_G / litres,
        formula.own_substances,
    )
    of_bath = {each.colourant: each for each in product.recipe.colours}
    for colour in formula.colours:
        own = of_bath.get(colour.colourant)
        if own is not None and formula.share_percent(colour.name) == 0:
            dry = own.amount_unit == "g"
            shares = formula.bottled(colour).substances_percent()
            shares = {colour.colourant.family: PERCENT} if dry else shares
            mass_g = own.amount if dry else own.volume_l * G_PER_L
            in_tub = mass_g * MG_PER_G / litres
            rows = composition_rows(colour.name, shares, in_tub, formula.own_substances)
            steeped = product.layout == "dry sachet" and colour.colourant.kind == "pigment"
            yield from map(_as_plant, rows) if steeped else rows
    parts = Blend(product.recipe.activator.parts).parts
    powders: dict[str, float] = {}
    for name, share in parts.items():
        for substance, percent in parts_of(name).items():
            powders[substance] = powders.get(substance, 0.0) + share * percent
    yield from composition_rows("activator", powders, grams * MG_PER_G / litres)
