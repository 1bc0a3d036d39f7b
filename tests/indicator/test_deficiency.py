"""Changes as people with a colour-vision deficiency see them."""

from __future__ import annotations

import colour
import numpy as np
import pytest

from indicator.deficiency import change_seen_by, seen_by


def test_white_black_and_grey_stay_what_they_are() -> None:
    for deficiency in ("protan", "deutan", "tritan"):
        found = seen_by(["#FFFFFF", "#000000", "#808080"], deficiency)
        np.testing.assert_allclose(found, [[255] * 3, [0] * 3, [128] * 3], atol=2)


def test_it_is_the_published_matrix_on_linear_light() -> None:
    # Machado et al. 2009, complete protanomaly (table 1: 0.152286, 1.052583, -0.204868 first row).
    matrix = colour.blindness.matrix_cvd_Machado2009("Protanomaly", 1.0)
    np.testing.assert_allclose(matrix[0], [0.152286, 1.052583, -0.204868], atol=1e-5)
    linear = colour.models.eotf_sRGB(np.array([0x40, 0xA0, 0x60]) / 255.0)
    expected = colour.models.eotf_inverse_sRGB(np.clip(matrix @ linear, 0, 1)) * 255.0
    np.testing.assert_allclose(seen_by(["#40A060"], "protan"), [expected], atol=1.0)


def test_red_and_green_of_one_lightness_fall_together_for_most() -> None:
    # The pair differs for everyone but those to whom red and green are alike.
    change = change_seen_by("#B05050", "#507850")
    assert change["tritan"] > 2 * min(change["protan"], change["deutan"])


def test_an_unknown_deficiency_is_refused() -> None:
    with pytest.raises(ValueError, match="accepted are protan, deutan, tritan"):
        seen_by(["#FFFFFF"], "mono")
