"""Drops of unknown strength: Beer-Lambert, round trips, and colours that are none of the dye's."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from dosing.bath.assembled import assemble
from dosing.bath.inputs import ColourInputs
from dosing.bath.mixed import colour_at
from dosing.bath.spreads import relative_spreads
from dosing.bottle.drops import peak, water_by_absorbance, water_by_colour
from dosing.recipe import parse_recipe
from dosing.recipe.quantities import InputError
from indicator.absorbance import WAVELENGTH_NM
from indicator.optics import jar_view
from indicator.pigments import colourant, colourant_names, dye_molarity
from indicator.spread import Draws, drawn_absorbance

Run = Callable[..., tuple[int, str, str]]
DYES = tuple(name for name in colourant_names() if colourant(name).kind == "dye")
TESTED = 'drop_test = { drops = 1, water = "1 L", absorbance = "0.08 /cm" }'


def _colour(keys: str, head: str = 'dye = "tartrazine"') -> ColourInputs:
    return parse_recipe(f"[[colour]]\n{head}\n{keys}").colours[0]


def _hex(name: str, strength: float, path_cm: float, light: str = "D65") -> str:
    return str(colour_at({name: strength}, 7.6, jar_view(path_cm, light)).hex)


# Specification of tartrazine: E 1 % 1 cm 530 at 426 nm, M 534.36; from memory, unverified. So
# 53.0 L/(g cm), and an absorbance of 0.053 per cm is 1 mg/L of pure dye.
def test_an_absorbance_gives_the_molarity_of_the_specification() -> None:
    found = water_by_absorbance("tartrazine", 0.053, 7.0)
    assert found.strength * 534.36 == pytest.approx(1e-3, rel=0.01)


def test_twenty_drops_in_a_tub_follow_the_strength_law() -> None:
    # One drop in 1 L reads 0.08 per cm; 20 drops in 100 L are a fifth of that drop's strength.
    inputs = parse_recipe(
        f'[tub]\nvolume = "100 L"\n[[colour]]\ndye = "tartrazine"\namount = "20 drops"\n{TESTED}'
    )
    setting = assemble(inputs)
    strength = float(setting.bath.strengths[colourant("tartrazine")])
    assert strength * peak("tartrazine", 7.0) == pytest.approx(0.08 * 20.0 / 100.0, rel=1e-4)
    assert float(setting.bath.volume_l) == pytest.approx(100.001)


def test_more_drops_in_more_water_are_the_same_drop() -> None:
    one = _colour(f'amount = "20 drops"\n{TESTED}')
    ten = _colour(
        'amount = "20 drops"\ndrop_test = { drops = 10, water = "5 L", absorbance = "0.16 /cm" }'
    )
    assert one.content == pytest.approx(ten.content)
    twice = _colour(f'amount = "40 drops"\n{TESTED}')
    assert twice.content == pytest.approx(2.0 * one.content)
    assert (one.amount, one.amount_unit) == (20.0, "drops")
    # 0.05 mL a drop (USP 32, chapter 1101: 45 to 55 mg of water).
    assert one.volume_l == pytest.approx(0.001)
    assert one.strength_measured


@pytest.mark.parametrize("name", [*DYES, "butterfly-pea", "red-cabbage"])
@pytest.mark.parametrize("through_jar", [0.2, 0.6, 1.5])
def test_the_colour_of_a_known_strength_gives_it_back(name: str, through_jar: float) -> None:
    path_cm = 8.0
    strength = through_jar / path_cm / peak(name, 7.6)
    found = water_by_colour(name, _hex(name, strength, path_cm), path_cm, 7.6)
    assert found.strength == pytest.approx(strength, rel=0.04)
    assert found.nearest_delta_e < 0.5


@pytest.mark.parametrize("light", ["A", "LED-warm"])
def test_the_light_of_the_recipe_counts(light: str) -> None:
    strength = 0.5 / 8.0 / peak("tartrazine", 7.6)
    text = _hex("tartrazine", strength, 8.0, light)
    found = water_by_colour("tartrazine", text, 8.0, 7.6, light)
    assert found.strength == pytest.approx(strength, rel=0.04)


def test_a_wider_jar_with_the_same_colour_holds_thinner_water() -> None:
    narrow, wide = (water_by_colour("tartrazine", "#FFFFC6", cm, 7.6).strength for cm in (4.0, 8.0))
    assert narrow / wide == pytest.approx(2.0, rel=0.02)


def test_a_photograph_is_less_sure_than_a_photometer() -> None:
    read = water_by_absorbance("tartrazine", 0.05, 7.0)
    assert read.relative_sd == pytest.approx(np.hypot(0.08, 0.10))
    pale, clear = (
        water_by_colour(
            "allura-red", _hex("allura-red", a / 8.0 / peak("allura-red", 7.6), 8.0), 8.0, 7.6
        )
        for a in (0.1, 1.0)
    )
    assert pale.relative_sd > clear.relative_sd > read.relative_sd


def test_a_pigment_adds_what_is_not_known_of_its_forms() -> None:
    # At pH 1 the strength is defined, so that next to nothing is added (the brown matter of the
    # petals absorbs a little there as well); above, constants and heights are.
    acid, mild = (water_by_absorbance("red-cabbage", 0.1, ph).relative_sd for ph in (1.0, 7.6))
    assert np.hypot(0.08, 0.10) <= acid < 1.1 * np.hypot(0.08, 0.10)
    assert mild > 2.0 * acid
    # By hand: draw the highest absorbance over the visible, take the spread of its logarithm.
    drawn = drawn_absorbance({"red-cabbage": 1.0}, np.full(200, 7.6))[:, WAVELENGTH_NM >= 400.0]
    own = np.sqrt(np.expm1(np.var(np.log(drawn.max(axis=1)))))
    assert mild == pytest.approx(np.sqrt(0.08**2 + 0.10**2 + own**2), rel=1e-6)
    strength = 0.6 / 8.0 / peak("red-cabbage", 7.6)
    seen = water_by_colour("red-cabbage", _hex("red-cabbage", strength, 8.0), 8.0, 7.6)
    assert seen.relative_sd > mild


def test_a_known_pigment_in_drops_is_as_sure_as_a_dye(monkeypatch: pytest.MonkeyPatch) -> None:
    strength = 0.6 / 8.0 / peak("red-cabbage", 7.6)
    text = _hex("red-cabbage", strength, 8.0)
    told = water_by_colour("red-cabbage", text, 8.0, 7.6).relative_sd
    which = colourant("red-cabbage")
    nothing = Draws(np.tile(which.pka, (200, 1)), np.ones((200, len(which.forms))))
    monkeypatch.setattr("indicator.spread.draws_of", lambda *_: nothing)
    known = water_by_colour("red-cabbage", text, 8.0, 7.6).relative_sd
    assert known < told
    # All heights off by one factor are a strength off by that factor, whatever the colour.
    factors = np.exp(0.1 * np.random.default_rng(3).standard_normal(200))
    scaled = Draws(nothing.pka, np.tile(factors[:, None], (1, len(which.forms))))
    monkeypatch.setattr("indicator.spread.draws_of", lambda *_: scaled)
    off = water_by_colour("red-cabbage", text, 8.0, 7.6).relative_sd
    assert np.sqrt(off**2 - known**2) == pytest.approx(0.1, rel=0.15)


def test_a_recipe_takes_the_colour_of_a_drop() -> None:
    # 1 mg/L of pure dye in a jar of 8 cm, by the same specification as above.
    molarity = 1e-3 / 534.36
    drop = _colour(
        'amount = "20 drops"\ndrop_test = { drops = 1, water = "1 L", '
        f'colour = "{_hex("tartrazine", molarity, 8.0)}", path = "8 cm" }}'
    )
    assert drop.content == pytest.approx(20.0 * molarity, rel=0.03)
    assert drop.strength_sd is not None
    assert 0.2 < drop.strength_sd < 1.0


def test_the_spread_of_the_colour_reading_reaches_the_plan() -> None:
    text = (
        '[[colour]]\ndye = "tartrazine"\namount = "20 drops"\n'
        'drop_test = { drops = 1, water = "1 L", colour = "#F3EFA0", path = "8 cm" }'
    )
    inputs = parse_recipe(text)
    assert relative_spreads(inputs)[2] == inputs.colours[0].strength_sd
    assert "assume.recipe.drop-test" in {note.code for note in inputs.assumptions}


def test_a_pigment_in_drops_takes_the_ph_of_the_test_water() -> None:
    def content(ph: str) -> float:
        keys = f'drop_test = {{ drops = 1, water = "1 L", absorbance = "0.1 /cm"{ph} }}'
        return _colour(f'amount = "20 drops"\n{keys}', 'pigment = "butterfly-pea"').content

    assert content("") == pytest.approx(20.0 * 0.1 / peak("butterfly-pea", 7.6))
    assert content(", ph = 4.0") == pytest.approx(20.0 * 0.1 / peak("butterfly-pea", 4.0))
    notes = parse_recipe(f'[[colour]]\npigment = "butterfly-pea"\namount = "9 drops"\n{TESTED}')
    assert "assume.recipe.drop-test-ph" in {note.code for note in notes.assumptions}


def test_drops_of_a_known_strength_are_a_twentieth_of_a_millilitre() -> None:
    drops = _colour('amount = "20 drops"\nstrength = "1 %"')
    volume = _colour('amount = "1 mL"\nstrength = "1 %"')
    assert drops.content == pytest.approx(volume.content)
    assert drops.content == pytest.approx(1e-3 * float(dye_molarity("tartrazine", 10.0)))
    assert drops.bottle_strength == pytest.approx(volume.bottle_strength)
    assert (drops.amount, drops.amount_unit) == (20.0, "drops")
    assert drops.strength_sd == pytest.approx(np.hypot(0.08, 0.10))
    pigment = _colour('amount = "20 drops"\nstrength = "2 %"', 'pigment = "butterfly-pea"')
    assert pigment.strength_sd == pytest.approx(
        np.hypot(colourant("butterfly-pea").strength_sd, 0.10)
    )
    inputs = parse_recipe('[[colour]]\ndye = "e102"\namount = "20 drops"\nstrength = "1 %"')
    assert "assume.recipe.drop-volume" in {note.code for note in inputs.assumptions}


MIXED = """
[tub]
volume = "100 L"
volume_measured = true
[water]
alkalinity = "120 ppm"
instrument = "drop kit"
[[colour]]
pigment = "butterfly-pea"
amount = "600 mL"
strength = "2 %"
steeped_at = "80 C"
steeped_for = "20 min"
[[colour]]
dye = "brilliant-blue"
amount = "5 mg"
[[colour]]
dye = "tartrazine"
amount = "20 drops"
drop_test = { drops = 1, water = "1 L", absorbance = "0.08 /cm" }
[wish]
bathers = "adult"
"""


def test_infusion_powder_and_drops_in_one_tub() -> None:
    strengths = assemble(parse_recipe(MIXED)).bath.strengths
    litres = 100.0 + 0.6 + 0.001
    alone = parse_recipe(MIXED.split("[[colour]]\ndye")[0]).colours[0]
    assert float(strengths[colourant("butterfly-pea")]) == pytest.approx(alone.content / litres)
    assert float(strengths[colourant("brilliant-blue")]) == pytest.approx(
        float(dye_molarity("brilliant-blue", 0.005)) / litres
    )
    assert float(strengths[colourant("tartrazine")]) * peak("tartrazine", 7.0) == pytest.approx(
        1.6 / litres, rel=1e-4
    )


@pytest.mark.slow
def test_the_mixture_is_planned(huedose: Run, tmp_path: Path) -> None:
    path = tmp_path / "three.toml"
    path.write_text(MIXED, encoding="utf-8")
    code, out, err = huedose("plan", path, "--json")
    assert (code in (0, 3), err) == (True, "")
    plan = json.loads(out)
    codes = {one["code"] for one in plan["assumptions"]}
    assert {"assume.recipe.steeped", "assume.recipe.drop-test"} <= codes
    code, out, _ = huedose("plan", path, "--more", COLUMNS="60")
    assert "the same dropper" in " ".join(out.split())


@pytest.mark.slow
@pytest.mark.parametrize(
    ("keys", "words"),
    [
        ('amount = "20 drops"', "nobody said how strong a drop is"),
        ('amount = "20 drips"\nstrength = "1 %"', "or 20 drops"),
        ('amount = "-3 drops"\nstrength = "1 %"', "0 to 10000 drops"),
        (f'amount = "5 mL"\n{TESTED}', "give the amount in drops"),
        (f'amount = "5 drops"\nstrength = "1 %"\n{TESTED}', "keep one of the two"),
        ('amount = "5 drops"\ndrop_test = 3', "a table with its own keys"),
        ('amount = "5 drops"\ndrop_test = { drops = 1 }', "drop_test.water"),
        ('amount = "5 drops"\ndrop_test = { drops = 1, water = 1 }', "water is 1 without a unit"),
        ('amount = "5 drops"\ndrop_test = { drops = 1, water = "1 L" }', "needs one reading"),
        (
            'amount = "5 drops"\ndrop_test = { drops = 1, water = "1 L", colour = "#FFFFC6", '
            'path = "8 cm", absorbance = "1 /cm" }',
            "needs one reading",
        ),
        (
            'amount = "5 drops"\ndrop_test = { drops = 1, water = "1 L", color = "#FFFFC6" }',
            "did you mean 'colour'?",
        ),
        (
            'amount = "5 drops"\ndrop_test = { drops = 0, water = "1 L", absorbance = "1 /cm" }',
            "a number of drops above none",
        ),
        (
            'amount = "5 drops"\ndrop_test = { drops = nan, water = "1 L", absorbance = "1 /cm" }',
            "a number of drops above none",
        ),
        (
            'amount = "5 drops"\n'
            'drop_test = { drops = "some", water = "1 L", absorbance = "1 /cm" }',
            "drop_test.drops is 'some'",
        ),
        (
            'amount = "5 drops"\ndrop_test = { drops = 1, water = "0 L", absorbance = "1 /cm" }',
            "drop_test.water is '0 L'",
        ),
        (
            'amount = "5 drops"\ndrop_test = { drops = 1, water = "1 L", absorbance = "0 /cm" }',
            "no colour in that water",
        ),
        (
            'amount = "5 drops"\ndrop_test = { drops = 1, water = "1 L", absorbance = "1 /cm", '
            'path = "8 cm" }',
            "needs no path",
        ),
        (
            'amount = "5 drops"\ndrop_test = { drops = 1, water = "1 L", colour = "#FFFFC6" }',
            "inner width is not given",
        ),
        (
            'amount = "5 drops"\ndrop_test = { drops = 1, water = "1 L", colour = "yellow", '
            'path = "8 cm" }',
            "# and six digits",
        ),
        (
            'amount = "5 drops"\ndrop_test = { drops = 1, water = "1 L", colour = "#FFFFC6", '
            'path = "8 cm", ph = 15 }',
            "drop_test.ph is 15",
        ),
    ],
)
def test_drops_that_cannot_be_used(huedose: Run, tmp_path: Path, keys: str, words: str) -> None:
    path = tmp_path / "drops.toml"
    path.write_text(f'[[colour]]\ndye = "tartrazine"\n{keys}\n', encoding="utf-8")
    code, out, err = huedose("plan", path)
    assert (code, out, err.count("\n")) == (2, "", 1)
    assert words in err


@pytest.mark.parametrize(
    ("colour", "words"),
    [
        ("#7090FF", "which tartrazine does not show"),
        ("#D8ECFF", "which tartrazine does not show"),
        ("#808080", "which tartrazine does not show"),
        ("#FFFFFA", "put more drops into the same water"),
        ("#FFFFFF", "put more drops into the same water"),
    ],
)
def test_a_colour_that_is_none_of_this_dye(colour: str, words: str) -> None:
    keys = f'drop_test = {{ drops = 1, water = "1 L", colour = "{colour}", path = "8 cm" }}'
    with pytest.raises(InputError, match=words):
        _colour(f'amount = "20 drops"\n{keys}')


def test_a_shade_that_does_not_tell_the_strength_is_refused() -> None:
    dark = _hex("quinoline-yellow", 1.0 / 8.0 / peak("quinoline-yellow", 7.6) * 5.0, 8.0)
    keys = f'drop_test = {{ drops = 1, water = "1 L", colour = "{dark}", path = "8 cm" }}'
    with pytest.raises(InputError, match="hardly changes"):
        _colour(f'amount = "20 drops"\n{keys}', 'dye = "quinoline-yellow"')
