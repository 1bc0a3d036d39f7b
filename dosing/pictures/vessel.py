"""Vessels drawn in section, as every picture shows them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from indicator.optics import VIEWS
from indicator.sheet import ENAMEL, HAIRLINE, INK
from indicator.tables import read_table

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.patches import Polygon

Array = NDArray[np.float64]

SLANT = 0.35
"""Run over rise of the line between two waters in one vessel."""
SPOUT_HEIGHT = 0.19
"""Where a spout begins to lean out, below the rim."""


def draw_vessel(
    axes: Axes,
    kind: str,
    water: str,
    x: float,
    y: float,
    width: float,
    *,
    after: str | None = None,
    halo: str | None = None,
) -> float:
    """A vessel in section, filled with water.

    Parameters
    ----------
    axes : matplotlib.axes.Axes
        With equal scales on both axes.
    kind : str
        One of `indicator.optics.VIEWS`.
    water : str
        Colour of the water, ``#rrggbb``.
    x, y : float
        Middle of the outer bottom [data units].
    width : float
        Outer width at the widest.
    after : str, optional
        A second colour for the right half, behind a slanting line.
    halo : str, optional
        A colour along both sides of that line, so that it is seen in dark water.

    Returns
    -------
    float
        Height of the vessel above ``y``.

    Raises
    ------
    ValueError
        If there is no such vessel.
    """
    if kind not in _shapes():
        raise ValueError(f"vessel is {kind!r}; accepted are {', '.join(VIEWS)}")
    shape = _shapes()[kind]
    scale = width / shape.width
    outside = shape.section(*shape.outside(), x, y, scale)
    inside = shape.section(*shape.profile(0.0, shape.height), x, y, scale)
    filled = shape.section(*shape.profile(0.0, shape.level), x, y, scale)
    wall = [
        np.concatenate([out, within[::-1]]) for out, within in zip(outside, inside, strict=True)
    ]
    _fill(axes, wall, facecolor=ENAMEL, edgecolor=INK, linewidth=HAIRLINE, joinstyle="round")
    _fill(axes, filled, facecolor=water, edgecolor="none")
    axes.update_datalim(np.column_stack(outside))
    if after is not None:
        _draw_right_half(axes, filled, after, x, width, halo)
    axes.plot(*filled, color=INK, linewidth=HAIRLINE, solid_joinstyle="round")
    surface = filled[0][[0, -1]], filled[1][[0, -1]]
    axes.plot(*surface, color=INK, linewidth=HAIRLINE)
    return float(shape.height * scale)


def vessel_height(kind: str, width: float) -> float:
    """Height of a vessel that is `width` wide, in the same unit.

    Parameters
    ----------
    kind : str
        One of `indicator.optics.VIEWS`.
    width : float
        Outer width at the widest.

    Returns
    -------
    float
        [unit of the width].
    """
    return _shapes()[kind].height * width / _shapes()[kind].width


def _fill(axes: Axes, outline: Sequence[Array], **style: Any) -> Polygon:
    """A filled polygon; unlike `Axes.fill` it does not look through its curves for limits."""
    from matplotlib.patches import Polygon

    shape = Polygon(np.column_stack(outline), closed=True, **style)
    axes.add_artist(shape)
    return shape


def _draw_right_half(
    axes: Axes,
    filled: tuple[Array, Array],
    water: str,
    x: float,
    width: float,
    halo: str | None,
) -> None:
    """Fill what lies right of a line that slants through the middle of the water."""
    from matplotlib.patches import Polygon

    low, high = float(filled[1].min()), float(filled[1].max())
    lean = SLANT * (high - low) / 2
    line = [(x - lean, low), (x + lean, high)]
    right = x + width
    half = Polygon([*line, (right, high), (right, low)], transform=axes.transData)
    _fill(axes, filled, facecolor=water, edgecolor="none").set_clip_path(half)
    if halo is not None:
        axes.plot(*zip(*line, strict=True), color=halo, linewidth=4 * HAIRLINE)
    axes.plot(*zip(*line, strict=True), color=INK, linewidth=HAIRLINE)


@dataclass(frozen=True)
class _Shape:
    """Inner section of a vessel, on its axis; lengths in units of the width of a tub."""

    name: str
    radius: float
    """Inner radius of the body above its rounded corner."""
    corner: float
    flare: float
    """How much the wall leans out per unit of height."""
    level: float
    height: float
    wall: float
    lip: float
    """How far the rim stands out."""
    source: str
    confidence: str
    shoulder: float = 9.0
    """Height where the body starts to narrow into a neck."""
    neck: float = 0.0
    """Inner radius of the neck."""
    spout: float = 0.0
    """How far the rim leans out on the left, to pour over."""

    @property
    def width(self) -> float:
        """Outer width at the widest."""
        return float(2.0 * self.outside()[0].max())

    def profile(self, outward: float, top: float) -> tuple[Array, Array]:
        """Half widths and heights from the middle of the bottom up to ``top``.

        ``outward`` moves the line out, for the outside of the wall.
        """
        bend = self.corner + outward
        turn = np.linspace(0.0, np.pi / 2, 24)
        foot_r = self.radius - self.corner + bend * np.sin(turn)
        foot_y = self.wall - outward + bend * (1.0 - np.cos(turn))
        rise_y = np.linspace(foot_y[-1], top, 60)[1:]
        slope = np.clip((rise_y - self.shoulder) / 0.2, 0.0, 1.0)
        ease = slope * slope * (3.0 - 2.0 * slope)
        rise_r = self.radius + outward + ease * (self.neck - self.radius)
        half = np.concatenate([[0.0], foot_r, rise_r])
        up = np.concatenate([[foot_y[0]], foot_y, rise_y])
        return half + self.flare * (up - up[0]), up

    def outside(self) -> tuple[Array, Array]:
        """Half widths and heights of the outer wall with its rim."""
        half, up = self.profile(self.wall, self.height - 0.035)
        rim = half[-1] + self.lip
        return (
            np.concatenate([half, [rim, rim]]),
            np.concatenate([up, [self.height - 0.035, self.height]]),
        )

    def section(
        self, half: Array, up: Array, x: float, y: float, scale: float
    ) -> tuple[Array, Array]:
        """Both sides of a line from `profile` or `outside`, left to right, where it is drawn."""
        lean = np.clip(1.0 - (self.height - up) / SPOUT_HEIGHT, 0.0, 1.0) ** 2
        left = -half - self.spout * lean
        across = np.concatenate([left[::-1], half]) * scale + x
        return across, np.concatenate([up[::-1], up]) * scale + y


@cache
def _shapes() -> dict[str, _Shape]:
    return {row.name: row for row in read_table("colour/vessels.csv", _Shape)}
