"""Photographs: colours of jars from a picture with something white in it.

Each patch becomes the colour of what it shows relative to the white beside it. A patch that the
camera could not tell (burnt out, too dark, uneven by a shadow or a reflection) is left out with the
reason, because a wrong colour is worse than none.
"""

from __future__ import annotations

import warnings
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from indicator.files import was_read
from indicator.notes import Value, say
from indicator.srgb import SRGB_TO_XYZ, lab_from_linear, linear_srgb
from indicator.tables import columns_in, value_of

Array = NDArray[np.float64]
Pixels = NDArray[np.uint8]

LIMITS = "colour/photograph.csv"
DARKEST = 1e-3
"""Of the white, below which a picture tells nothing and a logarithm is held."""


HEIC = (".heic", ".heif")
"""Endings of what telephones write."""
STILLS = ("MPO", "HEIF")
"""Formats that hold several pictures, of which the first is the photograph."""
TONE_STEPS, STEEPEST = 16, 2.0
"""Towards the light that a camera wrote as the white, and the most that a curve rises there."""


class UnreadableError(ValueError):
    """A patch is there, but the camera could not tell its colour; the sentence says why."""

    def __init__(self, code: str, values: dict[str, Value]) -> None:
        super().__init__(say(f"photo.{code}", values))
        self.code = code
        """``"burnt"``, ``"black"`` or ``"uneven"``."""


@dataclass(frozen=True)
class Patch:
    """A rectangle of a picture, in pixels from its top left corner as it is shown upright."""

    x: int
    y: int
    width: int
    height: int

    @property
    def middle(self) -> tuple[float, float]:
        """Where it is."""
        return (self.x + self.width / 2, self.y + self.height / 2)

    def overlaps(self, other: Patch) -> bool:
        """Whether both share a pixel."""
        apart_x = self.x + self.width <= other.x or other.x + other.width <= self.x
        apart_y = self.y + self.height <= other.y or other.y + other.height <= self.y
        return not (apart_x or apart_y)

    def __str__(self) -> str:
        """As a person writes it."""
        return f"{self.x},{self.y},{self.width},{self.height}"


@dataclass(frozen=True)
class ToneCurve:
    """Tone curve of a picture by the greys in it, with how surely they tell it."""

    share: float
    """Of the usual curve, as an exponent: 0 is sRGB."""
    share_sd: float
    shape: float
    """How the curve differs from the usual one, in standard deviations of such curves."""
    shape_sd: float
    """Where the share is as told."""
    shape_per_share: float
    """By how much the shape must move with the share."""


@dataclass(frozen=True)
class PatchColours:
    """Colours of patches of a picture, relative to its white."""

    lab: Array
    """CIELAB relative to the white, shape (patches, 3); NaN where a patch cannot be read."""
    unread: tuple[str, ...]
    """Why each patch cannot be read; empty where it can."""
    white: tuple[float, float, float]
    """Linear sRGB of the white, the mean of several."""
    curve: ToneCurve | None = None
    """Tone curve, where the picture tells it."""

    @property
    def cast(self) -> float:
        """Brightest over darkest channel of the white."""
        return max(self.white) / min(self.white)


def parse_patch(text: str) -> Patch:
    """A rectangle from ``x,y,width,height``.

    Raises
    ------
    ValueError
        If it is no such thing.
    """
    parts = text.replace(" ", "").split(",")
    if len(parts) != 4 or not all(part.isdecimal() and len(part) < 7 for part in parts):
        raise ValueError(say("photo.patch", {"value": text[:60]}))
    x, y, width, height = map(int, parts)
    return Patch(x, y, width, height)


def read_picture(path: Path) -> Pixels:
    """Pixels of a picture, upright, in sRGB.

    Parameters
    ----------
    path : Path
        Any still picture that the imaging library reads.

    Returns
    -------
    numpy.ndarray
        Shape (rows, columns, 3).

    Raises
    ------
    ValueError
        If it is no picture, has no colour, or is too large; the size is told from its header,
        before anything is decoded.
    OSError
        If there is no such file.
    """
    from PIL import Image, UnidentifiedImageError

    values: dict[str, Value] = {"file": str(path), "most": limit("most_megapixels")}
    was_read(path)
    if path.suffix.lower() in HEIC:
        _read_heic(values)
    with warnings.catch_warnings():
        # The library warns of large pictures; ours is the sentence about them.
        warnings.simplefilter("ignore", Image.DecompressionBombWarning)
        try:
            with Image.open(path) as picture:
                return _pixels(picture, values)
        except Image.DecompressionBombError as error:
            raise ValueError(say("photo.huge-more", values)) from error
        except UnidentifiedImageError as error:
            raise ValueError(say("photo.none", values)) from error
        except (SyntaxError, EOFError, OSError) as error:
            if getattr(error, "errno", None) is not None:
                raise
            raise ValueError(say("photo.broken", values)) from error


def _read_heic(values: dict[str, Value]) -> None:
    """Teach the imaging library the format of many telephones."""
    try:
        from pillow_heif import register_heif_opener
    except ImportError as error:
        raise ValueError(say("photo.heic", values)) from error
    register_heif_opener()


def _pixels(picture: Any, values: dict[str, Value]) -> Pixels:
    """Pixels of an opened picture; its size and kind are looked at before it is decoded."""
    from PIL import ImageOps

    megapixels = picture.width * picture.height / 1e6
    if megapixels > limit("most_megapixels"):
        raise ValueError(say("photo.huge", values | {"megapixels": megapixels}))
    if getattr(picture, "is_animated", False) and picture.format not in STILLS:
        raise ValueError(say("photo.animated", values))
    least = limit("least_side")
    if min(picture.size) < least:
        columns, rows = picture.size
        size: dict[str, Value] = {"columns": columns, "rows": rows, "least": least}
        raise ValueError(say("photo.tiny", values | size))
    if picture.mode in ("1", "L", "LA", "I", "F", "I;16"):
        raise ValueError(say("photo.grey", values))
    try:
        picture.load()
    except ValueError as error:
        raise ValueError(say("photo.broken", values)) from error
    upright = ImageOps.exif_transpose(_in_srgb(picture))
    return np.asarray(upright.convert("RGB"), dtype=np.uint8)


def _in_srgb(picture: Any) -> Any:
    """The picture with its own colour profile, if it has one, turned into sRGB."""
    from io import BytesIO

    from PIL import ImageCms

    profile = picture.info.get("icc_profile")
    if not profile or picture.mode not in ("RGB", "RGBA", "CMYK"):
        return picture
    try:
        own = ImageCms.ImageCmsProfile(BytesIO(profile))
        return ImageCms.profileToProfile(
            picture, own, ImageCms.createProfile("sRGB"), outputMode="RGB"
        )
    except (ImageCms.PyCMSError, OSError):
        return picture


def patch_colours(pixels: Pixels, white: Sequence[Patch], patches: Sequence[Patch]) -> PatchColours:
    """Colours of patches relative to the white in the same picture.

    Parameters
    ----------
    pixels : numpy.ndarray
        Of `read_picture`.
    white : sequence of Patch
        One or more rectangles of the same white; between several, the nearer count more, so that
        a light that falls off across the picture is made good.
    patches : sequence of Patch
        The rectangles to be read.

    Returns
    -------
    PatchColours
        For daylight and the 2 degree observer.

    Raises
    ------
    ValueError
        If a rectangle lies outside or is too small, or the white tells nothing.
    """
    if not white:
        raise ValueError(say("photo.no-white"))
    whites = np.stack([_white(pixels, patch) for patch in white])
    labs, unread = np.full((len(patches), 3), np.nan), [""] * len(patches)
    for place, patch in enumerate(patches):
        try:
            labs[place] = _lab(patch_level(pixels, patch), _white_at(patch, white, whites))
        except UnreadableError as error:
            unread[place] = str(error)
    red, green, blue = map(float, whites.mean(axis=0))
    return PatchColours(labs, tuple(unread), (red, green, blue))


def toned(linear: ArrayLike, white: ArrayLike, share: ArrayLike) -> Array:
    """Colours by the tone curve of a camera, relative to the white in its picture.

    Cameras do not write sRGB as the standard has it: they lift the middle and press the ends
    together, so that a dark colour looks darker beside the white than it is.

    Parameters
    ----------
    linear : array_like
        Linear sRGB of the scene over that of its white, shape (..., 3).
    white : array_like
        Linear sRGB of the white in the picture, shape (3,), 1 the brightest that it can hold.
    share : array_like
        Of the usual curve (``camera_tones.csv``), as an exponent: 0 leaves all as it is; broadcast
        against `linear`.

    Returns
    -------
    numpy.ndarray
        Shape (..., 3), of the picture over its white.
    """
    tones = columns_in("colour/camera_tones.csv")
    scene, picture = np.log(tones["scene"]), np.log(tones["picture"])
    shown = np.log(np.asarray(white, dtype=np.float64))
    there = np.interp(shown, picture, scene)
    light = np.log(np.maximum(np.asarray(linear, dtype=np.float64), DARKEST))
    bent = np.interp(light + there, scene, picture) - shown
    return np.asarray(np.exp(light + np.asarray(share) * (bent - light)))


def camera_tones(
    linear: ArrayLike, white: ArrayLike, share: ArrayLike, shape: ArrayLike = 0.0
) -> Array:
    """Colours by a share of the tone curve, where the share is known rather well.

    As `toned`, but the white, too, is taken to have gone through this share of the curve and not
    through all of it.

    Parameters
    ----------
    linear, white, share : array_like
        As in `toned`; `white` may be one for each colour, shape (..., 3).
    shape : array_like
        How the curve differs from the usual one, in standard deviations of such curves.

    Returns
    -------
    numpy.ndarray
        Shape (..., 3), of the picture over its white.
    """
    there = _scene(np.log(np.asarray(white, dtype=np.float64)), share, shape)
    light = np.log(np.maximum(np.asarray(linear, dtype=np.float64), DARKEST))
    return np.asarray(np.exp(_written(light + there, share, shape) - _written(there, share, shape)))


def untoned(
    picture: ArrayLike, white: ArrayLike, share: ArrayLike, shape: ArrayLike = 0.0
) -> Array:
    """Light of the scene over its white, from that of the picture: the inverse of `camera_tones`.

    Parameters
    ----------
    picture, white, share, shape : array_like
        As in `camera_tones`; the first linear sRGB of the picture over its white.

    Returns
    -------
    numpy.ndarray
        Shape (..., 3).
    """
    shown = np.log(np.asarray(white, dtype=np.float64))
    light = np.log(np.maximum(np.asarray(picture, dtype=np.float64), DARKEST)) + shown
    return np.asarray(np.exp(_scene(light, share, shape) - _scene(shown, share, shape)))


@cache
def _tones() -> tuple[Array, Array, Array]:
    """Logarithms of the light of the scene and of the picture, and of a usual way to differ."""
    tones = columns_in("colour/camera_tones.csv")
    return np.log(tones["scene"]), np.log(tones["picture"]), np.asarray(tones["shape"])


def _written(light: Array, share: ArrayLike, shape: ArrayLike = 0.0) -> Array:
    """Logarithm of what a camera writes of light; both over the brightest that it tells."""
    scene, picture, way = _tones()
    bent = np.interp(light, scene, picture) + np.asarray(shape) * np.interp(light, scene, way)
    return np.asarray(light + np.asarray(share) * (bent - light))


def _scene(shown: Array, share: ArrayLike, shape: ArrayLike = 0.0) -> Array:
    """Logarithm of the light of which a camera wrote this."""
    light = np.asarray(shown + 0.0 * (np.asarray(share, dtype=np.float64) + np.asarray(shape)))
    for _ in range(TONE_STEPS):
        light = light - (_written(light, share, shape) - shown) / STEEPEST
    return light


def limit(name: str) -> float:
    """A number of ``data/colour/photograph.csv``."""
    return value_of(LIMITS, name)


def _lab(level: Array, white: Array) -> Array:
    return lab_from_linear(level / white)


def _white_at(patch: Patch, white: Sequence[Patch], whites: Array) -> Array:
    """Level of the white where a patch is, by inverse squared distance."""
    away = np.array([np.subtract(patch.middle, paper.middle) for paper in white])
    weight = 1.0 / np.maximum((away**2).sum(axis=1), 1.0)
    return np.asarray(weight @ whites / weight.sum())


def _white(pixels: Pixels, patch: Patch) -> Array:
    return checked_white(patch_level(pixels, patch, name=say("photo.the-white")), str(patch))


def checked_white(level: Array, what: str) -> Array:
    """The level of a white, if it is one.

    Parameters
    ----------
    level : numpy.ndarray
        Linear sRGB, shape (3,).
    what : str
        Which white, for the sentence.

    Returns
    -------
    numpy.ndarray
        As given.

    Raises
    ------
    ValueError
        If it is too dark or too strongly coloured to judge by.
    """
    values: dict[str, Value] = {"patch": what}
    if level.max() < limit("least_white"):
        raise ValueError(say("photo.dark-white", values))
    if level.max() > limit("most_coloured_white") * level.min():
        raise ValueError(say("photo.coloured-white", values))
    return level


def patch_level(pixels: Pixels, patch: Patch, name: str = "") -> Array:
    """Linear sRGB of an even, well lit patch.

    Parameters
    ----------
    pixels : numpy.ndarray
        The picture.
    patch : Patch
        Where it is.
    name : str
        What it is called in a sentence.

    Returns
    -------
    numpy.ndarray
        The median, shape (3,).

    Raises
    ------
    UnreadableError
        If the camera could not tell it.
    ValueError
        If it lies outside or is too small.
    """
    what = name or say("photo.the-patch")
    values: dict[str, Value] = {"what": what, "patch": str(patch)}
    rows, columns = pixels.shape[:2]
    if patch.x + patch.width > columns or patch.y + patch.height > rows:
        raise ValueError(say("photo.outside", values | {"columns": columns, "rows": rows}))
    if min(patch.width, patch.height) < limit("least_side"):
        raise ValueError(say("photo.small", values | {"least": limit("least_side")}))
    part = pixels[patch.y : patch.y + patch.height, patch.x : patch.x + patch.width]
    ends = {"burnt": part >= limit("burnt_level"), "black": part <= limit("black_level")}
    for what_is_wrong, at_the_end in ends.items():
        share = float(np.mean(at_the_end.any(axis=-1)))
        if share > limit(f"most_{what_is_wrong}"):
            raise UnreadableError(what_is_wrong, values | {"share": share})
    linear = linear_srgb(part)
    level = np.median(linear.reshape(-1, 3), axis=0)
    if _unevenness(linear, level) > limit("most_uneven"):
        raise UnreadableError("uneven", values)
    return np.asarray(level)


def _unevenness(linear: Array, level: Array) -> float:
    """How far the brightness of any third of a patch, across or down, is from the whole."""
    brightness = linear @ SRGB_TO_XYZ[1]
    whole = max(float(level @ SRGB_TO_XYZ[1]), 1e-6)
    thirds = [
        part for axis in (0, 1) for part in np.array_split(brightness, 3, axis=axis) if part.size
    ]
    return max(abs(float(np.median(part)) - whole) / whole for part in thirds)
