"""Steeping: the published plateau, hand-worked petals and water, and what is told at the stove."""

from __future__ import annotations

import json
import math
from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from dosing.bath.assembled import assemble
from dosing.bath.possible_tubs import possible_tubs
from dosing.bath.spreads import relative_spreads
from dosing.bottle.steeping import (
    brew,
    evaporated_share,
    infusion,
    steep,
    steeping_number,
    steeping_value,
)
from dosing.ingredients.trade_values import typical
from dosing.plan.brewing import bottle_looks, tint_amounts
from dosing.recipe import parse_recipe
from indicator.notes import sentence
from indicator.pigments import colourant, colourant_names

Run = Callable[..., tuple[int, str, str]]
PEA = "butterfly-pea"
PER_PERCENT = colourant(PEA).per_percent
PIGMENTS = tuple(name for name in colourant_names() if colourant(name).kind == "pigment")


@pytest.mark.parametrize("celsius", [70.0, 75.0, 80.0])
@pytest.mark.parametrize("minutes", [20.0, 25.0, 30.0])
def test_the_usual_brewing_gives_the_usual_strength(celsius: float, minutes: float) -> None:
    # 2 %, 70 to 80 C, 20 to 30 min: common practice, no source.
    assert PER_PERCENT is not None
    made = infusion(PEA, 2.0, celsius, minutes)
    assert float(made.best) == pytest.approx(2.0 * PER_PERCENT.best, rel=0.03)
    assert bool(made.in_range)
    assert float(made.low) == pytest.approx(2.0 * PER_PERCENT.low, rel=0.05)
    assert float(made.high) == pytest.approx(2.0 * PER_PERCENT.high, rel=0.05)


@pytest.mark.parametrize("name", PIGMENTS)
def test_every_pigment_is_known_by_what_the_usual_brewing_gives(name: str) -> None:
    usual = colourant(name).per_percent
    assert usual is not None
    made = infusion(name, 1.0, *(steeping_value(f"usual_{w}") for w in ("temperature", "minutes")))
    assert [float(made.low), float(made.best), float(made.high)] == pytest.approx(
        [usual.low, usual.best, usual.high]
    )
    plateau = usual.best / float(made.share_of_plateau)
    hours = infusion(name, 1.0, np.array([[10.0], [60.0], [90.0]]), np.geomspace(1.0, 4000.0, 20))
    assert hours.best.max() <= plateau * (1.0 + 1e-12)


# Marpaung & Chiang 2019 (abstract), doi 10.33555/iconiet.v2i2.24: boiling water poured on petals in
# an open glass, so 80 to 90 C in the mean of the first minutes; 83 % out in five minutes, and no
# significant increase after 30 of 60 minutes.
def test_the_published_course_in_hot_water() -> None:
    five, thirty, sixty = (
        infusion(PEA, 1.6, 85.0, [5.0, 30.0, 60.0]).best / infusion(PEA, 1.6, 85.0, 30.0).best
    )
    assert five == pytest.approx(0.83, abs=0.05)
    assert thirty == 1.0
    assert sixty <= 1.0
    assert sixty > 0.85


# Vidana Gamage & Choo 2023: best of the hot-water set 50 C, 30 min. Yu et al. 2024: 90 C, 30 min.
# Abeysekera et al. 2019: 59.6 C, 37 min. All are on the plateau.
@pytest.mark.parametrize(("celsius", "minutes"), [(50.0, 30.0), (90.0, 30.0), (59.6, 37.0)])
def test_each_published_optimum_lies_on_the_plateau(celsius: float, minutes: float) -> None:
    assert float(infusion(PEA, 2.0, celsius, minutes).share_of_plateau) > 0.9


# Sitompul & Martati 2025 (abstract), doi 10.21776/ub.jels.2025.015.03.01: anthocyanin did not
# depend on the method: 70 C for 15 min, 25 to 27 C for 3 and 6 h, 5 to 7 C for 12 and 24 h.
def test_cold_steeping_gives_as_much_if_it_is_given_time() -> None:
    hot = infusion(PEA, 2.0, 70.0, 15.0)
    slow = infusion(PEA, 2.0, [26.0, 26.0, 6.0, 6.0], [180.0, 360.0, 720.0, 1440.0])
    assert slow.best / hot.best == pytest.approx(np.ones(4), abs=0.1)
    assert np.all(slow.relative_sd > 1.1 * hot.relative_sd)
    assert not slow.in_range.any()


# Roselle, J. Food Eng. 109:16-21 (2012), abstract: from 25 to 90 C the diffusion coefficient goes
# from 3.9e-11 to 1.35e-10 m2/s and the yield stays the same: that energy lies in our range.
def test_the_rate_rises_with_temperature_as_in_its_like() -> None:
    warm, cold = 273.15 + 90.0, 273.15 + 25.0
    energy = 8.314462618e-3 * math.log(1.35e-10 / 3.9e-11) / (1.0 / cold - 1.0 / warm)
    ours = steeping_number("release_ea", PEA)
    low, high = ours.ends
    assert low <= energy <= high
    assert low <= 40.3 <= high, "caffeine of tea, Jaganyi & Price 1999"


def test_boiling_loses_colour_and_more_the_longer() -> None:
    boiled = infusion(PEA, 2.0, 100.0, [30.0, 60.0, 120.0]).share_of_plateau
    assert np.all(np.diff(boiled) < 0)
    assert boiled[1] < float(infusion(PEA, 2.0, 75.0, 60.0).share_of_plateau) - 0.1


@given(
    st.sampled_from(PIGMENTS),
    st.floats(0.05, 30.0),
    st.floats(0.0, 100.0),
)
def test_one_rise_one_fall_and_never_above_the_plateau(
    name: str, percent: float, celsius: float
) -> None:
    minutes = np.geomspace(0.5, 4320.0, 60)
    made = infusion(name, percent, celsius, minutes)
    share = made.share_of_plateau
    assert np.all(share <= 1.0)
    assert np.all(share >= 0.0)
    top = int(np.argmax(share))
    assert np.all(np.diff(share[: top + 1]) >= -1e-12)
    assert np.all(np.diff(share[top:]) <= 1e-12)
    assert np.all(made.low <= made.best)
    assert np.all(made.best <= made.high)
    assert np.all(np.isfinite(made.relative_sd))


def test_the_spread_widens_with_the_distance_from_what_is_published() -> None:
    for celsius in ([60.0, 40.0, 20.0, 5.0], [85.0, 95.0, 100.0]):
        spread = infusion(PEA, 2.0, celsius, 60.0).relative_sd
        assert np.all(np.diff(spread) > 0), celsius
    for minutes in ([20.0, 8.0, 4.0, 2.0], [60.0, 120.0, 300.0]):
        spread = infusion(PEA, 2.0, 60.0, minutes).relative_sd
        assert np.all(np.diff(spread) > 0), minutes


def test_many_at_once_are_as_one_by_one() -> None:
    celsius, minutes = np.array([[8.0], [75.0], [97.0]]), np.array([5.0, 25.0, 600.0])
    together = infusion(PEA, 2.0, celsius, minutes)
    assert together.best.shape == (3, 3)
    for i, row in enumerate(celsius[:, 0]):
        for k, column in enumerate(minutes):
            alone = infusion(PEA, 2.0, row, column)
            for field in ("low", "best", "high", "relative_sd", "share_of_plateau"):
                assert getattr(together, field)[i, k] == pytest.approx(float(getattr(alone, field)))


def test_strength_goes_with_the_petals() -> None:
    made = infusion(PEA, [1.0, 2.0, 4.0], 75.0, 25.0)
    assert made.best / made.best[0] == pytest.approx([1.0, 2.0, 4.0])


def test_a_dye_is_not_steeped() -> None:
    with pytest.raises(ValueError, match="accepted is a pigment"):
        infusion("tartrazine", 2.0, 75.0, 25.0)


def test_petals_and_water_by_hand() -> None:
    # 2 % of 500 g, lidded, 25 min at 75 C, drained. Held back 6.5 (4 to 10) g per g; lost as vapour
    # 0.002 (0.0007 to 0.005) a minute under a lid that leaves 0.1 (0.02 to 0.25) of it.
    lost, least, most = (
        1.0 - math.exp(-rate * 25.0) for rate in (0.002 * 0.1, 0.0007 * 0.02, 0.005 * 0.25)
    )
    water = (500.0 + 4.0 * 10.0) / (1.0 - least)
    made = brew(2.0, 500.0, 75.0, 25.0)
    assert made.petals_g == pytest.approx(10.0)
    assert made.water_g == pytest.approx(water)
    assert made.filtrate_g.high == pytest.approx(500.0)
    assert made.filtrate_g.best == pytest.approx(water * (1.0 - lost) - 65.0)
    assert made.filtrate_g.low == pytest.approx(water * (1.0 - most) - 100.0)
    assert made.make_up_g.low == pytest.approx(0.0, abs=1e-9)
    assert made.make_up_g.best == pytest.approx(500.0 - made.filtrate_g.best)
    assert made.make_up_g.high == pytest.approx(500.0 - made.filtrate_g.low)
    left = water * (1.0 - lost)
    assert made.left_in_petals == pytest.approx(65.0 / left)
    assert made.brewed_percent.best == pytest.approx(100.0 * 10.0 / left * (left - 65.0) / 500.0)


def test_no_pigment_is_won_by_filtering() -> None:
    # What is in the pot is in the filtrate or in the petals; making up adds none.
    made = brew(4.0, 300.0, 80.0, 30.0, pressed=True)
    assert made.brewed_percent.best * 300.0 / 100.0 == pytest.approx(
        made.petals_g * (1.0 - made.left_in_petals)
    )
    assert made.brewed_percent.low < made.brewed_percent.best < made.brewed_percent.high < 4.0


def test_pressing_gives_more_and_an_open_pot_loses_more() -> None:
    drained, pressed = brew(2.0, 500.0, 75.0, 25.0), brew(2.0, 500.0, 75.0, 25.0, pressed=True)
    assert pressed.left_in_petals < 0.6 * drained.left_in_petals
    opened = evaporated_share(75.0, 25.0, lidded=False)
    lidded = evaporated_share(75.0, 25.0, lidded=True)
    assert lidded.best < 0.2 * opened.best
    # Vapour pressure of water, CRC Handbook: 38.6 kPa at 75 C and 101.3 at 100 C; from memory,
    # unverified.
    grows = math.log1p(-evaporated_share(100.0, 1.0, lidded=False).best) / math.log1p(
        -evaporated_share(75.0, 1.0, lidded=False).best
    )
    assert grows == pytest.approx(101.3 / 38.6, rel=0.03)


# Marpaung 2012: 10 g of fresh petals (85 to 90 % water: from memory, unverified) and 40 mL of water
# at 60 C for 30 min gave 38 mL.
def test_the_water_that_petals_keep_is_that_of_a_published_blanching() -> None:
    kept = [10.0 + 40.0 - 38.0 - dry for dry in (1.0, 1.5)]
    per_gram = sorted(water / dry for water, dry in zip(kept, (1.0, 1.5), strict=True))
    ours = steeping_number("held_drained")
    low, high = ours.ends
    assert low < ours.value < per_gram[0] < high < per_gram[1]


def test_what_would_boil_away_is_refused() -> None:
    with pytest.raises(ValueError, match="may boil away"):
        brew(2.0, 500.0, 95.0, 600.0, lidded=False)


def test_a_measured_strength_replaces_the_guess() -> None:
    guess = steep(PEA, petals_percent=2.0, makes_g=500.0)
    known = steep(PEA, petals_percent=2.0, makes_g=500.0, measured_per_cm=4.1)
    assert known.strength_per_cm.best == 4.1
    # 8 % standard deviation of an instrument (data/trade/instruments.csv), nine cases in ten.
    assert known.strength_per_cm.high / 4.1 == pytest.approx(math.exp(1.645 * 0.08), rel=2e-3)
    assert known.expected_per_cm == guess.strength_per_cm
    assert known.brew == guess.brew
    assert "steep.note.measured-below" not in {note.code for note in known.notes}
    odd = steep(PEA, petals_percent=2.0, makes_g=500.0, measured_per_cm=0.4)
    assert "steep.note.measured-below" in {note.code for note in odd.notes}
    with pytest.raises(ValueError, match="above 0"):
        steep(PEA, petals_percent=2.0, makes_g=500.0, measured_per_cm=0.0)


@pytest.mark.parametrize(
    ("keys", "code"),
    [
        ({"temperature_c": 6.0, "minutes": 720.0}, "cold"),
        ({"temperature_c": 45.0}, "cool"),
        ({"temperature_c": 98.0}, "boiling"),
        ({"minutes": 4.0}, "short"),
        ({"minutes": 90.0}, "long"),
        ({"petals_percent": 8.0}, "mash"),
    ],
)
def test_what_is_unusual_is_said(keys: dict[str, float], code: str) -> None:
    given = {"petals_percent": 2.0, "makes_g": 500.0, **keys}
    made = steep(PEA, **given)  # type: ignore[arg-type]  # numbers only
    usual = steep(PEA, petals_percent=2.0, makes_g=500.0)
    codes = {note.code for note in made.notes}
    assert f"steep.note.{code}" in codes
    assert f"steep.note.{code}" not in {note.code for note in usual.notes}
    for note in (*made.notes, *made.warnings):
        assert sentence(note).endswith((".", "?"))


def test_lukewarm_for_hours_is_warned_of() -> None:
    def codes(celsius: float, minutes: float) -> set[str]:
        made = steep(PEA, petals_percent=2.0, makes_g=500.0, temperature_c=celsius, minutes=minutes)
        return {note.code for note in made.warnings}

    assert "steep.warn.lukewarm" in codes(25.0, 360.0)
    assert "steep.warn.lukewarm" not in codes(6.0, 720.0) | codes(75.0, 25.0)
    assert "steep.warn.hot" in codes(75.0, 25.0)
    assert "steep.warn.hot" not in codes(6.0, 720.0)
    assert {"steep.warn.germs", "steep.warn.skin"} <= codes(6.0, 720.0)


@pytest.mark.slow
def test_the_command_tells_what_to_do(huedose: Run) -> None:
    for width in (60, 96):
        code, out, err = huedose("brew", COLUMNS=str(width))
        text = " ".join(out.split())
        assert (code, err) == (0, "")
        assert max(len(line) for line in out.splitlines()) <= width
        assert "BREW 500 g: 10 g of dried butterfly pea and 540 g of water." in text
        assert "75 °C" in text
        assert "25 min" in text
        assert "scalds" in text
        assert "the same day" in text
        assert "try the arm first" in text
    assert "huedose calibrate" in " ".join(huedose("brew", "--more")[1].split())


@pytest.mark.slow
def test_the_document_of_the_command(huedose: Run) -> None:
    arguments = ("brew", "--petals", "3 %", "--steep-at", "176 F", "--steep-for", "0.5 hours")
    code, out, err = huedose(*arguments, "--makes", "1 kg", "--open", "--pressed", "--json")
    assert (code, err) == (0, "")
    found = json.loads(out)["steeping"]
    assert {
        *("pigment", "petals_percent", "temperature_c", "minutes", "makes_g", "brew"),
        *("strength_per_cm", "share_of_plateau", "measured", "notes", "warnings"),
    } <= set(found)
    expected = steep(
        PEA,
        petals_percent=3.0,
        makes_g=1000.0,
        temperature_c=80.0,
        minutes=30.0,
        lidded=False,
        pressed=True,
    )
    assert found["temperature_c"] == pytest.approx(80.0)
    assert found["minutes"] == pytest.approx(30.0)
    assert found["brew"]["petals_g"] == pytest.approx(30.0)
    assert found["brew"]["water_g"] == pytest.approx(expected.brew.water_g)
    assert found["brew"]["filtrate_g"]["best"] == pytest.approx(expected.brew.filtrate_g.best)
    assert found["strength_per_cm"]["best"] == pytest.approx(expected.strength_per_cm.best)
    assert found["coverage"] == 0.9
    assert found["measured"] is False


@pytest.mark.slow
def test_the_keys_for_a_recipe_give_the_same_strength(huedose: Run) -> None:
    _, out, _ = huedose("brew", "--petals", "3 %", "--steep-at", "60 C", "--more", COLUMNS="96")
    line = next(one for one in out.splitlines() if "In a recipe" in one)
    keys = line.split(": ", 1)[1].replace(", ", "\n")
    colour = parse_recipe(f'[[colour]]\npigment = "{PEA}"\namount = "1 L"\n{keys}').colours[0]
    made = steep(PEA, petals_percent=3.0, makes_g=500.0, temperature_c=60.0)
    assert colour.bottle_strength == pytest.approx(made.strength_per_cm.best, rel=0.02)
    assert not colour.strength_measured


@pytest.mark.slow
def test_the_measured_strength_on_the_command_line(huedose: Run) -> None:
    code, out, _ = huedose("brew", "--measured", "5.2 /cm", "--json")
    found = json.loads(out)["steeping"]
    assert code == 0
    assert found["measured"] is True
    assert found["strength_per_cm"]["best"] == 5.2
    _, out, _ = huedose("brew", "--measured", "5.2 /cm", "--more", COLUMNS="96")
    assert "as strong as you measured" in " ".join(out.split())
    assert 'strength = "5.2 /cm"' in out


@pytest.mark.slow
@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("--pigment", "tartrazine"), "a dye"),
        (("--pigment", "butterfly-pie"), "did you mean"),
        (("--petals", "0 %"), "petals is '0 %'"),
        (("--petals", "40 %"), "petals is '40 %'"),
        (("--petals", "5 g"), "not a unit for it"),
        (("--steep-at", "140 C"), "0 to 100 °C"),
        (("--steep-at", "75"), "without a unit"),
        (("--steep-for", "0 min"), "steep-for is '0 min'"),
        (("--steep-for", "-5 min"), "steep-for is '-5 min'"),
        (("--steep-for", "25"), "without a unit"),
        (("--makes", "0 g"), "makes is '0 g'"),
        (("--makes", "500"), "without a unit"),
        (("--makes", "nan g"), "not a finite number"),
        (("--measured", "0 /cm"), "above 0"),
        (("--measured", "2 %"), "not a unit for it"),
        (("--open", "--steep-for", "24 hours"), "boil away"),
        (("--time", "6 horses"), "time"),
        (("--time", "-1 day"), "time"),
        (("--shelf", "300 C"), "shelf"),
        (("--bottle-ph", "15"), "bottle-ph"),
        (("--soak", "an hour or so"), "soak"),
        (("--baths", "0"), "baths"),
        (("--bottle", "10 g"), "bottle"),
        (("--bottle", "0 mL"), "bottle"),
    ],
)
def test_nonsense_is_refused_in_one_sentence(
    huedose: Run, arguments: tuple[str, ...], words: str
) -> None:
    code, out, err = huedose("brew", *arguments)
    assert (code, out, err.count("\n")) == (2, "", 1)
    assert words in err


def _recipe(keys: str, colour: str = f'pigment = "{PEA}"\namount = "1 L"') -> str:
    return f'[tub]\nvolume = "100 L"\n[[colour]]\n{colour}\n{keys}'


def test_a_recipe_counts_with_how_its_petals_steeped() -> None:
    plain = parse_recipe(_recipe('strength = "2 %"'))
    cold = parse_recipe(_recipe('strength = "2 %"\nsteeped_at = "8 C"\nsteeped_for = "12 hours"'))
    made = infusion(PEA, 2.0, 8.0, 720.0)
    assert cold.colours[0].bottle_strength == pytest.approx(float(made.best))
    assert cold.colours[0].content == pytest.approx(float(made.best))
    assert cold.colours[0].strength_sd == pytest.approx(float(made.relative_sd))
    assert relative_spreads(cold)[2] == pytest.approx(float(made.relative_sd))
    assert relative_spreads(plain)[2] == colourant(PEA).strength_sd
    codes = {note.code for note in cold.assumptions}
    assert {"assume.recipe.steeped", "steep.note.cold"} <= codes


def test_one_key_of_steeping_is_enough_and_petals_may_be_weighed() -> None:
    minutes = parse_recipe(_recipe('strength = "2 %"\nsteeped_for = "5 min"')).colours[0]
    usual = steeping_value("usual_temperature")
    assert minutes.content == pytest.approx(float(infusion(PEA, 2.0, usual, 5.0).best))
    weighed = parse_recipe(_recipe('steeped_for = "5 min"', f'pigment = "{PEA}"\namount = "20 g"'))
    assert weighed.colours[0].content == pytest.approx(minutes.content)


def test_petals_are_counted_as_they_steeped() -> None:
    # A tub takes the same colour whatever it was brewed of; petals that gave less of it are more.
    plain, cold = (
        parse_recipe(_recipe(f'strength = "2 %"{keys}'))
        for keys in ("", '\nsteeped_at = "8 C"\nsteeped_for = "20 min"')
    )
    shares = cold.colours[0].bottle_strength, plain.colours[0].bottle_strength
    assert shares[0] is not None
    assert shares[1] is not None
    assert shares[0] < 0.9 * shares[1]
    usual, more = (tint_amounts(one, assemble(one), possible_tubs(one)) for one in (plain, cold))
    for one, other in zip(usual, more, strict=True):
        assert other.infusion_percent == pytest.approx(2.0)
        assert other.petals_g == pytest.approx(one.petals_g * shares[1] / shares[0], rel=0.01)
        assert other.infusion_ml == pytest.approx(other.petals_g / 20.0 * 1000.0)
    bottles = (bottle_looks(plain, usual, 500.0, 2), bottle_looks(cold, more, 500.0, 2))
    for look, same in zip(*bottles, strict=True):
        # The same colour in the bottle, of more petals.
        assert same.percent > look.percent
        assert same.colour.lab == pytest.approx(look.colour.lab, abs=0.5)


def test_petals_of_a_measured_infusion_are_counted_as_usual() -> None:
    read = parse_recipe(_recipe('strength = "6 /cm"'))
    assert read.colours[0].petals_percent is None
    assert PER_PERCENT is not None
    (one, *_) = tint_amounts(read, assemble(read), possible_tubs(read))
    assert one.infusion_percent == pytest.approx(6.0 / PER_PERCENT.best)


def test_measured_colours_keep_the_spread_of_the_instrument() -> None:
    read = parse_recipe(_recipe('strength = "6 /cm"'))
    assert relative_spreads(read)[2] == 0.08
    told = replace(read, colours=(replace(read.colours[0], strength_sd=0.3),))
    assert relative_spreads(told)[2] == 0.3


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (_recipe('strength = "6 /cm"\nsteeped_at = "75 C"'), "given as measured"),
        (
            _recipe('steeped_for = "25 min"', 'dye = "tartrazine"\namount = "10 mg"'),
            "a dye is not steeped",
        ),
        (_recipe('steeped_at = "140 C"'), "0 to 100 °C"),
        (_recipe('steeped_for = "1 week"'), "0.5 to 4320 minutes"),
        (_recipe("steeped_for = 25"), "without a unit"),
    ],
)
def test_steeping_keys_that_cannot_be_used(
    huedose: Run, tmp_path: object, text: str, words: str
) -> None:
    from pathlib import Path

    path = Path(str(tmp_path)) / "evening.toml"
    path.write_text(text, encoding="utf-8")
    code, out, err = huedose("plan", path)
    assert (code, out, err.count("\n")) == (2, "", 1)
    assert words in err


def test_the_usual_amounts_agree_with_the_rest_of_the_house() -> None:
    assert typical("usual_infusion_percent").value == 2.0
    for quantity in ("release_rate", "held_drained", "held_pressed", "evaporation_open"):
        found = steeping_number(quantity)
        low, high = found.ends
        assert low < found.value < high
