"""The tub: volume of its water, how deep it is to the eye, and what bathers push up."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from dosing.equilibrium import Array
from dosing.ingredients.told import Told
from dosing.ingredients.trade_values import NINE_IN_TEN, middle, named, typical
from indicator.notes import Note
from indicator.tables import Sourced, read_table

_TABLE = "trade/tub_sizes.csv"
_LITRES_PER_CM3 = 1e-3


@dataclass(frozen=True)
class TubSize(Sourced):
    """A usual kind of vessel."""

    name: str
    """Name in recipes."""
    low_l: float
    """Little water for a soak [L]."""
    volume_l: float
    """Usual water for a soak [L]."""
    high_l: float
    """Much water for a soak [L]."""
    area_cm2: float
    """Mean area of the water, which turns litres into depth [cm²]."""
    refuse: bool
    """True where the water is treated and kept, so that nothing may be added."""
    aliases: str
    """Other names, separated by spaces."""


@dataclass(frozen=True)
class TubWater:
    """Water in the tub."""

    volume_l: Array
    """Water, without bathers [L]."""
    depth_cm: Array
    """Depth of the water that the eye looks into [cm]."""
    assumptions: tuple[Note, ...]
    """What was assumed."""
    warnings: tuple[Note, ...]
    """What looks odd."""


def tub_size(name: str) -> TubSize:
    """Usual vessel of that name or alias.

    Raises
    ------
    ValueError
        If it is unknown, or if it holds treated water that must not be coloured.
    """
    row = named(name, "tub", _TABLE, TubSize)
    if row.refuse:
        raise ValueError(
            f"tub {name!r} holds treated water that is kept; use a tub that is filled fresh "
            "and drained after the bath"
        )
    return row


def tub_size_names() -> tuple[str, ...]:
    """Names of the vessels that `tub_size` accepts, without aliases."""
    return tuple(row.name for row in read_table(_TABLE, TubSize) if not row.refuse)


def bath_size(volume_l: float) -> TubSize:
    """Usual kind of bath tub that holds so much water [L], or comes nearest."""
    kinds = [tub_size(name) for name in tub_size_names()]
    holding = (kind for kind in kinds if kind.low_l <= volume_l <= kind.high_l)
    return next(holding, min(kinds, key=lambda kind: abs(np.log(volume_l / kind.volume_l))))


def tub_volume_l(length_cm: ArrayLike, width_cm: ArrayLike, fill_cm: ArrayLike) -> Array:
    """Volume below the waterline of a tub.

    Walls slope and corners are round, so that it is a share of length times width times depth:
    the row ``tub_shape_at_waterline`` of ``data/trade/typical.csv``.

    Parameters
    ----------
    length_cm, width_cm : array_like
        Inside length and width at the waterline [cm].
    fill_cm : array_like
        Depth of the water over the floor [cm].

    Returns
    -------
    ndarray
        Volume [L].
    """
    sides = (length_cm, width_cm, fill_cm, typical("tub_shape_at_waterline").value)
    return np.asarray(_LITRES_PER_CM3 * np.prod(np.broadcast_arrays(*sides), axis=0))


def displacement_l(adults: ArrayLike = 0, children: ArrayLike = 0) -> Array:
    """Water that bathers push up at a normal soak [L].

    Parameters
    ----------
    adults : array_like
        How many of them.
    children : array_like
        How many of them; broadcasts with the adults.

    Returns
    -------
    numpy.ndarray
        [L], the broadcast shape; per bather the rows ``displacement_adult`` and
        ``displacement_child`` of ``data/trade/typical.csv``.
    """
    each = {size: typical(f"displacement_{size}").value for size in ("adult", "child")}
    return np.asarray(adults) * each["adult"] + np.asarray(children) * each["child"]


def displacement_sd_l(adults: int = 0, children: int = 0) -> float:
    """Standard deviation of `displacement_l`, each bather apart from the others [L].

    Parameters
    ----------
    adults, children : int
        How many of them.

    Returns
    -------
    float
        [L]; the range of each row is taken as nine in ten of all bathers.
    """
    ends = (typical(f"displacement_{size}").ends for size in ("adult", "child"))
    adult, child = ((high - low) / NINE_IN_TEN for low, high in ends)
    return float(np.hypot(adult * np.sqrt(adults), child * np.sqrt(children)))


def depth_cm(volume_l: ArrayLike, floor_area_cm2: ArrayLike | None = None) -> Array:
    """Depth of a volume of water.

    Parameters
    ----------
    volume_l : array_like
        Water [L].
    floor_area_cm2 : array_like, optional
        Mean area of the water [cm²]; that of a usual bath tub if not given.

    Returns
    -------
    ndarray
        Depth [cm].
    """
    area = tub_size("bath-tub").area_cm2 if floor_area_cm2 is None else floor_area_cm2
    return np.asarray(np.asarray(volume_l, dtype=float) / _LITRES_PER_CM3 / np.asarray(area))


def tub_water(
    *,
    volume_l: ArrayLike | None = None,
    length_cm: ArrayLike | None = None,
    width_cm: ArrayLike | None = None,
    fill_cm: ArrayLike | None = None,
    floor_area_cm2: float | None = None,
    adults_in_tub: int = 0,
    children_in_tub: int = 0,
) -> TubWater:
    """Water and depth from a volume, from measures, or of a usual bath tub.

    Parameters
    ----------
    volume_l : array_like, optional
        Water without bathers [L].
    length_cm, width_cm, fill_cm : array_like, optional
        Measures at the waterline [cm]; all three or none, and not together with a volume.
    floor_area_cm2 : float, optional
        Mean area of the water, if the fill is not measured [cm²]; a usual one if not given.
    adults_in_tub, children_in_tub : int
        Bathers who sat in the tub when the fill was read; their volume is taken off.

    Returns
    -------
    TubWater

    Raises
    ------
    ValueError
        If measures are missing or contradict, nothing is left beside the bathers, a value is
        not positive and finite, or the volume is that of a hot tub or pool.
    """
    kind, told = _usual_size(volume_l), Told()
    measures = {"length_cm": length_cm, "width_cm": width_cm, "fill_cm": fill_cm}
    given = {name: _positive(name, x) for name, x in measures.items() if x is not None}
    if given and len(given) < len(measures):
        missing = sorted(set(measures) - set(given))
        raise ValueError(f"{missing[0]} is missing; give length, width and fill together")
    if given and volume_l is not None:
        raise ValueError("volume_l and length_cm are both given; give the one or the other")
    if given:
        line, shape = tub_volume_l(**given), typical("tub_shape_at_waterline")
        told.add("assume.tub.shape-at-waterline", "tub.length", share=shape.value)
    elif volume_l is not None:
        line = _positive("volume_l", volume_l)
    else:
        line = np.asarray(kind.volume_l)
        litres = {"volume_l": kind.volume_l, "low_l": kind.low_l, "high_l": kind.high_l}
        told.add("assume.tub.volume", "tub.volume", **litres)
    water = _without_bathers(line, adults_in_tub, children_in_tub, told)
    # Bathers raise the water, so the depth is that of the line, not of the water alone.
    depth = given["fill_cm"] if given else depth_cm(line, floor_area_cm2 or kind.area_cm2)
    if not given and floor_area_cm2 is None:
        told.add("assume.tub.area", "tub.volume", area_cm2=kind.area_cm2)
    _judge_volume(water, told)
    return TubWater(water, depth, tuple(told.assumptions), tuple(told.warnings))


def _usual_size(volume_l: ArrayLike | None) -> TubSize:
    """A bath tub, or for less water than one holds the vessel that usually holds so much."""
    bath = tub_size("bath-tub")
    litres = np.nan if volume_l is None else middle(volume_l)
    if not 0.0 < litres < bath.low_l:
        return bath
    kinds = [tub_size(name) for name in tub_size_names()]
    return min(kinds, key=lambda kind: abs(np.log(litres / kind.volume_l)))


def _without_bathers(line_l: Array, adults: int, children: int, told: Told) -> Array:
    taken = float(displacement_l(adults, children))
    if taken == 0:
        return line_l
    told.add("assume.tub.displacement", "tub.bathers_in_tub", volume_l=taken)
    water = line_l - taken
    if np.any(water <= 0):
        raise ValueError(
            f"bathers_in_tub takes up {taken:.0f} L, which is all of the tub; "
            "read the fill before anyone gets in"
        )
    return water


def most_tub_l() -> float:
    """Water from which a tub holds what is treated and kept, and is never coloured [L]."""
    return named("hot-tub", "tub", _TABLE, TubSize).low_l


def _judge_volume(water_l: Array, told: Told) -> None:
    limit = most_tub_l()
    most = named("deep-tub", "tub", _TABLE, TubSize).high_l
    largest = float(np.max(water_l))
    if largest >= limit:
        raise ValueError(
            f"the tub holds {largest:.0f} L; tubs below {limit:.0f} L are accepted, "
            "larger ones hold treated water that must not be coloured"
        )
    if middle(water_l) > most:
        told.add("warn.tub.large", "tub.volume", volume_l=middle(water_l), most_l=most)


def _positive(name: str, value: ArrayLike) -> Array:
    array = np.asarray(value, dtype=float)
    wrong = (array <= 0) | np.isinf(array)
    if np.any(wrong):
        raise ValueError(f"{name} is {float(array[wrong].flat[0])!r}; it must be above 0")
    return array
