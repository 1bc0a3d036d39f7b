import csv
import re
from pathlib import Path

from dosing.ingredients.molar_mass import molar_mass
from indicator.tables import citation, read_toml

DATA = Path(__file__).parents[2] / "data"
CONFIDENCE = {"SEEN", "SEEN-2", "MEMORY", "DERIVED", "CALC", "DESIGN", "GUESS"}
MODULES = ("water", "powders", "product", "tub")


def rows(name: str) -> list[dict[str, str]]:
    lines = (DATA / "trade" / f"{name}.csv").read_text(encoding="utf-8").splitlines()
    return list(csv.DictReader(line for line in lines if not line.startswith("#")))


def test_powder_tables_speak_of_the_same_powders() -> None:
    names = [row["name"] for row in rows("powders")]
    assert len(names) == len(set(names))
    assert {row["powder"] for row in rows("powder_composition")} == set(names)
    assert {row["powder"] for row in rows("solubility")} <= set(names)
    for row in rows("powders"):
        assert citation(row["purity_source"])
        assert row["purity_confidence"] in CONFIDENCE


def test_no_powder_brings_more_than_its_own_mass() -> None:
    formulas = {
        (r["powder"], r["formula"]): float(r["mass_share"]) for r in rows("powder_composition")
    }
    for name in {powder for powder, _ in formulas}:
        assert sum(share for (powder, _), share in formulas.items() if powder == name) <= 1
    assert all(molar_mass(formula) > 0 for _, formula in formulas)


def test_low_and_high_enclose_the_typical_value() -> None:
    for row in rows("typical"):
        if row["low"]:
            assert float(row["low"]) <= float(row["value"]) <= float(row["high"]), row


def test_every_note_of_these_rooms_has_its_sentence() -> None:
    catalogue = read_toml("text/en.toml")
    code = re.compile(r'"((?:assume|warn|powder)\.[a-z]+\.[a-z-]+)"')
    for room in MODULES:
        text = (DATA.parent / "dosing/ingredients" / f"{room}.py").read_text(encoding="utf-8")
        found = code.findall(text)
        assert found, room
        for kind, table, name in (item.split(".") for item in found):
            assert isinstance(catalogue[kind][table][name], str)
