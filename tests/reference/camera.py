"""Pictures of glasses on the photo mat as a camera would take them, and the worlds they are of.

Spectra throughout: the light of a lamp or the day falls through the liquid onto the paper and comes
back to a camera whose sensitivities were measured. The camera balances the light in part, turns
its own colours into sRGB by a matrix fitted to a colour chart, lifts the saturation, bends the
tones, adds noise and writes a JPEG. Light falls off across the mat; the picture is taken aslant.

Sources: sensitivities of a Nikon D5100 and a Sigma SD Merrill, Darrodi et al. 2015, J. Opt. Soc.
Am. A 32:381, as the colour library has them; of a Sony IMX219, as telephones had one,
by a published curve that K. Hufkens digitised (camera of the Raspberry Pi 2), read at 20 nm.
Chart: 24 patches measured by N. Ohta (colour library). Tone curves: `phone_pictures`. Light: CIE 15
illuminants, and a black body of 1,900 K for a candle. Everything else is our own choice.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from io import BytesIO
from typing import Any

import colour
import cv2
import numpy as np
from numpy.typing import NDArray
from phone_pictures import TONE_CURVES
from PIL import Image
from scipy.interpolate import PchipInterpolator

from indicator.absorbance import WAVELENGTH_NM, form_fractions, form_spectra
from indicator.cie import observer_functions
from indicator.mat import SIX, Mat, marker_cells, photo_mat
from indicator.pigments import colourant
from indicator.spread import draws_of
from indicator.srgb import XYZ_TO_SRGB

Array = NDArray[np.float64]

IMX219_NM = np.arange(400.0, 701.0, 20.0)
IMX219 = np.array(
    [
        (9.9, 7.7, 48.8), (5.7, 4.6, 61.9), (3.7, 5.3, 73.5), (3.1, 8.6, 83.0),
        (5.1, 65.4, 69.5), (6.3, 93.4, 47.1), (12.1, 99.5, 23.8), (11.4, 92.9, 14.6),
        (11.3, 82.9, 9.2), (51.0, 65.8, 8.4), (96.1, 43.0, 7.1), (84.1, 22.6, 5.6),
        (76.4, 15.3, 5.9), (66.7, 13.4, 7.6), (55.2, 17.1, 9.1), (48.0, 23.0, 10.4),
    ]
)  # fmt: skip
"""Of red, green and blue [%]."""
CUT_NM, CUT_WIDTH_NM = 660.0, 12.0
"""Where the filter before such a sensor lets half of the light through; it passes no infrared."""
CAMERAS = ("Nikon 5100 (NPL)", "IMX219", "Sigma SDMerill (NPL)")
LIGHTS = ("A", "LED-B1", "LED-B3", "LED-B5", "D50", "D65", "D75")
"""From a lamp to the shade; a candle beside them."""
CANDLE = "candle"
CANDLE_K = 1900.0
PAPER, INK = 0.86, 0.04
"""Reflectance of copy paper and of the blackest print."""
TABLE = 0.25
PH = np.array([2.1, 3.0, 4.0, 5.0, 6.0, 7.0])
PETALS = 2.0
THINNED, USUAL = 80.0, 6.0
"""Times that a liquid of the usual strength is thinned; a stronger one twice or four times that."""
ADVISED_PH = np.array([2.1, 3.0, 3.6, 5.9, 6.3, 7.4])
ADVISED_TIMES = np.array([1.25, 2.5, 1.25, 1.25, 2.5, 2.5])
"""As `huedose mat` tells: glasses around both turns, two strengths; times `THINNED`."""
SCALE_G = 0.6
"""Error of each reading of a kitchen scale; its relative error is in all of them and cancels."""
DEPTH_CM = 4.0
MARGIN_MM = 20.0
"""Of bare paper around the mat."""
PX_PER_MM = 4
GLASS_MM, LIQUID_MM, CAMERA_MM = 90.0, 10.0 * DEPTH_CM, 450.0
"""Heights above the mat: of the rim, of the liquid, and of the camera."""


@dataclass(frozen=True)
class World:
    """What is true of one maker's glasses."""

    strength: float
    pka: Array
    absorbance: Array
    """On the 5 nm grid, times what thinning and depth are off [1/cm], shape (jars, nm)."""
    thinned: float
    """Times that the maker thinned the liquid."""
    off: float
    """What is in the glasses over what should be."""


@dataclass(frozen=True)
class Shot:
    """How a picture was taken."""

    light: str
    camera: str
    seed: int
    width: int = 1200


def world(seed: int, pigment: str = "butterfly-pea", ph: Array = PH) -> World:
    """A pigment within the library's spreads; pH by a meter, depth and thinning off by 3 % each."""
    random = np.random.default_rng(seed)
    strength, pka, spectra = _liquids(random, pigment, ph, seed)
    off = np.exp(0.03 * random.standard_normal() + 0.03 * random.standard_normal())
    thinned = THINNED * 2.0 ** np.rint(np.log2(strength / USUAL))
    return World(strength, pka, off * strength / thinned * spectra, float(thinned), float(off))


def advised_world(seed: int) -> World:
    """The same in the glasses that `huedose mat` tells, thinned by a kitchen scale.

    100 g to 1,000 g, 100 g of that to 1,000 g or half as much, and 50 g of it with 50 g of each
    solution; the depth is off by 3 % still.
    """
    random = np.random.default_rng(seed)
    strength, pka, spectra = _liquids(random, "butterfly-pea", ADVISED_PH, seed)
    off = np.exp(0.03 * random.standard_normal())
    for part_g, whole_g in ((100.0, 1000.0), (100.0, 1000.0)):
        off = off * _weighed(part_g, whole_g, random)
    halved = np.where(ADVISED_TIMES.min() < ADVISED_TIMES, _weighed(100.0, 200.0, random), 1.0)
    each = np.array([_weighed(50.0, 100.0, random) for _ in ADVISED_PH])
    thinned = THINNED * 2.0 ** np.rint(np.log2(strength / USUAL))
    amount = (off * halved * each * strength / (thinned * ADVISED_TIMES))[:, None]
    return World(strength, pka, amount * spectra, float(thinned), float(off))


def _weighed(part_g: float, whole_g: float, random: np.random.Generator) -> float:
    """What a kitchen scale makes of a share, over what it should be."""
    part, whole = 1.0 + SCALE_G * random.standard_normal(2) / (part_g, whole_g)
    return float(part / whole)


def _liquids(
    random: np.random.Generator, pigment: str, ph: Array, seed: int
) -> tuple[float, Array, Array]:
    """Strength of a liquid, its constants, and its spectra over the strength in the glasses."""
    which, drawn = colourant(pigment), draws_of(colourant(pigment), 1, seed)
    assert which.per_percent is not None
    sigma = np.log(which.per_percent.high / which.per_percent.low) / (2 * 1.6449)
    strength = PETALS * which.per_percent.best * np.exp(sigma * random.standard_normal())
    real_ph = ph + 0.1 * random.standard_normal(len(ph))
    forms = form_fractions(which, real_ph, drawn.pka[0]) * drawn.heights[0]
    return float(strength), drawn.pka[0], np.asarray(forms @ form_spectra(which))


@cache
def sensitivities(camera: str) -> Array:
    """Of red, green and blue on the 5 nm grid, shape (wavelengths, 3)."""
    if camera == "IMX219":
        cut = 1.0 / (1.0 + np.exp((WAVELENGTH_NM - CUT_NM) / CUT_WIDTH_NM))
        rows = [np.interp(WAVELENGTH_NM, IMX219_NM, one, left=0.0) for one in IMX219.T]
        return np.stack(rows, axis=-1) * cut[:, None]
    table = colour.MSDS_CAMERA_SENSITIVITIES[camera]
    rows = [
        np.interp(WAVELENGTH_NM, table.wavelengths, one, left=0.0, right=0.0)
        for one in table.values.T
    ]
    return np.stack(rows, axis=-1)


@cache
def _power(light: str) -> Array:
    known = colour.sd_blackbody(CANDLE_K) if light == CANDLE else colour.SDS_ILLUMINANTS[light]
    return np.asarray(np.interp(WAVELENGTH_NM, known.wavelengths, known.values))


def _raw(sensitive: Array, light: str, reflectance: Array) -> Array:
    """Levels of the sensor, shape (..., 3); a perfect white has 1 at its brightest."""
    weights = _power(light)[:, None] * sensitive
    return np.asarray(reflectance @ weights / weights.sum(axis=0).max())


def matrix_to_srgb(sensitive: Array) -> Array:
    """A camera's matrix from balanced levels to linear sRGB, fitted to a chart in daylight."""
    chart = colour.SDS_COLOURCHECKERS["ColorChecker N Ohta"]
    patches = np.stack(
        [np.interp(WAVELENGTH_NM, one.wavelengths, one.values) for one in chart.values()]
    )
    levels = _raw(sensitive, "D65", patches) / _raw(sensitive, "D65", np.ones(len(WAVELENGTH_NM)))
    matching = observer_functions(2)
    weights = _power("D65")[:, None] * matching
    wanted = patches @ weights / weights[:, 1].sum() @ XYZ_TO_SRGB.T
    # White stays white: each row sums to one.
    rows = []
    for channel in range(3):
        free = levels[:, :2] - levels[:, 2:]
        part, *_ = np.linalg.lstsq(free, wanted[:, channel] - levels[:, 2], rcond=None)
        rows.append([*part, 1.0 - part.sum()])
    return np.array(rows)


def reflectances(absorbance: Array, random: np.random.Generator, paper: Array) -> Array:
    """Reflectance of glasses on paper, seen from above, shape (jars, wavelengths).

    Light comes down from all sides or from one, so aslant in the water by at most 48 degrees, and
    goes straight up. Fresnel: the water's surface lets 0.93 (from all sides) to 0.98 through, the
    glass above air 0.956; paper and glass reflect each other. A ceiling is mirrored in the water.
    """
    diffuse = random.uniform(0.0, 1.0)
    through = 10.0 ** (-absorbance * DEPTH_CM * (2.0 + 0.19 * diffuse))
    surfaces = (0.98 - 0.046 * diffuse) * 0.98 * 0.956**2 / (1.0 - 0.04 * paper)
    mirrored = 0.02 * random.uniform(0.0, 1.0)
    return np.asarray(paper * (mirrored + surfaces * through))


def printed(mat: Mat, random: np.random.Generator) -> tuple[Array, Array]:
    """Spectra of the paper and the patches: greys off by 15 % and tinted, shape (patches, nm)."""
    slope = (WAVELENGTH_NM - 560.0) / 200.0
    paper = PAPER * (1.0 + random.normal(0.0, 0.02) * slope)
    meant = mat.linear
    off = {level: np.exp(random.normal(0.0, 0.15)) for level in set(meant.tolist()) if level < 0.99}
    tint = random.normal(0.0, 0.06)
    spectra = [
        np.clip(level * off[level], INK, 0.95) * paper * (1.0 + tint * slope)
        if level in off
        else paper
        for level in meant.tolist()
    ]
    return paper, np.stack(spectra)


def texture(mat: Mat, colours: dict[str, Array], random: np.random.Generator) -> Array:
    """The mat with its glasses from above, in linear colours, shape (rows, columns, 3)."""
    paper, ink = colours["paper"], colours["ink"]
    across, down = (round((side + 2 * MARGIN_MM) * PX_PER_MM) for side in mat.size)
    sheet = np.broadcast_to(paper, (down, across, 3)).astype(np.float32).copy()

    def at(points: Array) -> NDArray[np.int32]:
        return np.rint((points + MARGIN_MM) * PX_PER_MM).astype(np.int32)

    for number, corners in zip(mat.marker_ids, mat.markers, strict=True):
        (left, top), (right, low) = at(corners[0]), at(corners[2])
        cells = marker_cells(number).astype(np.uint8)
        size = (int(right - left), int(low - top))
        drawn = cv2.resize(cells, size, interpolation=cv2.INTER_NEAREST)
        sheet[top:low, left:right] = np.where(drawn[..., None] > 0, paper, ink)
    for corners, patch in zip(mat.patches, colours["patches"], strict=True):
        (left, top), (right, low) = at(corners[0]), at(corners[2])
        sheet[top:low, left:right] = patch
    _shadows(sheet, mat, colours["jars"], at, random)
    foot = np.array(mat.size) / 2 + random.uniform(-30, 30, 2)
    for middle, liquid in zip(mat.places, colours["jars"], strict=False):
        radius = 0.94 * mat.ring / 2
        base = _circle(middle, radius)
        cv2.polylines(sheet, [at(_circle(middle, mat.ring / 2))], True, (0.5 * paper).tolist(), 2)
        surface, rim = (
            _circle(*_lifted(middle, radius, height, foot)) for height in (LIQUID_MM, GLASS_MM)
        )
        wall = np.zeros(sheet.shape[:2], dtype=np.uint8)
        cv2.fillConvexPoly(wall, cv2.convexHull(at(np.vstack([base, rim]))), 1)
        sheet[wall > 0] *= 0.88
        cv2.fillConvexPoly(
            sheet, cv2.convexHull(at(np.vstack([base, surface]))), (0.8 * liquid).tolist()
        )
        cv2.fillPoly(sheet, [at(base)], liquid.tolist())
        cv2.polylines(sheet, [at(rim)], True, (0.95 * paper).tolist(), 2)
        cv2.polylines(sheet, [at(base)], True, (0.6 * liquid).tolist(), 3)
    return np.asarray(sheet)


def _circle(middle: Array, radius: float) -> Array:
    angle = np.linspace(0, 2 * np.pi, 72, endpoint=False)
    return np.asarray(middle + radius * np.column_stack([np.cos(angle), np.sin(angle)]))


def _lifted(middle: Array, radius: float, height: float, foot: Array) -> tuple[Array, float]:
    """Where a circle above the mat is seen on it; `foot` is right below the camera."""
    larger = CAMERA_MM / (CAMERA_MM - height)
    return foot + (middle - foot) * larger, radius * larger


def _shadows(sheet: Any, mat: Mat, jars: Array, at: Any, random: np.random.Generator) -> None:
    """Soft shadows of the glasses, with some of the liquid's colour."""
    angle, depth = random.uniform(0, 2 * np.pi), random.uniform(0.0, 0.2)
    away = random.uniform(10, 35) * np.array([np.cos(angle), np.sin(angle)])
    for middle, liquid in zip(mat.places, jars, strict=False):
        mask = np.zeros(sheet.shape[:2], dtype=np.float32)
        cv2.fillPoly(mask, [at(_circle(middle + away, 0.42 * mat.ring))], 1.0)
        soft = cv2.GaussianBlur(mask, (0, 0), 6.0 * PX_PER_MM)
        sheet *= 1.0 - depth * soft[..., None] * (1.0 - 0.5 * liquid / liquid.max())


def picture(absorbance: Array, shot: Shot, sheet: str = SIX, spoil: Any = None) -> Any:
    """The picture, shape (rows, columns, 3), of glasses whose spectra are `absorbance`.

    `spoil`, if given, changes the mat as seen from above before it is photographed.
    """
    random = np.random.default_rng(shot.seed)
    mat = photo_mat(sheet)
    paper, patches = printed(mat, random)
    jars = reflectances(absorbance, random, paper)
    flat = np.ones(len(WAVELENGTH_NM))
    spectra = np.vstack([paper, INK * flat, TABLE * flat, patches, jars])
    sensitive = sensitivities(shot.camera)
    levels = _raw(sensitive, shot.light, spectra)
    white, day = (_raw(sensitive, light, flat) for light in (shot.light, "D65"))
    balanced = random.uniform(0.4, 0.8) if shot.light == CANDLE else random.uniform(0.75, 1.0)
    linear = levels / (day * (white / day) ** balanced) @ matrix_to_srgb(sensitive).T
    linear /= linear[0].max()
    count = 3 + len(patches)
    colours = {
        "paper": linear[0], "ink": linear[1], "patches": linear[3:count], "jars": linear[count:],
    }  # fmt: skip
    seen = texture(mat, colours, random)
    if spoil is not None:
        spoil(seen, mat)
    return _developed(_taken(seen, linear[2], shot.width, random), random)


def _taken(sheet: Array, table: Array, width: int, random: np.random.Generator) -> Array:
    """The sheet seen aslant, in light that falls off, by a lens that loses light at the corners."""
    down, across = sheet.shape[:2]
    height = round(width * 3 / 4)
    corners = np.array([(0, 0), (across, 0), (across, down), (0, down)], dtype=np.float32)
    margin = random.uniform(0.04, 0.12)
    inset = np.array([(0, 0), (1, 0), (1, 1), (0, 1)]) * (1 - 2 * margin) + margin
    inset += random.uniform(-0.035, 0.035, (4, 2))
    # The longer side of the sheet fills the picture; sometimes it lies upside down.
    fit = np.array([1.0, min(1.0, down / across * width / height)])
    inset = 0.5 + (inset - 0.5) * fit
    turned = np.roll(np.arange(4), 2 * int(random.random() < 0.2))
    there = (inset[turned] * (width, height)).astype(np.float32)
    seen = cv2.getPerspectiveTransform(corners, there)
    blurred = cv2.GaussianBlur(sheet, (0, 0), 0.5 * max(across / width, 1.0))
    scene = cv2.warpPerspective(
        blurred, seen, (width, height), flags=cv2.INTER_LINEAR,
        borderMode=cv2.BORDER_CONSTANT, borderValue=tuple(map(float, table)),
    )  # fmt: skip
    y, x = np.mgrid[-1 : 1 : height * 1j, -1 : 1 : width * 1j]
    angle, fall = random.uniform(0, 2 * np.pi), random.uniform(0.0, 0.2)
    light = 1.0 + fall * (np.cos(angle) * x + np.sin(angle) * y) / 2
    light *= 1.0 - random.uniform(0.05, 0.3) * (x**2 + y**2) / 2
    veil = random.uniform(0.0, 0.01)
    lit = scene * light[..., None]
    return np.asarray(lit + veil * lit.mean(axis=(0, 1)))


def _developed(scene: Array, random: np.random.Generator) -> Any:
    """What the camera writes of linear colours."""
    curve = PchipInterpolator(*TONE_CURVES[random.integers(len(TONE_CURVES))])
    share = random.uniform(0.2, 1.0)
    grid = np.linspace(0.0, 1.0, 2001)
    bent = np.maximum(curve(grid), 1e-6) ** share * np.maximum(grid, 1e-6) ** (1 - share)
    exposure = np.interp(random.uniform(0.55, 0.85), bent, grid) / np.quantile(scene.max(-1), 0.9)
    linear = np.interp(np.clip(exposure * scene, 0.0, 1.0), grid, bent)
    encoded = colour.cctf_encoding(linear)
    grey = encoded @ np.array([0.2126, 0.7152, 0.0722])
    encoded = grey[..., None] + random.uniform(0.95, 1.2) * (encoded - grey[..., None])
    encoded = encoded + 0.008 * random.standard_normal(encoded.shape)
    levels = np.rint(255.0 * np.clip(encoded, 0.0, 1.0)).astype(np.uint8)
    file = BytesIO()
    Image.fromarray(levels).save(file, "JPEG", quality=int(random.integers(75, 96)))
    return np.asarray(Image.open(BytesIO(file.getvalue())).convert("RGB"))
