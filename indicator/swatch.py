"""Swatches: the ladder of colours along the pH, in numbers and as vessels drawn in section.

Only what needs no grams is drawn here. The vessel is public so that other figures draw the same
one.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from textwrap import fill
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from indicator.absorbance import mixture_absorbance
from indicator.appearance import light_label, seen
from indicator.notes import say
from indicator.optics import View
from indicator.pigments import colourant
from indicator.sheet import ENAMEL, FAINT, GROUND, HAIRLINE, INK

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

Array = NDArray[np.float64]

PER_ROW = 8
"""Most vessels side by side."""
MARGIN = 0.3
STEP = 1.25
"""From one vessel to the next."""
LEAST_WIDTH = 5.2
SLANT = 0.35
"""Run over rise of the line between two waters in one vessel."""


@dataclass(frozen=True)
class Swatch:
    """One colour of a ladder."""

    ph: float
    hex: str
    lab: tuple[float, float, float]
    """CIELAB relative to the light's white."""
    hue_deg: float
    word: str
    phrase: str
    """The word with pale, deep or dark before it where that says more."""
    in_gamut: bool
    visibility_delta_e: float
    """CIEDE2000 against the same vessel without colourants."""
    visibility: str

    def as_dict(self) -> dict[str, Any]:
        """The keys of a colour as JSON shows them."""
        return {**vars(self), "lab": list(self.lab)}


def ladder(strengths: Mapping[str, float], ph_values: Sequence[float], view: View) -> list[Swatch]:
    """Colours of a liquid along the pH.

    Parameters
    ----------
    strengths : mapping of str to float
        Colourant to its strength in this liquid: pH-1 absorbance per cm, or mol/L for a dye.
    ph_values : sequence of float
        The rungs, in the order they are shown.
    view : View
        Vessel, light and observer.

    Raises
    ------
    ValueError
        If a colourant is unknown, a strength is negative or the light is unknown.
    """
    rungs = np.asarray(ph_values, dtype=np.float64).reshape(-1)
    colours = seen(mixture_absorbance(strengths, rungs), view)
    return [
        Swatch(
            ph=float(ph),
            hex=str(colours.hex[k]),
            lab=(float(colours.lab[k, 0]), float(colours.lab[k, 1]), float(colours.lab[k, 2])),
            hue_deg=float(colours.hue_deg[k]),
            word=str(colours.word[k]),
            phrase=str(colours.phrase[k]),
            in_gamut=bool(colours.in_gamut[k]),
            visibility_delta_e=float(colours.visibility_delta_e[k]),
            visibility=str(colours.visibility[k]),
        )
        for k, ph in enumerate(rungs)
    ]


def draw_ladder(strengths: Mapping[str, float], ph_values: Sequence[float], view: View) -> Figure:
    """The ladder as a row of vessels in section, with the pH and the word under each.

    Parameters
    ----------
    strengths, ph_values, view
        As in `ladder`.

    Returns
    -------
    matplotlib.figure.Figure
        Not attached to any window; save it with ``savefig``.
    """
    from matplotlib.figure import Figure

    swatches = ladder(strengths, ph_values, view)
    columns, rows = min(max(len(swatches), 1), PER_ROW), max(-(-len(swatches) // PER_ROW), 1)
    shape = _SHAPES[view.kind]
    step_y = shape.height + 0.72
    width = max(2 * MARGIN + shape.width + STEP * (columns - 1), LEAST_WIDTH)
    height = step_y * rows + 1.35
    figure = Figure(figsize=(1.02 * width, 1.02 * height), dpi=200, facecolor=GROUND)
    axes = figure.add_axes((0.0, 0.0, 1.0, 1.0))
    axes.set(xlim=(0.0, width), ylim=(0.0, height), aspect="equal")
    axes.set_axis_off()
    _headline(axes, strengths, view, height)
    for k, swatch in enumerate(swatches):
        row, column = divmod(k, PER_ROW)
        x, y = MARGIN + shape.width / 2 + STEP * column, height - 0.9 - step_y * (row + 1)
        _rung(axes, swatch, view, x, y, first=column == 0)
    remark = say("view.ladder-note", {"light": light_label(view.light)})
    if not all(swatch.in_gamut for swatch in swatches):
        remark += " " + say("view.out-of-gamut")
    axes.text(MARGIN, 0.17, fill(remark, round(21 * width)), color=FAINT, size=6.2, va="bottom")
    return figure


def draw_vessel(
    axes: Axes,
    kind: str,
    water: str,
    x: float,
    y: float,
    width: float,
    *,
    after: str | None = None,
) -> float:
    """A vessel in section, filled with water.

    Parameters
    ----------
    axes : matplotlib.axes.Axes
        With equal scales on both axes.
    kind : str
        ``"tub"``, ``"bottle"`` or ``"jar"``.
    water : str
        Colour of the water, ``#rrggbb``.
    x, y : float
        Middle of the outer bottom [data units].
    width : float
        Outer width at the widest.
    after : str, optional
        A second colour for the right half, behind a slanting line.

    Returns
    -------
    float
        Height of the vessel above ``y``.

    Raises
    ------
    ValueError
        If the kind is none of the three.
    """
    if kind not in _SHAPES:
        raise ValueError(f"vessel is {kind!r}; accepted are {', '.join(_SHAPES)}")
    shape = _SHAPES[kind]
    scale = width / shape.width
    outside = _mirrored(*shape.outside(), x, y, scale)
    inside = _mirrored(*shape.profile(0.0, shape.height), x, y, scale)
    filled = _mirrored(*shape.profile(0.0, shape.level), x, y, scale)
    wall = [
        np.concatenate([out, within[::-1]]) for out, within in zip(outside, inside, strict=True)
    ]
    axes.fill(*wall, facecolor=ENAMEL, edgecolor=INK, linewidth=HAIRLINE, joinstyle="round")
    axes.fill(*filled, facecolor=water, edgecolor="none")
    if after is not None:
        _draw_right_half(axes, filled, after, x, width)
    axes.plot(*filled, color=INK, linewidth=HAIRLINE, solid_joinstyle="round")
    surface = filled[0][[0, -1]], filled[1][[0, -1]]
    axes.plot(*surface, color=INK, linewidth=HAIRLINE)
    return float(shape.height * scale)


def _draw_right_half(
    axes: Axes, filled: tuple[Array, Array], water: str, x: float, width: float
) -> None:
    """Fill what lies right of a line that slants through the middle of the water."""
    from matplotlib.patches import Polygon

    low, high = float(filled[1].min()), float(filled[1].max())
    lean = SLANT * (high - low) / 2
    line = [(x - lean, low), (x + lean, high)]
    right = x + width
    half = Polygon([*line, (right, high), (right, low)], transform=axes.transData)
    (poured,) = axes.fill(*filled, facecolor=water, edgecolor="none")
    poured.set_clip_path(half)
    axes.plot(*zip(*line, strict=True), color=INK, linewidth=HAIRLINE)


def vessel_height(kind: str, width: float) -> float:
    """Height of a vessel that is `width` wide, in the same unit."""
    return _SHAPES[kind].height * width / _SHAPES[kind].width


@dataclass(frozen=True)
class _Shape:
    """Inner section of a vessel, on its axis; lengths in units of the width of a tub."""

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
    shoulder: float = 9.0
    """Height where the body starts to narrow into a neck."""
    neck: float = 0.0
    """Inner radius of the neck."""

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


_SHAPES = {
    "tub": _Shape(
        radius=0.4, corner=0.22, flare=0.14, level=0.48, height=0.62, wall=0.035, lip=0.03
    ),
    "jar": _Shape(
        radius=0.33, corner=0.07, flare=0.0, level=0.64, height=0.92, wall=0.026, lip=0.012,
        shoulder=0.66, neck=0.27,
    ),
    "bottle": _Shape(
        radius=0.25, corner=0.06, flare=0.0, level=0.68, height=1.12, wall=0.024, lip=0.012,
        shoulder=0.7, neck=0.09,
    ),
}  # fmt: skip


def _mirrored(half: Array, up: Array, x: float, y: float, scale: float) -> tuple[Array, Array]:
    across = np.concatenate([-half[::-1], half]) * scale + x
    return across, np.concatenate([up[::-1], up]) * scale + y


def _rung(axes: Axes, swatch: Swatch, view: View, x: float, y: float, *, first: bool) -> None:
    draw_vessel(axes, view.kind, swatch.hex or GROUND, x, y + 0.46, _SHAPES[view.kind].width)
    axes.text(
        x,
        y + 0.36,
        f"pH {swatch.ph:.1f}" if first else f"{swatch.ph:.1f}",
        color=INK,
        size=11,
        ha="center",
        va="top",
    )
    mark = "" if swatch.in_gamut else " ◦"
    axes.text(x, y + 0.14, swatch.phrase + mark, color=INK, size=7.4, ha="center", va="top")


def _headline(axes: Axes, strengths: Mapping[str, float], view: View, height: float) -> None:
    labels = " + ".join(colourant(name).label for name in strengths)
    title = say("view.ladder", {"colours": labels})
    axes.text(MARGIN, height - 0.3, title[:1].upper() + title[1:], color=INK, size=13, va="top")
    parts = [_amount(name, value) for name, value in strengths.items()]
    parts.append(say(f"view.{view.kind}", {"path_cm": view.path_cm}))
    axes.text(MARGIN, height - 0.62, " · ".join(parts), color=FAINT, size=7.4, va="top")


def _amount(name: str, strength: ArrayLike) -> str:
    which = colourant(name)
    if which.molar_mass is None:
        return say("view.pigment", {"label": which.label, "strength": float(np.asarray(strength))})
    milligrams = 1000.0 * float(np.asarray(strength)) * which.molar_mass
    return say("view.dye", {"label": which.label, "mg_l": milligrams})
