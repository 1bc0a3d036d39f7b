"""What a maker writes into a product file from sheets: substances of a supplier, passed tests."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from dosing.recipe.quantities import InputError
from dosing.workshop.materials import known_names
from dosing.workshop.product import assess
from dosing.workshop.product_file import demo_product_text, product_from
from dosing.workshop.product_tables import ProductTables
from indicator.tables import read_text

Change = Callable[[dict[str, Any]], None]
GLUTAMATE = "Sodium Cocoyl Glutamate"


def soak(*changes: Change) -> dict[str, Any]:
    """The demo soak with a glutamate that no table has in place of its glucoside, and changes."""
    content = tomllib.loads(demo_product_text("soak"))
    content["substance"] = [{"name": GLUTAMATE, "does": "anionic surfactant"}]
    content["material"] = [
        {"name": "glutamate", "made_of": {GLUTAMATE: "30 %", "water": "rest"}},
    ]
    (line,) = (each for each in content["ingredient"] if each["use"] == "coco-glucoside")
    line["use"] = "glutamate"
    for change in changes:
        change(content)
    return content


def passed(**said: object) -> Change:
    """A challenge test of the soak as it stands, or of what is said otherwise."""

    def change(content: dict[str, Any]) -> None:
        test = {
            "passed": "2026-08-03",
            "edition": content["edition"],
            "ph": content["bottle"]["ph"],
        }
        content["challenge_test"] = [test | said]

    return change


def without_substance(content: dict[str, Any]) -> None:
    del content["substance"]


def codes(content: dict[str, Any]) -> set[str]:
    return {caution.code for caution in assess(product_from(content)).cautions}


def test_what_the_tables_know_cannot_come_in_under_another_name() -> None:
    def disguised(content: dict[str, Any]) -> None:
        # Citric acid, by its registry number.
        content["substance"].append({"name": "Nice Powder", "does": "other", "cas": "77-92-9"})

    with pytest.raises(InputError, match="which the tables have as citric-acid"):
        product_from(soak(disguised))


def test_a_suppliers_substance_counts_and_is_never_judged_ok() -> None:
    answer = assess(product_from(soak()))
    line = next(each for each in soak()["ingredient"] if each["use"] == "glutamate")
    share = float(re.sub(r"\D*$", "", line["share"]))
    # 30 % of it is active, as its sheet says.
    active = answer.product.formula.surfactants_percent()
    assert active["anionic"] == pytest.approx(0.30 * share)
    assert GLUTAMATE in answer.bottle_list
    (told,) = (each for each in answer.cautions if each.code == "substance-not-judged")
    assert told.values == {"names": GLUTAMATE}
    assert answer.by_market[0].verdicts.sell.level != "ok"
    # Of a child's product too, and where it is only given away.
    assert told.about == "give"


def test_an_unknown_substance_is_refused_with_the_lines_that_would_do() -> None:
    with pytest.raises(InputError) as refused:
        product_from(soak(without_substance))
    sentence = str(refused.value)
    written = re.search(r"\[\[substance\]\] with (name = '.*?') and (does = '.*?')", sentence)
    assert written is not None
    entry = tomllib.loads("\n".join(written.groups()))

    def follow(content: dict[str, Any]) -> None:
        content["substance"] = [entry]

    assert GLUTAMATE in assess(product_from(soak(follow))).bottle_list


def test_all_names_are_printed_and_every_one_of_them_is_read(
    huedose: Callable[..., tuple[int, str, str]],
) -> None:
    with pytest.raises(InputError, match="huedose product --names"):
        product_from(soak(without_substance))
    code, out, err = huedose("product", "--names")
    assert (code, err) == (0, "")
    assert len(out.splitlines()) <= 20
    assert max(map(len, out.splitlines())) <= 80
    known = known_names()
    assert "potassium sorbate" in known.preservatives
    for name in (*known.preservatives, *known.surfactants, *known.others):
        assert name in " ".join(out.split())
        content = soak()
        content["ingredient"] = [{"use": "water", "share": "rest"}, {"use": name, "share": "1 %"}]
        product_from(content)


@pytest.mark.slow
@pytest.mark.parametrize(
    ("said", "why"),
    [({"edition": "0"}, "preservative-tested-other"), ({"ph": 4.6}, "preservative-tested-other")],
)
def test_a_test_of_another_bottle_leaves_it_untested(said: dict[str, object], why: str) -> None:
    content = soak(passed(**said))
    answer = assess(product_from(content))
    assert answer.preserving.state == "untested"
    assert answer.do_next == "challenge-test"
    assert why in codes(content)


@pytest.mark.slow
def test_a_passed_test_of_this_bottle_counts() -> None:
    assert "preservative-untested" in codes(soak())
    content = soak()
    near = content["bottle"]["ph"] + 0.3
    assert assess(product_from(soak(passed(ph=near)))).preserving.state == "tested"
    answer = assess(product_from(soak(passed())))
    assert answer.preserving.state == "tested"
    assert answer.do_next == "assessment"
    assert not {"preservative-untested", "preservative-tested-other"} & codes(soak(passed()))


def test_a_passed_test_does_not_mend_a_ph_at_which_the_preservative_fails() -> None:
    def alkaline(content: dict[str, Any]) -> None:
        content["bottle"]["ph"] = 6.9

    assert assess(product_from(soak(alkaline, passed()))).preserving.state == "outside"


@pytest.mark.parametrize(
    ("said", "named"),
    [({"passed": "2999-01-01"}, "still to come"), ({"of": "the tub"}, "accepted are foam bath")],
)
def test_a_test_that_cannot_be_is_refused(said: dict[str, object], named: str) -> None:
    with pytest.raises(InputError, match=named):
        product_from(soak(passed(**said)))


def test_every_key_of_a_product_file_is_explained() -> None:
    explained = tomllib.loads(read_text("text/product_keys.toml"))
    names = {field.alias or name for name, field in ProductTables.model_fields.items()}
    assert set(explained["product"]) == names


@pytest.mark.slow
def test_a_plan_of_a_product_with_too_little_colour_speaks_of_its_file(
    huedose: Callable[..., tuple[int, str, str]], tmp_path: Path
) -> None:
    file = tmp_path / "green.toml"
    file.write_text(demo_product_text("green"))
    code, out, _ = huedose("plan", file)
    assert code == 0
    assert "It hardly turns." in out
    # Without a sachet the plan looks for a dose, and there is none.
    without = re.sub(r"(?m)^(sachet|pack) = .*$", "", demo_product_text("green"))
    file.write_text(without)
    code, out, _ = huedose("plan", file)
    told = " ".join(out.split())
    assert code == 3
    assert "huedose product " in told
    # A product file has no [[colour]].
    assert "[[colour]]" not in told
