"""The answer on a product: composition, colour, preservative, limits and verdicts."""

from __future__ import annotations

import copy
import csv
import json
import re
import tomllib
from collections.abc import Callable
from dataclasses import replace
from datetime import date
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from dosing.equilibrium import solve
from dosing.ingredients.powders import scale_floor_g
from dosing.plan.cautions import exit_code
from dosing.plan.rules import permissions
from dosing.recipe.quantities import InputError
from dosing.words.marks import plain
from dosing.words.templates import render
from dosing.workshop import ProductAnswer, assess, demo_product
from dosing.workshop.batch import BatchAsked, batch
from dosing.workshop.composition import CompositionRow, Formula, Ingredient, label_list
from dosing.workshop.maker_sheets import papers
from dosing.workshop.materials import materials_by_name, parts_of, substances
from dosing.workshop.permissions import substance_limits
from dosing.workshop.preserving import (
    acid_factor,
    formaldehyde_percent,
    free_share,
    preservatives_at,
    preserving,
    unionised_share,
)
from dosing.workshop.product_file import DEMOS, ProductFile, demo_product_text, product_from
from indicator.pigments import SHIPPED
from indicator.tables import read_text

Run = Callable[..., tuple[int, str, str]]
REFERENCE = Path(__file__).parents[1] / "reference"
ANSWER_LINES = 20


def rows(name: str) -> list[dict[str, str]]:
    """Rows of a reference file."""
    lines = (REFERENCE / name).read_text(encoding="utf-8").splitlines()
    return list(csv.DictReader(line for line in lines if not line.startswith("#")))


@cache
def answered(name: str) -> ProductAnswer:
    return assess(demo_product(name))


def product(name: str, *changes: tuple[str, Any]) -> ProductFile:
    """A demo product with some of its keys changed; None takes a key away."""
    tables: Any = copy.deepcopy(tomllib.loads(read_text(f"demo/products/{name}.toml")))
    for where, value in changes:
        place, (*path, last) = tables, where.split(".")
        for step in path:
            place = place[int(step)] if step.isdigit() else place[step]
        key: Any = int(last) if last.isdigit() else last
        if value is None:
            del place[key]
        elif key == len(place):
            place.append(value)
        else:
            place[key] = value
    return product_from(tables)


def changed(name: str, *changes: tuple[str, Any]) -> ProductAnswer:
    """Answer on a demo product with some of its keys changed."""
    return assess(product(name, *changes))


def codes(answer: ProductAnswer) -> set[str]:
    return {caution.code for caution in answer.cautions}


# What the outside world says.


@pytest.mark.parametrize(
    "row",
    rows("workshop_preservatives.csv"),
    ids=lambda row: "-".join(list(row.values())[:3]),
)
def test_preservatives_are_as_published(row: dict[str, str]) -> None:
    of, total = row["substance"], float(row["total_percent"] or 1.0)
    if row["what"].startswith("unionised"):
        value = total * float(unionised_share(of, float(row["ph"])))
    elif row["what"] == "formaldehyde_percent":
        value = formaldehyde_percent({of: total})
    else:
        value = acid_factor(*of.split(":"))
    assert value == pytest.approx(float(row["expected"]), abs=float(row["tolerance"]))


@pytest.mark.parametrize("row", rows("workshop_annex5.csv"), ids=lambda row: row["substance"])
def test_limits_are_those_of_annex_5(row: dict[str, str]) -> None:
    for market in ("EU", "UK"):
        (limit,) = substance_limits("foam bath", {row["substance"]: 1.0}, market)
        assert limit.limit_percent == float(row["limit_percent"])
        assert limit.substance == row["as_substance"]
        assert limit.not_under_years == float(row["not_under_years"])
        assert limit.entry == f"Annex V/{row['entry']}"
    assert substances()[row["substance"]].cas == row["cas"]


@pytest.mark.parametrize("row", rows("workshop_annex4.csv"), ids=lambda row: row["colourant"])
def test_colours_are_permitted_as_annex_4_has_them(row: dict[str, str]) -> None:
    listed = {market: kind for market, kind, *_ in permissions(row["colourant"])}
    # A colour that is listed for all products; of a plant only its pure anthocyanins are.
    assert listed["EU"] == ("unclear" if row["entry"] == "149" else "yes")
    if row["inci"]:
        assert substances()[row["colourant"]].inci == row["inci"]


def test_bound_preservative_is_one_plus_surfactant_times_its_constant() -> None:
    # J. Soc. Cosmet. Chem. 23:714 (1972): R = S C + 1, straight in the surfactant.
    surfactant = np.array([0.0, 2.0, 4.0, 8.0])
    ratio = 1.0 / free_share(0.5, surfactant)
    np.testing.assert_allclose(ratio, [1.0, 2.0, 3.0, 5.0])


def test_registry_numbers_have_the_right_check_digit() -> None:
    # CAS: the last digit is the sum of the others, each times its place from the right, modulo 10.
    for row in substances().values():
        digits = [int(digit) for digit in row.cas.replace("-", "")]
        if digits:
            *body, check = digits
            places = range(len(body), 0, -1)
            assert sum(map(int.__mul__, body, places)) % 10 == check, row.name


def test_a_list_of_ingredients_is_in_the_order_of_the_rules() -> None:
    # 21 CFR 701.3(f) and Article 19: falling order above 1 %, colours behind all others.
    listed = [
        ("CI 19140", "colour", 2.0),
        ("Aqua", "solvent", 60.0),
        ("Glycerin", "humectant", 3.0),
        ("Decyl Glucoside", "surfactant", 12.0),
        ("Sodium Benzoate", "preservative", 0.4),
    ]
    made = [
        CompositionRow("foam bath", inci, inci, f"US {inci}", "", function, percent, 0.0)
        for inci, function, percent in listed
    ]
    assert label_list(made) == (
        "Aqua",
        "Decyl Glucoside",
        "Glycerin",
        "Sodium Benzoate",
        "CI 19140",
    )
    assert label_list(made, us=True)[0] == "US Aqua"


@pytest.mark.slow
def test_sixty_millilitres_with_45_percent_brew_are_too_little() -> None:
    # 27 mL of a 2 % brew in 120 L: a change of about 5 where a clear one is 10.
    foam, own, dry = answered("green").layouts
    assert foam.amount == pytest.approx(0.45 * 61.8)
    assert 4.0 < foam.change_delta_e < 7.0
    assert own.change_delta_e > 1.5 * foam.change_delta_e
    assert dry.petals_g == pytest.approx(own.petals_g)
    assert answered("green").do_next == "layout"
    # Where no brew stands in the formula yet, its water (60 % of 61.8 g) is the room for it.
    assert answered("soak").layouts[0].amount == pytest.approx(0.60 * 61.8)


# What goes together.


@pytest.mark.slow
def test_salt_lowers_the_active_part_of_an_acid() -> None:
    # At one pH salt lowers the activity of the ion, so that more of the acid is ion (Debye, 1923).
    shares = unionised_share("benzoate", 5.0, np.array([0.0, 0.05, 0.3]))
    assert (np.diff(shares) < 0).all()
    for acid in answered("basin").preserving.acids:
        assert acid.unionised_share < acid.quoted_share
    salted = product("soak", ("ingredient.4.use", "table-salt"), ("ingredient.4.share", "12 %"))
    assert answered("soak").preserving.in_range
    assert not preserving("foam bath", salted.formula, salted.ph).in_range


def test_the_bottle_is_solved_at_its_own_pH() -> None:
    kept = answered("basin").preserving
    salts = {"cation": kept.ionic_strength, "anion": kept.ionic_strength}
    alone = solve({"benzoate": 1e-6, **salts}, ph=kept.ph)
    benzoic = next(each for each in kept.acids if each.acid == "benzoic-acid")
    share = float(alone.molality["HBenz"]) / 1e-6
    assert benzoic.unionised_share == pytest.approx(share, rel=0.02)
    assert benzoic.unionised_percent == pytest.approx(benzoic.percent * benzoic.unionised_share)


@pytest.mark.slow
@pytest.mark.parametrize("name", DEMOS)
def test_what_is_in_a_bottle_comes_to_all_of_it(name: str) -> None:
    for part in {row.part for row in answered(name).composition}:
        shares = [row.percent for row in answered(name).composition if row.part == part]
        assert sum(shares) == pytest.approx(100.0)


def test_an_infusion_is_water_and_what_the_petals_gave() -> None:
    # 3 g in 100 mL, of which 0.4 g a gram dissolve (our guess), in 98.8 % of the bottle.
    rows = {row.substance: row for row in answered("basin").composition if "brew" in row.part}
    assert rows["red-cabbage"].percent == pytest.approx(3.0 * 0.4 * 0.988)


def test_what_neutralises_an_acid_is_part_of_the_ionic_strength() -> None:
    lines = (Ingredient(1, "water", 99.0, None), Ingredient(1, "benzoic-acid", 1.0, None))
    kept = preserving("foam bath", Formula(lines, (), ()), 6.5)
    # 1 g in 99 g of water is 0.0827 mol/kg (122.12 g/mol), two above its pK nearly all of it ion.
    assert kept.ionic_strength == pytest.approx(10.0 / 0.99 / 122.12, rel=0.01)


def test_milligrams_in_the_tub_are_those_of_a_dose() -> None:
    answer = answered("soak")
    (acid,) = (
        row for row in answer.composition if row.part == "activator" and row.cas == "77-92-9"
    )
    # 10 g of citric acid in 120 L and 0.56 L of brew and foam bath.
    assert acid.mg_per_l == pytest.approx(1e4 / 120.56, rel=1e-3)
    active = sum(row.mg_per_l for row in answer.composition if row.function == "surfactant")
    assert answer.active_matter_mg_l == pytest.approx(active)


def test_the_recipe_of_a_product_is_the_bath_of_one_dose() -> None:
    inputs = answered("soak").recipe
    assert inputs.foam_bath is not None
    assert inputs.foam_bath.amount_ml == pytest.approx(60.0)
    assert inputs.card.sachet_g == 20.0
    assert inputs.card.edition == "2"


def test_a_substance_by_its_own_name_is_itself() -> None:
    # Of a name that is both, the material as bought is meant.
    for name in substances().keys() - materials_by_name().keys():
        made = product("green", ("ingredient.3.use", name), ("ingredient.3.share", "0.1 %"))
        shares = made.formula.substances_percent()
        assert shares[name] >= 0.1 - 1e-9
        assert sum(shares.values()) == pytest.approx(100.0)


def test_every_preservative_is_known_with_the_ph_it_works_at() -> None:
    for name, row in substances().items():
        if row.function == "preservative":
            assert (materials_by_name()[name].works_high or 0.0) > 0.0


def test_every_material_is_opened_into_substances_that_are_known() -> None:
    for row in materials_by_name().values():
        parts = parts_of(row.name)
        assert parts
        assert set(parts) <= set(substances())
        assert sum(parts.values()) == pytest.approx(100.0)


# What is never let through.


@pytest.mark.parametrize("name", DEMOS)
def test_no_preservative_is_called_good_before_a_test(name: str) -> None:
    answer = answered(name)
    assert answer.preserving.state == "untested"
    assert "preservative-untested" in codes(answer)
    for each in answer.by_market:
        assert each.verdicts.give.level != "ok"
        assert each.verdicts.sell.level != "ok"


@pytest.mark.slow
def test_a_blend_without_made_of_is_never_ok() -> None:
    answer = changed("green", ("material.0.made_of", None))
    assert answer.not_opened == ("mild-blend",)
    assert answer.verdicts.pour.level != "ok"
    assert not answer.verdicts.give.allowed
    assert not answer.verdicts.sell.allowed
    assert answer.do_next == "made-of"


def with_preservative(use: str, share: str, *more: tuple[str, Any]) -> ProductAnswer:
    """The green demo with another preservative."""
    return changed("green", ("ingredient.3.use", use), ("ingredient.3.share", share), *more)


@pytest.mark.slow
def test_too_much_of_a_preservative_is_a_stop_in_every_market() -> None:
    # 1.2 % of the blend would be 1.08 % of phenoxyethanol.
    answer = with_preservative("phenoxyethanol-ethylhexylglycerin", "1.2 %")
    assert {limit.market for limit in answer.limits if not limit.kept} == {"EU", "US"}
    assert answer.verdicts.sell.because == "substance-limit"
    assert not answer.verdicts.give.allowed
    less = product("green", ("ingredient.3.share", "1.1 %")).formula.substances_percent()
    assert all(limit.kept for limit in substance_limits("foam bath", less, "EU"))


def test_salts_of_one_acid_are_summed() -> None:
    both = {"sodium-benzoate": 2.0, "benzoic-acid": 1.0}
    (limit,) = substance_limits("foam bath", both, "EU")
    assert limit.percent == pytest.approx(1.0 + 2.0 * 0.8475, abs=1e-3)
    assert not limit.kept


@pytest.mark.slow
def test_salicylic_acid_is_not_for_the_youngest() -> None:
    more = (("bathers", "child"), ("child_age", "2 years"))
    use = ("benzyl-alcohol-salicylic-sorbic", "0.8 %")
    young = with_preservative(*use, *more)
    assert "substance-age" in codes(young)
    assert not young.verdicts.pour.allowed
    assert "substance-age-label" in codes(with_preservative(*use))


@pytest.mark.slow
def test_a_releaser_needs_its_warning() -> None:
    # 0.1 % gives 0.043 %: above the EU's 0.001 % (Regulation 2022/1181), below Britain's 0.05 %.
    answer = with_preservative("diazolidinyl-urea", "0.1 %", ("markets", ["EU", "UK"]))
    told = {
        each.market: [c.message for c in each.cautions if c.code == "formaldehyde-label"]
        for each in answer.by_market
    }
    assert told["UK"] == []
    assert '"releases formaldehyde"' in told["EU"][0]
    more = with_preservative("diazolidinyl-urea", "0.2 %", ("markets", ["UK"]))
    (words,) = (c.message for c in more.cautions if c.code == "formaldehyde-label")
    assert '"contains formaldehyde"' in words


def test_a_rule_of_the_eu_is_no_law_elsewhere() -> None:
    # 21 CFR has no such rule; Great Britain keeps 0.05 % of the older Annex V.
    markets = {
        each.market: each.cautions
        for each in with_preservative(
            "diazolidinyl-urea", "0.2 %", ("markets", ["EU", "UK", "US"])
        ).by_market
    }
    told = {
        market: next(each for each in cautions if each.code.startswith("formaldehyde-"))
        for market, cautions in markets.items()
    }
    assert "2022/1181" in told["EU"].source
    assert "Annex V" in told["UK"].source
    assert "2022/1181" not in told["UK"].source
    assert told["US"].confidence == "DESIGN"
    assert "must" not in told["US"].message


@pytest.mark.slow
def test_a_colour_is_as_sure_as_its_own_row() -> None:
    # FD&C Blue No. 1 is 21 CFR 74.2101 in cosmetics, Yellow No. 5 is 74.2705.
    blue = product("green", ("dye.0.dye", "brilliant-blue"), ("purpose", "sale"))
    told = {
        each.market: next(c for c in each.cautions if c.code.startswith("colour-"))
        for each in assess(replace(blue, markets=("US", "UK"))).by_market
    }
    assert told["UK"].confidence == "MEMORY"
    certified = next(
        c
        for each in assess(replace(blue, markets=("US",))).by_market
        for c in each.cautions
        if c.code == "colour-certified"
    )
    assert "74.2101" in certified.source
    assert "74.2705" not in certified.source


def test_water_without_a_preservative_is_not_given_away() -> None:
    answer = changed("soak", ("ingredient.6.use", "glycerin"))
    assert answer.preserving.state == "none"
    assert answer.verdicts.give.because == "preservative-none"
    assert answer.verdicts.pour.allowed
    assert exit_code(answer.cautions) == 3


@pytest.mark.slow
def test_an_unread_ph_is_not_judged() -> None:
    answer = changed("green", ("bottle.ph", None))
    assert answer.preserving.state == "ph-unread"
    assert not answer.verdicts.give.allowed
    assert all(np.isnan(acid.unionised_share) for acid in answer.preserving.acids)
    assert answer.do_next == "read-ph"


@pytest.mark.slow
def test_a_ph_that_keeps_the_colour_but_not_the_preservative_has_ways_out() -> None:
    answer = with_preservative("sodium benzoate with potassium sorbate", "1.2 %")
    conflict = answer.conflict
    assert conflict is not None
    assert answer.verdicts.give.because == "preservative-outside"
    assert conflict.ph == 6.3
    assert conflict.works_to_ph == 5.5
    for name in conflict.instead:
        row = materials_by_name()[name]
        assert (row.works_low or 0.0) <= 6.3 <= (row.works_high or 0.0)
        assert formaldehyde_percent(parts_of(name)) == 0.0
    assert conflict.instead[0] in {row.name for row in preservatives_at(6.3)}
    ways_out = with_preservative(conflict.instead[0], "1.0 %")
    assert ways_out.conflict is None
    assert ways_out.preserving.state == "untested"


@pytest.mark.slow
def test_acid_with_carbonate_in_one_pack_is_a_stop() -> None:
    parts = {"citric-acid-anhydrous": 2, "sodium-bicarbonate": 1}
    for purpose in ("gift", "sale"):
        answer = changed("soak", ("activator.parts", parts), ("purpose", purpose))
        assert "bicarbonate-sold" in codes(answer)
        assert not answer.allowed


def test_acid_in_the_bottle_is_one_container_too_many() -> None:
    answer = changed("soak", ("ingredient.1.share", "10 %"))
    assert "one-container" in codes(answer)
    assert not answer.verdicts.pour.allowed
    assert answer.do_next == "one-container"


BENZOATE = {"benzoate-sorbate": "1.2 %"}
LYE = "sodium-hydroxide-10"


@pytest.mark.slow
@pytest.mark.parametrize(
    ("name", "change", "code"),
    [
        ("basin", ("brew.0.added", BENZOATE | {"citric-acid-anhydrous": "60 %"}), "one-container"),
        # 30 mL with 1 % holds 0.3 g beside the 1.4 g of the sachet.
        ("basin", ("brew.0.added", BENZOATE | {"citric-acid-anhydrous": "1 %"}), "one-container"),
        ("basin", ("brew.0.added", BENZOATE | {"lemon-juice": "50 %"}), "one-container"),
        # 9 % of NaOH: pH 14; CLP Annex I 3.2.3.1.2 has 11.5 and above as corrosive.
        ("basin", ("brew.0.added", BENZOATE | {LYE: "90 %"}), "lye-in-liquid"),
        ("basin", ("brew.0.ph", 2.0), "bottle-ph-corrosive"),
        ("soak", ("ingredient.1.use", LYE), "lye-in-liquid"),
        ("soak", ("ingredient.5.use", "sodium-bicarbonate"), "carbonate-in-liquid"),
        (
            "basin",
            ("brew.0.added", BENZOATE | {"sodium-bicarbonate": "2 %"}),
            "carbonate-in-liquid",
        ),
    ],
)
def test_what_is_wrong_in_any_bottle_is_a_stop(
    name: str, change: tuple[str, Any], code: str
) -> None:
    answer = changed(name, change)
    assert code in codes(answer)
    assert not answer.allowed
    assert not answer.verdicts.pour.allowed
    sheet = batch(answer, BatchAsked(kits=1))
    assert not sheet.weighings
    made = papers(answer, 1, date(2026, 12, 1))
    assert not made.sold
    assert not any(paper.name.startswith("label") for paper in made.sheets)


@pytest.mark.slow
def test_no_plan_is_made_of_bottles_that_may_not_be_poured(huedose: Run, tmp_path: Path) -> None:
    file = tmp_path / "sour.toml"
    text = read_text("demo/products/basin.toml")
    file.write_text(text.replace("ph = 5.0", "ph = 2.0"), encoding="utf-8")
    for command in ("plan", "sachet", "soak"):
        code, out, err = huedose(command, file)
        assert (code, out) == (3, ""), command
        assert "pH 2.0 in the bottle of cabbage-brew is corrosive" in " ".join(err.split())
    board = tmp_path / "board.html"
    code, _, _ = huedose("card", file, "--board", board)
    assert code == 3
    assert not board.exists()


def test_a_little_acid_that_lets_a_brew_s_preservative_work_is_no_activator() -> None:
    little = BENZOATE | {"citric-acid-anhydrous": "0.2 %"}
    assert changed("basin", ("brew.0.added", little)).allowed


def test_far_too_much_surfactant_is_a_stop_and_none_is_told() -> None:
    # 20 L for one bath of 120 L hold some 14 %: 24 g/L.
    much = changed("soak", ("bottle.fill", "20 L"), ("bottle.baths", 1))
    assert "much-surfactant" in codes(much)
    assert not much.verdicts.pour.allowed
    none = changed("soak", ("ingredient.2.use", "glycerin"), ("ingredient.3.use", "glycerin"))
    assert "surfactant-none" in codes(none)
    assert not {"much-surfactant", "surfactant-none"} & codes(answered("soak"))


@pytest.mark.parametrize(
    ("name", "change", "sentence"),
    [
        (
            "green",
            ("material.0.name", "citric acid solution 50"),
            "the name of something that the tables know",
        ),
        ("basin", ("brew.0.name", "lemon juice"), "the name of something that the tables know"),
        ("soak", ("price.loss", "100 %"), "price.loss is 100 %; accepted is less than 50 %"),
        ("soak", ("price.fee", "100 %"), "price.fee is 100 %; accepted is less than 100 %"),
        ("soak", ("bottle.fill", "0 mL"), "it must be more than 0"),
        ("soak", ("markets", "EU"), 'markets is EU; write ["EU"]'),
    ],
)
def test_what_cannot_be_is_refused_by_its_own_name(
    name: str, change: tuple[str, Any], sentence: str
) -> None:
    with pytest.raises(InputError) as refused:
        product(name, change)
    assert sentence in str(refused.value).replace("'", "").replace('is "EU"', "is EU")


def test_what_smells_is_asked_for_its_allergens() -> None:
    # Benzyl alcohol is itself on the EU's list (Annex III, entry 45), and its name says so.
    assert not any(code.startswith("perfume-allergens") for code in codes(answered("soak")))
    scented = changed("soak", ("ingredient.4.use", "parfum"))
    told = {
        each.market: [c.message for c in each.cautions if c.code.startswith("perfume-allergens")]
        for each in scented.by_market
    }
    assert told["EU"][0].startswith("Parfum may hold allergens that a label in the EU must name")
    assert " EU " not in told["UK"][0]


def test_a_toy_is_asked_about_for_children_alone() -> None:
    assert "toy-question" in codes(answered("basin"))
    assert "toy-question" not in codes(answered("soak"))


def test_a_colour_that_a_market_does_not_list_is_not_sold_there() -> None:
    sold = changed("green", ("purpose", "sale"))
    by_market = {each.market: each.verdicts.sell for each in sold.by_market}
    assert by_market["US"].because == "colour-unlisted-sale"
    assert by_market["EU"].allowed
    assert not sold.allowed
    assert answered("green").allowed


@pytest.mark.slow
def test_a_caustic_bottle_is_a_stop() -> None:
    assert "bottle-ph-corrosive" in codes(changed("soak", ("bottle.ph", 11.8)))
    assert "bottle-ph-unusual" in codes(changed("soak", ("bottle.ph", 7.6)))


@pytest.mark.slow
def test_what_is_above_its_usual_level_is_told() -> None:
    usual = changed("green", ("material.0.use_level", "5 to 20 %"))
    assert "above-use-level" in codes(usual)
    assert "above-use-level" not in codes(answered("green"))


def test_every_preservative_that_is_an_acid_has_its_active_part() -> None:
    kinds = ("preservative", "booster")
    held = [name for name, row in substances().items() if row.function in kinds]
    # A hydroxamic acid is none: it works uncharged up to pH 8.
    acids = {name for name in held if name.endswith("-acid")} - {"caprylhydroxamic-acid"}
    for use in sorted(acids):
        made = product("green", ("ingredient.3.use", use), ("ingredient.3.share", "0.1 %"))
        (acid,) = preserving("foam bath", made.formula, 5.0).acids
        assert acid.acid == use
        assert 0.0 < acid.unionised_share < acid.quoted_share < 1.0


@pytest.mark.slow
def test_a_brew_in_its_own_bottle_is_judged_with_what_preserves_it() -> None:
    (brew,) = answered("basin").brews
    assert (brew.part, brew.state, brew.ph) == ("cabbage-brew", "untested", 5.0)
    assert {limit.part for limit in answered("basin").limits} == {"foam bath", "cabbage-brew"}
    outside = changed("basin", ("brew.0.ph", 6.8))
    assert outside.verdicts.give.because == "preservative-outside"
    assert outside.conflict is not None
    assert outside.conflict.works_to_ph == 5.5
    unsaid = changed("basin", ("brew.0.added", {}), ("brew.0.preserved", True))
    assert not unsaid.verdicts.give.allowed
    assert "brew-preservative-unsaid" in codes(unsaid)
    bare = changed("basin", ("brew.0.added", {}))
    assert bare.verdicts.give.because == "unpreserved-given"


# What is to be done next.


def next_of(answer: ProductAnswer) -> str:
    """The step that is told; without a word that says which tub it is about."""
    text = plain(render("product", answer=answer, more=False, cautions=False), width=80)
    told = " ".join(text.split("NEXT: ")[1].split())
    return re.split(r" ! | More: ", told)[0]


@pytest.mark.parametrize(
    ("parts", "milder"),
    [(None, ""), ({"citric-acid": 1}, ", or as much trisodium citrate as acid in it")],
)
def test_a_sachet_too_large_is_told_with_the_largest_that_is_not(
    parts: dict[str, int] | None, milder: str
) -> None:
    blend = [] if parts is None else [("activator.parts", parts), ("activator.lots", {})]
    answer = changed("soak", ("activator.sachet", "200 g"), *blend)
    most_g = scale_floor_g(answer.most_sachet_g, 1.0)
    assert next_of(answer) == f"at most {most_g:.0f} g in one sachet{milder}; then ask again."
    # Answer, papers and weigh sheet have the same limit.
    assert not answer.verdicts.give.allowed
    assert "sachet-too-large" in codes(answer)
    assert f"at most {most_g:.0f} g" in plain(
        render("batch", sheet=batch(answer, BatchAsked(kits=1)), more=False), width=200
    )


@pytest.mark.slow
def test_what_is_told_next_mends_what_is_wrong() -> None:
    no_colour = changed("soak", ("brew", []))
    assert no_colour.do_next == "colour"
    assert "a [[brew]] or a [[dye]]" in next_of(no_colour)
    still = changed("soak", ("activator.sachet", "1 g"))
    assert str(still.before.colour.phrase) == str(still.after.colour.phrase)
    assert next_of(still).endswith("huedose design START END FILE")
    refused = changed("basin", ("markets", ["EU", "US"]))
    assert next_of(refused).startswith("leave US out of markets")


def grey_soak() -> ProductFile:
    """The demo with a colour that goes through violet, but mostly ends grey."""
    content = demo_product_text("soak").replace("red-cabbage", "purple-sweet-potato")
    content = content.replace('amount = "10 g"', 'amount = "12 g"')
    return product_from(tomllib.loads(content), SHIPPED)


@pytest.mark.slow
def test_the_headline_says_what_most_tubs_end_as() -> None:
    text = plain(
        render("product", answer=assess(grey_soak()), more=False, cautions=False), width=80
    )
    assert "\nBlue -> violet here, most often grey (pH 7.5 -> 5.8): a clear change.\n" in text


# How it is said.


@pytest.mark.parametrize("name", DEMOS)
def test_a_product_is_said_in_a_few_lines(name: str) -> None:
    text = plain(render("product", answer=answered(name), more=False, cautions=False))
    lines = text.rstrip().splitlines()
    assert len(lines) <= ANSWER_LINES, text
    assert max(map(len, lines)) <= 80
    # A share is no number where the published rates leave it open.
    for layout in answered(name).layouts:
        if layout.kept_low < 0.004 and layout.kept_share > 0.2:
            assert f" 0 to {100 * layout.kept_high:.0f} % left" in " ".join(lines)
    assert "mL to preserve" not in text
    assert text.count("; preserve all ") == 3
    if answered(name).preserving.acids:
        assert " acid preserves (trade tables: " in " ".join(text.split())
    assert lines[1].startswith("Pour it:")
    assert sum(line[:2] in ("* ", "- ") for line in lines) == 3


@pytest.mark.slow
def test_every_branch_of_a_product_is_rendered(branches_missed: Callable[..., list[str]]) -> None:
    answers = [
        *map(answered, DEMOS),
        changed("green", ("material.0.made_of", None)),
        changed("green", ("bottle.ph", None)),
        with_preservative("sodium benzoate with potassium sorbate", "1.2 %"),
        with_preservative(
            "benzoate-sorbate",
            "1.2 %",
            ("brew.0.pigment", "red-cabbage"),
            ("dye", []),
            ("ingredient.1.use", "water"),
        ),
        with_preservative("salicylic-acid", "0.6 %"),
        with_preservative("diazolidinyl-urea", "0.2 %"),
        changed("soak", ("colour.layout", "own bottle"), ("brew.0.amount", "600 mL")),
        changed("soak", ("activator.sachet", "1 g"), ("brew.0.pigment", "turmeric")),
        changed("soak", ("brew", [])),
        changed("soak", ("activator.sachet", "200 g")),
        changed("soak", ("ingredient.4.use", "table-salt"), ("ingredient.4.share", "12 %")),
    ]
    unpublished = tuple(replace(each, kept_share=np.nan) for each in answers[0].layouts)
    answers.append(replace(answers[0], layouts=unpublished))
    agreed = tuple(replace(each, kept_open=False) for each in answers[0].layouts)
    answers.append(replace(answers[0], layouts=agreed))
    contexts = [
        {"answer": answer, "more": more, "cautions": more}
        for answer in answers
        for more in (False, True)
    ]
    assert branches_missed("product", contexts, ["shared"]) == []


@pytest.mark.slow
def test_the_command_says_so_by_its_exit_code(huedose: Run, tmp_path: Path) -> None:
    code, out, err = huedose("product", "--demo", "soak", "--json")
    assert (code, err) == (0, "")
    document = json.loads(out)
    assert document["verdicts"]["pour"] == "mind"
    assert [layout["name"] for layout in document["layouts"]] == [
        "foam bath",
        "own bottle",
        "dry sachet",
    ]
    mine = tmp_path / "my.toml"
    mine.write_text(read_text("demo/products/green.toml").replace("gift", "sale"), encoding="utf-8")
    code, out, _ = huedose("product", mine)
    assert code == 3
    assert "US no, its colour is not listed there" in " ".join(out.split())
    code, _, err = huedose("product", mine, "--demo", "soak")
    assert code == 2
    code, _, err = huedose("product", "--demo", "soap")
    assert code == 2
    assert "soak" in err


@pytest.mark.slow
def test_a_product_file_is_a_recipe_to_every_command(tmp_path: Path, huedose: Run) -> None:
    file = tmp_path / "product.toml"
    file.write_text(demo_product_text("soak"), encoding="utf-8")
    code, out, err = huedose("plan", file)
    assert (code, err) == (0, "")
    assert out.startswith("Harbour soak with its sachet: 121 L")
