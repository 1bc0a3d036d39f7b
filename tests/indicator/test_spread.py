"""How far a colour may be off, by what is not known of its pigment."""

from __future__ import annotations

import numpy as np

from indicator.absorbance import mixture_absorbance
from indicator.appearance import seen
from indicator.optics import jar_view
from indicator.pigments import colourant
from indicator.spread import drawn_absorbance, draws_of, height_sd, spread_delta_e

PH = np.array([1.0, 3.1, 5.0, 7.0, 9.0])


def spread(strengths: dict[str, float], ph: np.ndarray) -> np.ndarray:
    view = jar_view()
    forecast = seen(mixture_absorbance(strengths, ph), view)
    return spread_delta_e(strengths, ph, view, forecast.lab)


def test_draws_have_the_spreads_of_the_tables() -> None:
    which = colourant("butterfly-pea")
    drawn = draws_of(which, 4000)
    forms = [form.form for form in which.forms]
    place = forms.index("neutral base")
    np.testing.assert_allclose(
        drawn.pka[:, place].std(), which.forms[place].pka_sd or 0.0, rtol=0.05
    )
    np.testing.assert_allclose(drawn.pka[:, place].mean(), which.pka[place], atol=0.02)
    np.testing.assert_allclose(
        np.log(drawn.heights).std(axis=0), height_sd(which), rtol=0.06, atol=1e-12
    )


def test_the_mean_of_the_draws_is_about_the_forecast() -> None:
    drawn = drawn_absorbance({"butterfly-pea": 0.1}, np.tile(PH, (2000, 1))).mean(axis=0)
    forecast = mixture_absorbance({"butterfly-pea": 0.1}, PH)
    # Drawing bends a curve a little; nothing of it is off by more than a tenth of the maximum.
    np.testing.assert_allclose(drawn, forecast, atol=0.1 * forecast.max())


def test_it_is_widest_where_a_turn_is_not_known() -> None:
    found = spread({"butterfly-pea": 0.1}, PH)
    assert found[0] < 5
    assert found.argmin() == 0


def test_a_dye_of_one_form_is_as_sure_as_its_strength() -> None:
    np.testing.assert_allclose(spread({"tartrazine": 2e-6}, PH), 0.0, atol=1e-9)


def test_the_same_question_gets_the_same_answer() -> None:
    np.testing.assert_array_equal(
        spread({"red-cabbage": 0.1}, PH), spread({"red-cabbage": 0.1}, PH)
    )
