"""Speciation and absorbance together, on indicator dyes whose constants metrologists published.

This checks the algebra that leads from forms and bands to a ratio of absorbances, with each paper's
constants on its own pH scale; it says nothing about the scale of activities.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from indicator.absorbance import form_fractions, form_spectra
from indicator.colourants import BandRow, Colourant, FormRow
from indicator.pigments import colourant

NARROW_NM = 12.0


def dye(pka: float, acid_nm: float, base_nm: float, e1: float, e2: float, e3: float) -> Colourant:
    """Two forms with bands so narrow that each paper's ratios are met exactly.

    e1: of the acid form, base band over acid band; e2, e3: of the base form at the base and at the
    acid band over the acid form at the acid band.
    """
    forms = (
        FormRow("dye", "dye", "acid", "", 0, None, None, source="paper", confidence="SEEN"),
        FormRow("dye", "dye", "base", "acid", 1, pka, 0.0, source="paper", confidence="SEEN"),
    )
    bands = tuple(
        BandRow("dye", form, "gaussian", nm, NARROW_NM, height, source="paper", confidence="SEEN")
        for form, nm, height in (
            ("acid", acid_nm, 1.0),
            ("acid", base_nm, e1),
            ("base", base_nm, e2),
            ("base", acid_nm, e3),
        )
    )
    return replace(colourant("tartrazine"), name="dye", forms=forms, bands=bands)


def ratio(found: Colourant, ph: float, acid_nm: float, base_nm: float) -> float:
    spectra = form_fractions(found, ph) @ form_spectra(found, np.array([acid_nm, base_nm]))
    return float(spectra[1] / spectra[0])


def recovered_ph(found: Colourant, wanted: float, acid_nm: float, base_nm: float) -> float:
    low, high = 2.0, 12.0
    for _ in range(60):
        middle = 0.5 * (low + high)
        if ratio(found, middle, acid_nm, base_nm) < wanted:
            low = middle
        else:
            high = middle
    return low


def m_cresol_purple(salinity: float, kelvin: float) -> tuple[float, float, float]:
    """-log(K2 e2), e1 and e3/e2 of purified m-cresol purple, total scale.

    Liu, Patsavas and Byrne, Environ. Sci. Technol. 45:4862 (2011), doi 10.1021/es200665d.
    """
    s, t = salinity, kelvin
    a = -246.64209 + 0.315971 * s + 2.8855e-4 * s**2
    b = 7229.23864 - 7.098137 * s - 0.057034 * s**2
    c = 44.493382 - 0.052711 * s
    log_k2e2 = a + b / t + c * np.log(t) - 0.0781344 * t
    e1 = -0.007762 + 4.5174e-5 * t
    e3_over_e2 = -0.020813 + 2.60262e-4 * t + 1.0436e-4 * (s - 35.0)
    return float(log_k2e2), e1, e3_over_e2


@pytest.mark.parametrize(
    ("kelvin", "absorbance_ratio", "ph"),
    # The first is the check value of the paper at salinity 35, the second worked from its equation.
    [(298.15, 1.0, 7.6708), (293.15, 1.5, 7.9249)],
)
def test_m_cresol_purple_gives_its_ph_back(
    kelvin: float, absorbance_ratio: float, ph: float
) -> None:
    log_k2e2, e1, e3_over_e2 = m_cresol_purple(35.0, kelvin)
    e2 = 2.2
    found = dye(log_k2e2 + np.log10(e2), 434.0, 578.0, e1, e2, e2 * e3_over_e2)
    assert recovered_ph(found, absorbance_ratio, 434.0, 578.0) == pytest.approx(ph, abs=1e-3)


@pytest.mark.parametrize(
    ("salinity", "log_k2e2", "e4"), [(0.0, 6.0214, 0.01578), (35.0, 5.3944, 0.01626)]
)
def test_bromocresol_purple_gives_its_ph_back(salinity: float, log_k2e2: float, e4: float) -> None:
    # Hudson-Heck, Liu and Byrne, ACS Omega 6:17941 (2021), doi 10.1021/acsomega.1c01579, 298.15 K:
    # pH = -log(K2 e2) + log((R - e1)/(1 - R e4)), e1 = 0.00049.
    e1, e2 = 0.00049, 2.0
    found = dye(log_k2e2 + np.log10(e2), 432.0, 589.0, e1, e2, e2 * e4)
    for measured in (0.3, 1.0, 4.0):
        printed = log_k2e2 + np.log10((measured - e1) / (1.0 - measured * e4))
        recovered = recovered_ph(found, measured, 432.0, 589.0)
        assert recovered == pytest.approx(printed, abs=1e-3), salinity


def test_thymol_blue_is_half_turned_at_its_constant() -> None:
    # Talanta 46:1439 (1998), doi 10.1016/S0039-9140(98)00015-0: pKa2 8.918 at low ionic strength.
    found = dye(8.918, 435.0, 596.0, 0.0, 2.0, 0.0)
    np.testing.assert_allclose(form_fractions(found, 8.918), [0.5, 0.5])
