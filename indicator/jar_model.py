"""Jars as a pigment predicts them: the readings, the numbers to be fitted, what is expected.

What a maker read of a series of jars, and the same worked out from a pigment, its strength, the
light and the width of the jars, with how far each reading may be off.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from indicator.absorbance import WAVELENGTH_NM, form_fractions, form_spectra
from indicator.appearance import lab_of, photographed_linear
from indicator.camera import LIGHTS, picture_weights, ways_to_differ, with_saturation
from indicator.colourants import Colourant, Range
from indicator.micelles import CATION, has_cation, micelle_shift
from indicator.named_numbers import Name, NamedNumbers, felt_constants, pigment_numbers, plain
from indicator.optics import View
from indicator.photograph import ToneCurve, camera_tones, limit, toned
from indicator.robust_fit import RobustFit
from indicator.spread import SPREADS, cast_error, reading_error
from indicator.srgb import encoded, lab_from_linear, linear_srgb
from indicator.tables import NINE_IN_TEN_SD, value_of

Array = NDArray[np.float64]

MUCH = 1000.0
"""Times the surfactants of the liquid: all of a pigment is bound."""
LEAST_SHARE = 0.02
"""Of a form in some jar, for its height to be fitted."""
NEAR_PH = 0.7
"""A constant this far outside the pH of the jars can still be felt by them; the jars beyond not."""
UNKNOWN_STRENGTH_SD = 2.0
"""Of the logarithm of a strength about which nothing is known."""
FURTHEST_START = 7.0
"""From the expected strength [standard deviations]."""
WAYS, TYPICAL = 5, 0.6
"""In which pictures of the same glasses differ; absorbance on the light's way for which they do."""
STEP, PH_STEP = 1e-3, 0.01
"""For slopes [standard deviations], [pH]."""


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
    ph_sd: Array | None = None
    """Standard deviation of each pH, shape (jars,); that of `ph_by` if not given."""
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
    curve: ToneCurve | None = None
    """Tone curve of the picture, where a photo mat tells it."""
    light_known: bool = True
    """Whether the light of the view is the one that the picture was taken in."""

    @property
    def on_mat(self) -> bool:
        """Whether the jars were photographed on the photo mat."""
        return self.curve is not None

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


def fitted_constants(which: Colourant, series: Series) -> list[int]:
    """Places of the forms whose constants lie where the jars are.

    Parameters
    ----------
    which : Colourant
        The pigment.
    series : Series
        The jars.

    Returns
    -------
    list of int
        Indices on the axis of forms.
    """
    low, high = float(series.ph.min()) - NEAR_PH, float(series.ph.max()) + NEAR_PH
    return felt_constants(which, low, high)


def _tone_curve(series: Series) -> tuple[float, float]:
    """Share of the usual tone curve that is expected of a picture, and its standard deviation."""
    if series.kind != "photograph":
        return 0.0, 0.0
    if series.curve is not None:
        return series.curve.share, series.curve.share_sd
    return value_of(SPREADS, "camera_curve"), value_of(SPREADS, "camera_curve_sd")


class CalibrationJars(NamedNumbers, RobustFit):
    """The numbers to be fitted, what is expected of them, and the jars they predict.

    One series, so that all arrays begin with an axis of length 1.
    """

    rounds, turns, settled, known_scatter = 25, 15, 1e-4, 0.0

    def __init__(
        self,
        which: Colourant,
        series: Series,
        petals_percent: float | None,
        surfactants_g_l: Mapping[str, float] | None,
    ) -> None:
        self.which, self.series, self.petals_percent = which, series, petals_percent
        self.read = series.values[None]
        nm = WAVELENGTH_NM if series.wavelength_nm is None else series.wavelength_nm
        self.spectra = form_spectra(which, nm)
        self.noise = reading_error("mat" if series.on_mat else series.kind)
        absolute, self.relative = np.array(self.noise.absolute), np.array(self.noise.relative)
        if series.on_mat:
            lightness = reading_error("mat_lightness")
            absolute = np.array([lightness.absolute, *absolute.repeat(2)])
            self.relative = np.array([lightness.relative, *self.relative.repeat(2)])
        # On the mat a lamp's light and balance are numbers of the fit; a candle leaves more.
        plain_cast = limit("most_plain_cast") if series.on_mat else 1.0
        self.absolute = np.hypot(absolute, cast_error(max(series.cast / plain_cast, 1.0)))
        by_reading = reading_error(f"ph_{series.ph_by}").absolute
        self.ph_sd = np.full(series.jars, by_reading) if series.ph_sd is None else series.ph_sd
        self.expected_shift, self.bound = 0.0, np.zeros(series.jars)
        self.expected_curve, self.curve_sd = _tone_curve(series)
        super().__init__(
            {
                plain("strength"): self._strength_sd(),
                **self._of_pigment(),
                **self._of_micelles(surfactants_g_l or {}),
                **self._of_view(),
            }
        )
        if series.view is not None and series.on_mat:
            self.pictures = self._pictures(series.view)
        self.start_strength, first = self._start()
        self.first_guess = np.zeros((1, len(self.names)))
        self.first_guess[0, 0] = first

    def _strength_sd(self) -> float:
        known = self.which.per_percent
        if self.petals_percent is None or known is None:
            return UNKNOWN_STRENGTH_SD
        return float(np.log(known.high / known.low) / (2 * NINE_IN_TEN_SD))

    def _of_pigment(self) -> dict[Name, float]:
        """Constants and heights that these jars can tell, each with its spread."""
        most = form_fractions(self.which, self.series.ph).max(axis=0)
        # What no jar holds enough of cannot be told apart from noise.
        constants = fitted_constants(self.which, self.series)
        return pigment_numbers(self.which, constants, most > LEAST_SHARE)

    def _of_micelles(self, surfactants_g_l: Mapping[str, float]) -> dict[Name, float]:
        """The shift of a constant by surfactants, where the cation may be bound to them."""
        if not surfactants_g_l or not has_cation(self.which):
            return {}
        much = {kind: MUCH * grams for kind, grams in surfactants_g_l.items()}
        shift = micelle_shift(much, self.which.micelle_shift)
        thinned = {kind: grams * self.series.dilution for kind, grams in surfactants_g_l.items()}
        self.bound = micelle_shift(thinned, Range(1.0, 1.0, 1.0)).best
        self.expected_shift = float(shift.best)
        width = float(shift.high - shift.low) / (2 * NINE_IN_TEN_SD)
        return {plain("shift"): max(width, 1e-3)}

    def _of_view(self) -> dict[Name, float]:
        """What the light, the width of the jars and a camera may change."""
        series = self.series
        if series.view is None:
            return {}
        path = "path_measured" if series.path_measured else "path_usual"
        # A steeper tone curve is much the same as more colour: T^c is the absorbance times c.
        more = ["thinning", *([f"contrast_{series.kind}"] if series.in_daylight else [])]
        if series.on_mat:
            more = ["way_mat", "thinning", "contrast_mat"]
        amount = float(np.linalg.norm([reading_error(what).relative for what in (path, *more)]))
        numbers = {plain("gain"): self.noise.gain_sd, plain("amount"): amount}
        if series.kind == "photograph":
            numbers[plain("curve")] = self.curve_sd
        if series.curve is not None:
            numbers |= {("picture", "", way): 1.0 for way in range(WAYS)}
            numbers[plain("shape")] = series.curve.shape_sd
            numbers[plain("veil")] = reading_error("veil").absolute
            numbers[plain("saturation")] = reading_error("saturation").relative
        return numbers

    def _start(self) -> tuple[float, float]:
        """Strength that is expected, and how far from it the fit starts [standard deviations]."""
        read = self._strength_as_read()
        known = self.which.per_percent
        if self.petals_percent is None or known is None:
            return read, 0.0
        expected = self.petals_percent * known.best
        away = float(np.log(read / expected)) / self._strength_sd()
        return expected, float(np.clip(away, -FURTHEST_START, FURTHEST_START))

    def _pictures(self, view: View) -> Array:
        """Weights of the mean picture and of ways to differ, shape (wavelengths, 3 x pictures)."""
        weights = picture_weights((view.light,) if self.series.light_known else LIGHTS)
        spectra = form_fractions(self.which, self.series.ph) @ self.spectra
        absorbance = TYPICAL / view.way_cm / max(float(spectra.max()), 1e-9) * spectra
        ways = ways_to_differ(weights, view.share(absorbance), WAYS)
        return np.concatenate([weights.mean(axis=0), *ways], axis=-1)

    def _strength_as_read(self) -> float:
        """The strength whose colours, all else as expected, come nearest to the jars."""
        strengths = np.geomspace(1e-3, 1e3, 241) / max(float(self.spectra.max()), 1e-9)
        as_expected = np.zeros((len(strengths), len(self.names)))
        away = self._at(self.series.ph, np.log(strengths), as_expected) - self.series.values
        return float(strengths[int(np.argmin(np.median(np.abs(away), axis=(-1, -2))))])

    def some(self, which: NDArray[np.intp]) -> CalibrationJars:
        """The same: there is one series."""
        return self

    def predicted(self, numbers: Array) -> Array:
        """Readings of numbers (..., numbers), shape (..., jars, values)."""
        return self._at(self.series.ph, self._log_strength(numbers), numbers)

    def slopes(self, numbers: Array) -> tuple[Array, Array]:
        """Readings, and their derivatives, shape (series, numbers, jars, values)."""
        moves = STEP * np.eye(len(self.names))
        here, up, down = (numbers[:, None] + sign * moves for sign in (0.0, 1.0, -1.0))
        slopes = (self.predicted(up) - self.predicted(down)) / (2 * STEP)
        return self.predicted(here[:, 0]), np.asarray(slopes)

    def _log_strength(self, numbers: Array) -> Array:
        return np.asarray(np.log(self.start_strength) + self.move(numbers, "strength"))

    def _at(self, ph: Array, log_strength: Array, numbers: Array) -> Array:
        """Readings of jars of these pH values, shape (..., jars, values)."""
        pka, heights = self.pigment(self.which, numbers)
        shift = (self.expected_shift + self.move(numbers, "shift"))[..., None] * self.bound
        held = np.array([form.from_form == CATION for form in self.which.forms])
        constants = pka[..., None, :] + shift[..., None] * held
        fractions = form_fractions(self.which, ph, constants) * heights[..., None, :]
        amount = np.exp(log_strength + self.move(numbers, "amount"))[..., None]
        absorbance = (amount * self.series.dilution)[..., None] * (fractions @ self.spectra)
        if self.series.view is None:
            return np.asarray(absorbance)
        # A brighter light than the white's is the same as less absorbance at all wavelengths.
        gain = self.move(numbers, "gain") / np.log(10.0) / self.series.view.way_cm
        absorbance = absorbance - gain[..., None, None]
        if not self.series.in_daylight:
            return lab_of(absorbance, self.series.view)
        share = self.expected_curve + self.move(numbers, "curve")[..., None, None]
        view, curve = self.series.view, self.series.curve
        if curve is not None:
            shape = curve.shape + curve.shape_per_share * self.move(numbers, "curve")
            shape = (shape + self.move(numbers, "shape"))[..., None, None]
            linear = self._pictured(view.share(absorbance), numbers)
            return lab_from_linear(self._written(linear, share, shape, numbers))
        linear = photographed_linear(absorbance, view)
        return lab_from_linear(toned(linear, np.array(self.series.white), share))

    def _pictured(self, reflectance: Array, numbers: Array) -> Array:
        """Linear sRGB of glasses on the mat over the paper's, as a camera has it before it writes.

        Shape (..., jars, 3).
        """
        seen = reflectance @ self.pictures
        linear = seen[..., :3] + self.move(numbers, "veil")[..., None, None]
        for way in range(WAYS):
            move = self.move(numbers, "picture", place=way)[..., None, None]
            linear = linear + move * seen[..., 3 * way + 3 : 3 * way + 6]
        return np.asarray(np.clip(linear, 0.0, 1.0))

    def _written(self, linear: Array, share: Array, shape: Array, numbers: Array) -> Array:
        """The same as it stands in the picture: tones bent, then colours made stronger."""
        times = np.exp(self.move(numbers, "saturation"))[..., None, None]
        white = np.array(self.series.white)
        # The paper, too, has become more colourful than it was.
        paper = linear_srgb(255.0 * with_saturation(encoded(white), 1.0 / times))
        bent = encoded(paper * camera_tones(linear, paper, share, shape))
        return np.asarray(linear_srgb(255.0 * with_saturation(bent, times)) / white)

    def whitening(self, numbers: Array, expected: Array) -> Array:
        """Matrices that make the errors of the readings independent and of size 1.

        A wrong pH moves all values of a jar together, so these are no diagonals.

        Parameters
        ----------
        numbers : numpy.ndarray
            The numbers that are fitted, shape (..., numbers).
        expected : numpy.ndarray
            Readings that they predict, shape (..., jars, values).

        Returns
        -------
        numpy.ndarray
            Inverse Cholesky factors of the covariance, shape (..., jars, values, values).
        """
        log_strength = self._log_strength(numbers)
        up, down = (
            self._at(self.series.ph + move, log_strength, numbers) for move in (PH_STEP, -PH_STEP)
        )
        uncertain = self.ph_sd[:, None] * (up - down) / (2 * PH_STEP)
        if self.series.view is None:
            size = np.abs(expected)
        else:
            size = np.hypot(expected[..., 1:2], expected[..., 2:3])
        deviation = np.broadcast_to(np.hypot(self.absolute, self.relative * size), expected.shape)
        covariance = deviation[..., None] ** 2 * np.eye(expected.shape[-1])
        covariance = covariance + uncertain[..., None] * uncertain[..., None, :]
        return np.asarray(np.linalg.inv(np.linalg.cholesky(covariance)))
