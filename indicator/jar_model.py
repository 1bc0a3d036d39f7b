"""Jars as a pigment predicts them: the readings, the numbers to be fitted, what is expected.

What a maker read of a series of jars, and the same worked out from a pigment, its strength, the
light and the width of the jars, with how far each reading may be off.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from indicator.absorbance import WAVELENGTH_NM, form_spectra
from indicator.appearance import lab_of, photographed_linear
from indicator.colourants import Colourant, Strength
from indicator.micelles import CATION, has_cation, micelle_shift
from indicator.optics import View
from indicator.photograph import toned
from indicator.speciation import form_fractions
from indicator.spread import SPREADS, cast_error, height_sd, reading_error
from indicator.srgb import lab_from_linear
from indicator.tables import value_of

Array = NDArray[np.float64]

MUCH = 1000.0
"""Times the surfactants of the liquid: all of a pigment is bound."""
LEAST_SHARE = 0.02
"""Of a form in some jar, for its height to be fitted."""
NEAR_PH = 0.7
"""A constant this far outside the pH of the jars can still be felt by them; the jars beyond not."""
UNKNOWN_STRENGTH_SD = 2.0
"""Of the logarithm of a strength about which nothing is known."""


@dataclass(frozen=True)
class Unread:
    """A jar whose colour the picture does not tell."""

    label: str
    ph: float
    reason: str
    """A sentence."""


@dataclass(frozen=True)
class Series:
    """A maker's jars: one pigment at several pH values."""

    ph: Array
    """Shape (jars,)."""
    values: Array
    """Absorbance per cm, shape (jars, wavelengths); or CIELAB, shape (jars, 3)."""
    dilution: Array
    """Strength of each jar over that of the liquid that is calibrated, shape (jars,)."""
    kind: str
    """``"absorbance"``, ``"lab"``, ``"hex"`` or ``"photograph"``."""
    ph_by: str
    """``"buffer"``, ``"meter"`` or ``"drop-kit"``."""
    labels: tuple[str, ...]
    """What each jar is called."""
    wavelength_nm: Array | None = None
    """Of the absorbances."""
    view: View | None = None
    """Of the colours."""
    path_measured: bool = True
    """Whether the width of the jars was measured, or taken as usual."""
    unread: tuple[Unread, ...] = ()
    """Jars of the same picture that are left out."""
    white: tuple[float, float, float] = (0.6, 0.6, 0.6)
    """Linear sRGB of the white in the picture, 1 the brightest that it can hold."""

    @property
    def in_daylight(self) -> bool:
        """Whether the colours are those of a balanced picture, as if seen in daylight."""
        return self.kind in ("hex", "photograph")

    @property
    def cast(self) -> float:
        """Brightest over darkest channel of the white."""
        return max(self.white) / min(self.white)

    @property
    def jars(self) -> int:
        """Number of jars."""
        return len(self.ph)


def reading_kinds() -> tuple[str, ...]:
    """Kinds of readings of a jar's colour."""
    return ("absorbance", "lab", "hex", "photograph")


def fitted_constants(which: Colourant, series: Series) -> list[int]:
    """Places of the forms whose constants lie where the jars are."""
    low, high = float(series.ph.min()) - NEAR_PH, float(series.ph.max()) + NEAR_PH
    return [
        place
        for place, form in enumerate(which.forms)
        if form.pka is not None and form.pka_sd and low <= form.pka <= high
    ]


class JarModel:
    """The numbers to be fitted, what is expected of them, and the jars they predict."""

    def __init__(
        self,
        which: Colourant,
        series: Series,
        petals_percent: float | None,
        surfactants_g_l: Mapping[str, float] | None,
    ) -> None:
        self.which, self.series, self.petals_percent = which, series, petals_percent
        nm = WAVELENGTH_NM if series.wavelength_nm is None else series.wavelength_nm
        self.spectra = form_spectra(which, nm)
        self.noise = reading_error(series.kind)
        self.absolute = float(np.hypot(self.noise.absolute, cast_error(series.cast)))
        self.ph_sd = reading_error(f"ph_{series.ph_by}").absolute
        self.names: list[tuple[str, int]] = [("strength", -1)]
        deviations = [self._strength_sd()]
        self.names += [("pka", place) for place in fitted_constants(which, series)]
        deviations += [which.forms[place].pka_sd or 0.0 for _, place in self.names[1:]]
        heights = height_sd(which)
        seen = form_fractions(which, series.ph).max(axis=0)
        # What no jar holds enough of cannot be told apart from noise.
        told = [int(k) for k in np.flatnonzero((heights > 0) & (seen > LEAST_SHARE))]
        self.names += [("height", place) for place in told]
        deviations += [float(heights[place]) for place in told]
        ninety = value_of(SPREADS, "ninety_percent")
        self.expected_shift, self.bound = 0.0, np.zeros(series.jars)
        if surfactants_g_l and has_cation(which):
            much = {kind: MUCH * one for kind, one in surfactants_g_l.items()}
            shift = micelle_shift(much, which.micelle_shift)
            thinned = {kind: one * series.dilution for kind, one in surfactants_g_l.items()}
            self.bound = micelle_shift(thinned, Strength(1.0, 1.0, 1.0)).best
            self.expected_shift = float(shift.best)
            self.names.append(("shift", -1))
            deviations.append(max(float(shift.high - shift.low) / (2 * ninety), 1e-3))
        if series.view is not None:
            self.names.append(("gain", -1))
            deviations.append(self.noise.gain_sd)
            path = "path_measured" if series.path_measured else "path_usual"
            # A steeper tone curve is much the same as more colour: T^c is the absorbance times c.
            camera = [f"contrast_{series.kind}"] if series.in_daylight else []
            together = [path, "thinning", *camera]
            self.names.append(("amount", -1))
            deviations.append(float(np.linalg.norm([reading_error(k).relative for k in together])))
        self.expected_curve = 0.0
        if series.kind == "photograph":
            self.expected_curve = value_of(SPREADS, "camera_curve")
            self.names.append(("curve", -1))
            deviations.append(value_of(SPREADS, "camera_curve_sd"))
        self.prior_sd = np.array(deviations)
        self.start_strength, self.first_guess = self._start()

    def _strength_sd(self) -> float:
        known = self.which.per_percent
        if self.petals_percent is None or known is None:
            return UNKNOWN_STRENGTH_SD
        ninety = value_of(SPREADS, "ninety_percent")
        return float(np.log(known.high / known.low) / (2 * ninety))

    def _start(self) -> tuple[float, float]:
        """Strength that is expected, and how far from it (as a logarithm) the fit starts."""
        read = self._strength_as_read()
        known = self.which.per_percent
        if self.petals_percent is None or known is None:
            return read, 0.0
        expected = self.petals_percent * known.best
        most = 7.0 * self._strength_sd()
        return expected, float(np.clip(np.log(read / expected), -most, most))

    def _strength_as_read(self) -> float:
        """The strength whose colours, all else as expected, come nearest to the jars."""
        strengths = np.geomspace(1e-3, 1e3, 241) / max(float(self.spectra.max()), 1e-9)
        misfits = [
            float(np.median(np.abs(self._predicted(np.log(one), {}) - self.series.values)))
            for one in strengths
        ]
        return float(strengths[int(np.argmin(misfits))])

    def predicted(self, theta: Array) -> Array:
        """Readings of the jars, shape (jars, values)."""
        moved = dict(zip(self.names, theta, strict=True))
        return self._predicted(np.log(self.start_strength) + moved[("strength", -1)], moved)

    def _predicted(self, log_strength: float, moved: dict[tuple[str, int], float]) -> Array:
        at = self._predicted_at(self.series.ph, log_strength, moved)
        return np.asarray(at)

    def _predicted_at(
        self, ph: Array, log_strength: float, moved: dict[tuple[str, int], float]
    ) -> Array:
        pka = self.which.pka.copy()
        heights = np.ones(len(self.which.forms))
        for (what, place), value in moved.items():
            if what == "pka":
                pka[place] += value
            elif what == "height":
                heights[place] = np.exp(value)
        shift = (self.expected_shift + moved.get(("shift", -1), 0.0)) * self.bound
        held = np.array([form.from_form == CATION for form in self.which.forms])
        fractions = form_fractions(self.which, ph, pka + shift[:, None] * held) * heights
        amount = np.exp(log_strength + moved.get(("amount", -1), 0.0))
        strength = amount * self.series.dilution
        absorbance = strength[:, None] * (fractions @ self.spectra)
        if self.series.view is None:
            return np.asarray(absorbance)
        # A brighter light than the white's is the same as less absorbance at all wavelengths.
        gain = moved.get(("gain", -1), 0.0) / np.log(10.0) / self.series.view.path_cm
        if not self.series.in_daylight:
            return lab_of(absorbance - gain, self.series.view)
        share = self.expected_curve + moved.get(("curve", -1), 0.0)
        linear = photographed_linear(absorbance - gain, self.series.view)
        return lab_from_linear(toned(linear, np.array(self.series.white), share))

    def whitening(self, theta: Array) -> Array:
        """What turns residuals of a jar into independent ones of unit spread: (jars, v, v)."""
        moved = dict(zip(self.names, theta, strict=True))
        log_strength = np.log(self.start_strength) + moved[("strength", -1)]
        step = 0.01
        up, down = (
            self._predicted_at(self.series.ph + move, log_strength, moved) for move in (step, -step)
        )
        slope = (up - down) / (2 * step)
        here = self.predicted(theta)
        if self.series.view is None:
            size = np.abs(here)
        else:
            size = np.broadcast_to(np.hypot(here[:, 1], here[:, 2])[:, None], here.shape)
        deviation = np.hypot(self.absolute, self.noise.relative * size)
        covariance = deviation[:, :, None] ** 2 * np.eye(here.shape[1])
        covariance = covariance + self.ph_sd**2 * slope[:, :, None] * slope[:, None, :]
        return np.asarray(np.linalg.inv(np.linalg.cholesky(covariance)))
