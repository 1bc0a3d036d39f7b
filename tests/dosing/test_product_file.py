"""The product file: what it says in core units, and one sentence for whatever cannot be used."""

from __future__ import annotations

import copy
import re
import tomllib
from typing import Any

import pytest

from dosing.recipe.quantities import InputError
from dosing.workshop import demo_product, load_product
from dosing.workshop.product_file import DEMOS, product_from
from indicator.tables import read_text


def demo(name: str = "green") -> dict[str, Any]:
    """Tables of a demo product, to be changed."""
    return copy.deepcopy(tomllib.loads(read_text(f"demo/products/{name}.toml")))


@pytest.mark.parametrize("name", DEMOS)
def test_shares_of_a_demo_come_to_all_of_it(name: str) -> None:
    formula = demo_product(name).formula
    assert sum(each.share_percent for each in formula.ingredients) == pytest.approx(100.0)
    assert sum(formula.substances_percent().values()) == pytest.approx(100.0)


def test_a_dose_of_the_bottle_is_the_foam_bath_of_its_recipe() -> None:
    product = demo_product("green")
    # 240 mL for four baths at 1.03 g/mL, of which 45 % is brew: arithmetic.
    assert product.dose_ml == pytest.approx(60.0)
    assert product.dose_g == pytest.approx(61.8)
    foam = product.recipe.foam_bath
    assert foam is not None
    assert foam.amount_ml == pytest.approx(60.0)
    brew = product.recipe.colours[0]
    assert brew.held_in == "foam bath"
    assert brew.amount == pytest.approx(0.45 * 61.8)
    assert brew.preserved
    # The blend is 50 % of the bottle, 40 % of it coco glucoside of 51 % active matter.
    active = product.formula.surfactants_percent()
    assert active["non-ionic"] == pytest.approx(50.0 * 0.4 * 0.51)
    assert dict(foam.surfactants_percent or ())["non-ionic"] == pytest.approx(
        1.03 * active["non-ionic"], rel=1e-3
    )


def test_petals_in_a_sachet_are_weighed() -> None:
    tables = demo("soak")
    tables["brew"][0]["amount"] = "600 mL"
    colour = product_from(tables).recipe.colours[0]
    # 600 mL of a 2 % brew take 12 g.
    assert colour.amount == pytest.approx(12.0)
    assert colour.amount_unit == "g"


def changed(tables: dict[str, Any], where: str, value: Any) -> dict[str, Any]:
    *path, last = where.split(".")
    place: Any = tables
    for step in path:
        place = place[int(step)] if step.isdigit() else place[step]
    if last.isdigit():
        place[int(last)] = value
    else:
        place[last] = value
    return tables


REFUSED = [
    ("ingredient.0.use", "blue bew", "ingredient[1].use is 'blue bew'", "blue-brew"),
    ("ingredient.3.use", "sodium-benzoat", "ingredient[4].use", "sodium-benzoate"),
    ("ingredient.1.share", "rest", "more than one 'rest'", None),
    ("ingredient.2.share", "50.06 %", "come to 100.1 %", None),
    ("ingredient.2.share", "lots", "ingredient[3].share is 'lots'", None),
    ("ingredient.1.share", "60 %", "nothing is left", None),
    ("bottle.ph_read_with", "strip", "a strip is read by its colours", None),
    ("bottle.baths", 0, "bottle.baths is 0; write a whole number", None),
    ("bottle.baths", "four", "bottle.baths is 'four'; write a whole number", None),
    ("bottle.density", "1030 g/mL", "bottle.density is '1030 g/mL'", None),
    # 28.35 g or 29.57 mL: NIST SP 811.
    ("bottle.fill", "8 oz", 'a weight or a volume? Write one of "8 fl oz", "227 g"', None),
    ("bottle.fill", "8 ounces", '"8 fl oz"', None),
    ("bottle.fil", "240 mL", "The product has bottle.fil", "fill"),
    ("markets", ["Mars"], "markets[1] is 'Mars'", None),
    ("colour.layout", "own bottle", "the formula holds blue-brew", None),
    ("brew.0.amount", "400 mL", "has an amount for a bath as well", None),
    ("dye.0.name", "blue brew", "twice", None),
    ("brew.0.pigment", "butterfly-pee", "brew[1].pigment", "butterfly-pea"),
    ("brew.0.steeped_at", "300 C", "brew.steeped_at is '300 C'", None),
    ("material.0.made_of", {"glycerin": "5 %"}, "material[1].made_of come to 5 %", None),
    ("material.0.made_of", {"mild blend": "rest"}, "'mild blend'", None),
    ("material.0.use_level", "some", "material.use_level", None),
    ("activator.sachet", "0 g", "activator.sachet", None),
    ("activator.lots", {"citrus": "C"}, "activator.lots", "citric"),
    ("price", {"currency": "EUR", "costs": {"glycerin": "4.80"}}, "4.80", None),
    ("price", {"currency": "EUR", "costs": {"glycerine": "dear"}}, "price.costs.glycerine", None),
    ("price", {"currency": "EUR", "costs": {"citric acyd": "4 /kg"}}, "price.costs", "citric-acid"),
    ("price", {"currency": "EUR", "labour": "18"}, "18 /h", None),
    ("water.alkalinity", "many", "water.alkalinity is 'many'", None),
    ("activator.pack", "bottle with cap", "acid and liquid in one container", None),
    ("brew.0.added", {"benzoate-sorbate": "rest"}, "leave room for the brew", None),
    ("brew.0.added", {"benzoate": "100 %"}, "leave room for the brew", None),
    ("brew.0.strength", "6 /cm", "brew[1].steeped_at is '75 C'", None),
    ("dye.0.strength", "6 /cm", "dye[1].strength is '6 /cm'", None),
    ("bottle.titratable", "-5 meq/kg", "bottle.titratable is '-5 meq/kg'", None),
    ("ingredient", [], "does not say ingredient", None),
    ("name", None, "does not say name", None),
]


@pytest.mark.parametrize(
    ("table", "said", "where", "grams"),
    [
        # 72 mL of 0.1 % hold 0.072 g; 20 drops of 0.05 mL hold 0.001 g.
        ("dye", {"dye": "tartrazine", "amount": "72 mL", "strength": "0.1 %"}, "dye[1]", "0.072 g"),
        ("dye", {"dye": "tartrazine", "amount": "20 drops", "strength": "0.1 %"}, "dye", "0.001 g"),
        ("dye", {"dye": "tartrazine", "amount": "72 mL"}, "dye[1]", "0.1 g"),
        ("brew", {"name": "own", "pigment": "roselle", "amount": "9 drops"}, "brew[2]", "0.1 g"),
    ],
)
def test_a_dry_sachet_holds_no_liquid(
    table: str, said: dict[str, str], where: str, grams: str
) -> None:
    tables = demo("soak")
    tables[table] = [*tables.get(table, ()), said]
    with pytest.raises(InputError) as refused:
        product_from(tables)
    sentence = str(refused.value)
    assert sentence.startswith(where)
    assert f"{said['amount']}'" in sentence
    assert f'for instance amount = "{grams}"' in sentence


@pytest.mark.parametrize(("where", "value", "says", "near"), REFUSED)
def test_one_sentence_for_what_cannot_be_used(
    where: str, value: Any, says: str, near: str | None
) -> None:
    tables = demo()
    if value is None:
        del tables[where]
    else:
        changed(tables, where, value)
    with pytest.raises(InputError) as refused:
        product_from(tables)
    sentence = str(refused.value)
    assert says in sentence
    assert sentence.endswith(".")
    assert "\n" not in sentence
    if near is not None:
        assert re.search(f"did you mean '{near}", sentence)


@pytest.mark.parametrize("name", DEMOS)
def test_a_demo_is_printed_to_start_from(name: str, huedose: Any) -> None:
    code, out, err = huedose("recipe", "--demo", name)
    assert (code, err) == (0, "")
    assert product_from(tomllib.loads(out)).name == demo_product(name).name


def test_fluid_ounces_are_a_volume() -> None:
    product = product_from(changed(demo(), "bottle.fill", "8 fl oz"))
    assert product.fill_ml == pytest.approx(8 * 29.5735296)


def test_a_price_may_have_any_name_that_the_parts_may() -> None:
    costs = {"citric acid": "4 /kg", "baking soda": "2 /kg", "blue brew": "40 /kg"}
    tables = demo() | {"price": {"currency": "EUR", "costs": costs}}
    price = product_from(tables).price
    assert price is not None
    weighed = {"citric-acid-anhydrous": 0.004, "sodium-bicarbonate": 0.002, "butterfly-pea": 0.04}
    assert {name: price.per_gram[name] for name in weighed} == pytest.approx(weighed)
    # The acid may stand in the bottle as well, as a substance.
    assert price.per_gram["citric-acid"] == pytest.approx(0.004)


def test_shares_may_miss_by_a_rounding() -> None:
    tables = changed(demo(), "ingredient.2.share", "50.04 %")
    assert sum(e.share_percent for e in product_from(tables).formula.ingredients) > 100.0


def test_a_file_that_is_none(tmp_path: Any) -> None:
    with pytest.raises(InputError, match="no file"):
        load_product(tmp_path / "none.toml")
    broken = tmp_path / "broken.toml"
    broken.write_text("name = ", encoding="utf-8")
    with pytest.raises(InputError, match=r"The product .* cannot be read at"):
        load_product(broken)


def test_a_pigment_file_beside_the_product_is_found(tmp_path: Any) -> None:
    text = read_text("demo/products/soak.toml").replace('"red-cabbage"', '"nowhere.toml"', 1)
    (tmp_path / "my.toml").write_text(text, encoding="utf-8")
    with pytest.raises(InputError, match=re.escape(str(tmp_path / "nowhere.toml"))):
        load_product(tmp_path / "my.toml")
