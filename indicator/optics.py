"""Optics: what share of the light at each wavelength reaches the eye from a tub or small vessel."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial

import numpy as np
from numpy.typing import ArrayLike, NDArray

from indicator.absorbance import WAVELENGTH_NM
from indicator.accepted import as_text, number
from indicator.tables import Sourced, read_table, row_named, value_of

Array = NDArray[np.float64]

SMALL_VESSELS = ("bottle", "jar", "beaker")
"""Views through which light goes once, against white."""
VIEWS = ("tub", *SMALL_VESSELS)
OBSERVERS_DEG = (2, 10)
"""Fields of view of the standard observers [degrees]."""
DEEPEST_CM = 1000.0
"""Of any vessel: keeps a mistaken unit out [cm]."""
SURFACE = (
    "foam_reflectance", "obliquity", "outer_reflection", "inner_reflection", "included_reflection",
)  # fmt: skip
"""Fields of a tub's view that rows of ``data/colour/views.csv`` tell."""
FLOOR_NM = (400.0, 700.0)
"""Wavelengths between which the reflectance of a floor is a straight line [nm]."""


@dataclass(frozen=True)
class _FloorRow(Sourced):
    name: str
    at_400_nm: float
    at_700_nm: float


@dataclass(frozen=True)
class _CloudRow(Sourced):
    name: str
    scattering: float


@dataclass(frozen=True)
class View:
    """View of a liquid: vessel, path of the light, observer, floor, cloud and foam."""

    kind: str
    """``"tub"`` (down through the water onto a white floor and back) or one of `SMALL_VESSELS`
    (once through, against white)."""
    path_cm: float
    """Depth of the tub, or inner width of the vessel [cm]."""
    light: str
    """A light as `indicator.appearance.light_name` knows it."""
    observer_deg: int
    """Field of view of the standard observer, 2 or 10."""
    floor_reflectance: tuple[float, float] = (0.0, 0.0)
    """Share of light that the floor of the tub turns back at 400 and at 700 nm."""
    scattering_per_cm: float = 0.0
    """Kubelka-Munk scattering of soap and cloud [1/cm]."""
    foam_cover: float = 0.0
    """Share of the surface that foam hides, 0 to 1."""
    foam_reflectance: float = 0.0
    obliquity: float = 1.0
    """Path over depth of one pass through clear water."""
    outer_reflection: float = 0.0
    inner_reflection: float = 0.0
    included_reflection: float = 0.0

    @property
    def way_cm(self) -> float:
        """Way of the light through the liquid [cm]: down a tub and up again, or once across."""
        return 2.0 * self.obliquity * self.path_cm if self.kind == "tub" else self.path_cm

    def share(self, absorbance_per_cm: ArrayLike) -> Array:
        """Share of light that reaches the eye.

        Parameters
        ----------
        absorbance_per_cm : array_like
            Shape (..., wavelengths) [1/cm].
        """
        absorbance = np.asarray(absorbance_per_cm, dtype=np.float64)
        if self.kind != "tub":
            return np.asarray(10.0 ** (-absorbance * self.path_cm))
        water = self._tub_reflectance(absorbance)
        return (1.0 - self.foam_cover) * water + self.foam_cover * self.foam_reflectance

    def _tub_reflectance(self, absorbance: Array) -> Array:
        """Reflectance of a tub: in, down, off the floor, up, with inner reflections and cloud.

        R = k_f + (1 - k_s)(1 - k_i) R / (1 - k_i R), where R is the reflectance of the layer over
        its ground; in clear water R = R_g T², T = 10^(-m A d). Cloud makes m larger
        (`scattered_obliquity`).

        Source: Saunderson 1942, J. Opt. Soc. Am. 32:727 (surface correction); Kubelka 1948,
        J. Opt. Soc. Am. 38:448 (layer over a ground).
        """
        blue, red = self.floor_reflectance
        if blue != red and absorbance.shape[-1] != len(WAVELENGTH_NM):
            raise ValueError(
                f"absorbance has {absorbance.shape[-1]} wavelengths; over a coloured floor "
                f"accepted are the {len(WAVELENGTH_NM)} of the spectra"
            )
        floor = blue if blue == red else np.interp(WAVELENGTH_NM, FLOOR_NM, (blue, red))
        depth, scattering = self.path_cm, self.scattering_per_cm
        slanted = scattered_obliquity(scattering, depth, self.obliquity)
        absorption = slanted * np.log(10.0) * absorbance
        ground = layer_over_ground(absorption, scattering, depth, floor)
        inner = self.inner_reflection
        seen = (1.0 - self.outer_reflection) * (1.0 - inner) * ground
        return np.asarray(self.included_reflection + seen / (1.0 - inner * ground))


def scattered_obliquity(
    scattering_per_cm: ArrayLike, depth_cm: ArrayLike, clear_obliquity: float
) -> Array:
    """Mean path over depth of one pass, part of the light scattered and part not.

    Light that was scattered on its way down or up is taken as fully diffuse. Its share is that of
    a straight way through the layer and back, 1 - exp(-2 m µ d), with µ the scattering that
    Kubelka-Munk's S stands for.

    Parameters
    ----------
    scattering_per_cm : array_like
        Kubelka-Munk S [1/cm].
    depth_cm : array_like
        Thickness of the layer [cm]; both broadcast.
    clear_obliquity : float
        Path over depth of light that nothing scatters.

    Returns
    -------
    numpy.ndarray
        From `clear_obliquity` without scattering to 2 with much.

    Source: own choice, held against photons counted one by one (``colour_cloud_photons.csv``);
    S of diffuse light from transport theory (``views.csv``, events_per_scattering).
    """
    scattering = np.asarray(scattering_per_cm, dtype=np.float64)
    events = view_value("events_per_scattering") * scattering * np.asarray(depth_cm)
    share = -np.expm1(-2.0 * clear_obliquity * events)
    diffuse = view_value("diffuse_obliquity")
    return np.asarray(clear_obliquity + (diffuse - clear_obliquity) * share)


def layer_over_ground(
    absorption_per_cm: ArrayLike,
    scattering_per_cm: ArrayLike,
    depth_cm: ArrayLike,
    ground: ArrayLike,
) -> Array:
    """Reflectance of a cloudy layer over a ground, seen from within (no surface).

    Parameters
    ----------
    absorption_per_cm, scattering_per_cm : array_like
        Kubelka-Munk K and S [1/cm], from 0 up.
    depth_cm : array_like
        Thickness of the layer [cm].
    ground : array_like
        Reflectance of the ground. All broadcast.

    Returns
    -------
    numpy.ndarray
        Exact also where K or S is 0.

    Source: Kubelka 1948, J. Opt. Soc. Am. 38:448.
    """
    k, s, d, ground_r = (
        np.asarray(given, dtype=np.float64)
        for given in (absorption_per_cm, scattering_per_cm, depth_cm, ground)
    )
    if not np.any(s):
        # Light only goes down and up: one exponential instead of two, and exact.
        return np.asarray(ground_r * np.exp(-2.0 * k * d))
    decay = np.sqrt(k * (k + 2.0 * s))
    # cosh and sinh over e^(g d), the latter over g as well, so that neither end overflows.
    even = 0.5 * (1.0 + np.exp(-2.0 * decay * d))
    safe = np.where(decay > 0.0, decay, 1.0)
    odd = np.where(decay > 0.0, -0.5 * np.expm1(-2.0 * decay * d) / safe, d)
    upward = s * odd + ground_r * (even - (s + k) * odd)
    return np.asarray(upward / ((s + k - ground_r * s) * odd + even))


def tub_view(
    depth_cm: float,
    light: str = "D65",
    *,
    floor: str = "white",
    cloud: str = "clear",
    foam_cover: float = 0.0,
    observer_deg: int | None = None,
) -> View:
    """View of a tub looked into from above.

    Parameters
    ----------
    depth_cm : float
        Depth of the water [cm].
    light : str
        A light as `indicator.appearance.light_name` knows it.
    floor, cloud : str
        Names in ``floors.csv`` and ``clouds.csv``.
    foam_cover : float
        Share of the surface under foam, 0 to 1.
    observer_deg : int, optional
        Standard observer, 2 or 10 [degrees]; 10 if not given, for so wide a sight.

    Returns
    -------
    View
        Its reflections are rows of ``data/colour/views.csv``, each with its source.

    Raises
    ------
    ValueError
        If a name or the observer is unknown, or the share is none.
    """
    as_text("light", light)
    number("foam_cover", foam_cover, 0.0, 1.0)
    ground = row_named("colour/floors.csv", _FloorRow, as_text("floor", floor), "floor")
    haze = row_named("colour/clouds.csv", _CloudRow, as_text("cloud", cloud), "cloud")
    return View(
        kind="tub",
        path_cm=number("depth_cm", depth_cm, 0.0, DEEPEST_CM),
        light=light,
        observer_deg=_observer(observer_deg, "tub"),
        floor_reflectance=(ground.at_400_nm, ground.at_700_nm),
        scattering_per_cm=haze.scattering,
        foam_cover=float(foam_cover),
        **{name: view_value(name) for name in SURFACE},
    )


def floor_names() -> tuple[str, ...]:
    """Floors of a tub."""
    return tuple(row.name for row in read_table("colour/floors.csv", _FloorRow))


def cloud_names() -> tuple[str, ...]:
    """Names of how cloudy water may be."""
    return tuple(row.name for row in read_table("colour/clouds.csv", _CloudRow))


def small_view(
    kind: str,
    path_cm: float | None = None,
    light: str = "D65",
    *,
    observer_deg: int | None = None,
) -> View:
    """View of a small clear vessel against white; light goes through it once.

    Parameters
    ----------
    kind : str
        One of `SMALL_VESSELS`.
    path_cm : float, optional
        Inner width [cm]; that of ``data/colour/views.csv`` if not given.
    light : str
        A light as `indicator.appearance.light_name` knows it.
    observer_deg : int, optional
        Standard observer, 2 or 10 [degrees]; 2 if not given.

    Returns
    -------
    View
        As tubs have it, without floor, foam or cloud.

    Raises
    ------
    ValueError
        If the vessel or the observer is unknown.
    """
    as_text("light", light)
    if kind not in SMALL_VESSELS:
        raise ValueError(f"vessel is {kind!r}; accepted are {', '.join(SMALL_VESSELS)}")
    path = (
        view_value(f"{kind}_path")
        if path_cm is None
        else number("path_cm", path_cm, 0.0, DEEPEST_CM)
    )
    return View(kind, path, light, _observer(observer_deg, kind))


bottle_view = partial(small_view, "bottle")
"""View of a clear bottle, as `small_view`."""
jar_view = partial(small_view, "jar")
"""View of a jar, looked through sideways, as `small_view`."""
beaker_view = partial(small_view, "beaker")
"""View of a laboratory beaker of 250 mL, looked through sideways, as `small_view`."""


def mat_view(depth_cm: float | None = None, light: str = "D65") -> View:
    """View from above of a glass on white paper, relative to the bare paper beside it.

    Under the bottom of the glass there is air, so that no light is caught as in a tub.

    Parameters
    ----------
    depth_cm : float, optional
        Of the liquid [cm]; that of ``data/colour/views.csv`` if not given.
    light : str
        A light as `indicator.appearance.light_name` knows it.

    Returns
    -------
    View
        With the reflections of ``data/colour/views.csv``.

    Raises
    ------
    ValueError
        If the depth is none.
    """
    depth = view_value("mat_depth") if depth_cm is None else depth_cm
    return View(
        kind="tub",
        path_cm=number("depth_cm", depth, 0.0, DEEPEST_CM),
        light=as_text("light", light),
        observer_deg=_observer(None, "jar"),
        floor_reflectance=(1.0, 1.0),
        obliquity=view_value("mat_obliquity"),
        outer_reflection=view_value("mat_loss"),
        included_reflection=view_value("mat_mirrored"),
    )


def usual_observer(kind: str) -> int:
    """Standard observer that a view has if none is chosen [degrees]: 10 for a tub, else 2."""
    return int(view_value("tub_observer" if kind == "tub" else "small_observer"))


def _observer(chosen: int | None, kind: str) -> int:
    if chosen is None:
        return usual_observer(kind)
    if type(chosen) is not int or chosen not in OBSERVERS_DEG:
        raise ValueError(f"observer_deg is {chosen!r}; accepted are 2 and 10 (degrees)")
    return chosen


def view_value(name: str) -> float:
    """Value of one row of ``data/colour/views.csv``."""
    return value_of("colour/views.csv", name)
