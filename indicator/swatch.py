"""Swatches: ladders of colours along the pH, in numbers and as vessels drawn in section.

Only what needs no grams is drawn here. The vessel is public so that other figures draw the same
one.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from math import ceil, sqrt
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from indicator.absorbance import WAVELENGTH_NM, form_spectra, mixture_absorbance
from indicator.appearance import SeenColour, light_label, seen
from indicator.colourants import Colourant, ColourantLike, Strengths
from indicator.notes import say
from indicator.optics import VIEWS, View, usual_observer
from indicator.pigments import by_record, colourant
from indicator.sheet import ENAMEL, FAINT, GROUND, HAIRLINE, INK, Sheet
from indicator.spread import DRAWS, spread_delta_e
from indicator.tables import read_table

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure
    from matplotlib.patches import Polygon

Array = NDArray[np.float64]

PER_ROW = 9
"""Most vessels side by side, except in a ladder of very many rungs."""
UNIT = 1.02
"""Length that a vessel's measures count in [in]: about the width of a tub."""
MARGIN = 0.3 * UNIT
STEP = 1.25 * UNIT
"""From one vessel to the next."""
LEAST_WIDTH = 5.2 * UNIT
TITLE, HEADING, NUMBER, WORD, REMARK = 13.0, 10.0, 11.0, 7.4, 6.6
"""Sizes of type [points]."""
MOST_DRAWN, LEAST_DRAWS = 4000, 50
"""Colours that are drawn for the spread of one ladder, and draws of each at least."""
SHOWN_ABSORBANCE = 0.8
"""Strength times path at which a ladder is drawn if no strength is given: clear, not dark."""
SLANT = 0.35
"""Run over rise of the line between two waters in one vessel."""
SPOUT_HEIGHT = 0.19
"""Where a spout begins to lean out, below the rim."""


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


@dataclass(frozen=True)
class Ladder:
    """Colours of one liquid in one view along the pH."""

    strengths: Mapping[Colourant, float]
    """Colourant to strength: pH-1 absorbance per cm, or mol/L for a dye."""
    view: View
    swatches: list[Swatch]


def shown_strength(which: Colourant, view: View) -> float:
    """Strength at which a colourant shows: its own maximum times the way the light goes.

    Parameters
    ----------
    which : Colourant
        Pigment or dye.
    view : View
        How it is looked at.

    Returns
    -------
    float
        PH-1 absorbance per cm, or mol/L of a dye.
    """
    height = 1.0 if which.kind == "pigment" else float(form_spectra(which, WAVELENGTH_NM).max())
    passes = 2.0 if view.kind == "tub" else 1.0
    return SHOWN_ABSORBANCE / (height * view.path_cm * passes)


def ladder_spread(shown: Ladder) -> list[float]:
    """Error of each colour of a ladder by what is not known of the colourants [CIEDE2000]."""
    ph = np.array([rung.ph for rung in shown.swatches])
    labs = np.array([rung.lab for rung in shown.swatches])
    draws = min(DRAWS, max(MOST_DRAWN // len(ph), LEAST_DRAWS))
    return [float(away) for away in spread_delta_e(shown.strengths, ph, shown.view, labs, draws)]


def ladder(strengths: Strengths, ph_values: Sequence[float], view: View) -> Ladder:
    """Colours of a liquid along the pH.

    Parameters
    ----------
    strengths : mapping of Colourant or str to float
        Colourant, or the name of a shipped one, to its strength in this liquid: pH-1 absorbance
        per cm, or mol/L for a dye.
    ph_values : sequence of float
        The rungs, in the order they are shown.
    view : View
        Vessel, light and observer.

    Returns
    -------
    Ladder

    Raises
    ------
    ValueError
        If a colourant is unknown, a strength is negative or the light is unknown.

    Examples
    --------
    >>> from indicator.optics import jar_view
    >>> pea = ladder({"butterfly-pea": 0.1}, [3.0, 7.0, 9.0], jar_view())
    >>> [rung.word for rung in pea.swatches]
    ['violet', 'blue', 'teal']
    """
    known = {which: float(value) for which, value in by_record(strengths).items()}
    rungs = np.asarray(ph_values, dtype=np.float64).reshape(-1)
    colours = seen(mixture_absorbance(known, rungs), view).steady()
    swatches = [_swatch(float(ph), colours.at(k)) for k, ph in enumerate(rungs)]
    return Ladder(known, view, swatches)


def _swatch(ph: float, colour: SeenColour) -> Swatch:
    lightness, a, b = map(float, colour.lab)
    return Swatch(
        ph=ph,
        hex=str(colour.hex),
        lab=(lightness, a, b),
        hue_deg=float(colour.hue_deg),
        word=str(colour.word),
        phrase=str(colour.phrase),
        in_gamut=bool(colour.in_gamut),
        visibility_delta_e=float(colour.visibility_delta_e),
        visibility=str(colour.visibility),
    )


def draw_ladders(ladders: Sequence[Ladder]) -> Figure:
    """Ladders one below the other: vessels in section, with the pH and the word under each.

    Parameters
    ----------
    ladders : sequence of Ladder
        One or more; the same place in each row is the same rung.

    Returns
    -------
    matplotlib.figure.Figure
        Not attached to any window; save it with `indicator.sheet.write_picture`.
    """
    columns = max(_columns(len(drawn.swatches)) for drawn in ladders)
    widest = UNIT * max(_shapes()[drawn.view.kind].width for drawn in ladders)
    sheet = Sheet(max(2 * MARGIN + widest + STEP * (columns - 1), LEAST_WIDTH))
    y = _headline(sheet, ladders)
    for drawn in ladders:
        if len(ladders) > 1:
            y = _block_heading(sheet, drawn, y - 0.34)
        y = _rows(sheet, drawn, y, MARGIN + widest / 2, columns)
    y = sheet.text(
        MARGIN, y - 0.24, _remark(ladders), REMARK, width=sheet.width - 2 * MARGIN, ink=FAINT
    )
    return sheet.finished(y - 0.2)


def view_phrase(view: View) -> str:
    """Phrase for what is looked at; with the observer where it is not the vessel's usual one."""
    text = say(f"view.{view.kind}", {"path_cm": view.path_cm})
    if view.observer_deg == usual_observer(view.kind):
        return text
    return say("view.by-observer", {"view": text, "degrees": view.observer_deg})


def colours_phrase(colours: Iterable[ColourantLike]) -> str:
    """Labels of the colourants of a liquid, joined by +."""
    return " + ".join(colourant(which).label for which in colours)


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


def _columns(rungs: int) -> int:
    """Vessels side by side: rows of about one length, and longer ones where there are very many."""
    most = max(PER_ROW, ceil(sqrt(2 * rungs)))
    rows = max(ceil(rungs / most), 1)
    return max(ceil(rungs / rows), 1)


def _rows(sheet: Sheet, drawn: Ladder, top: float, left_x: float, columns: int) -> float:
    """The vessels of a ladder, the first of each row around x = `left_x`; returns the lower end."""
    width = UNIT * _shapes()[drawn.view.kind].width
    y = top
    for k, swatch in enumerate(drawn.swatches):
        column = k % columns
        if column == 0:
            floor = y - 0.3 - vessel_height(drawn.view.kind, width)
        x = left_x + STEP * column
        draw_vessel(sheet.axes, drawn.view.kind, swatch.hex or GROUND, x, floor, width)
        number = say("view.ph" if column == 0 else "view.number", {"ph": swatch.ph})
        y = sheet.text(x, floor - 0.07, number, NUMBER, align="center")
        mark = "" if swatch.in_gamut else f" {say('view.out-of-gamut-mark')}"
        y = sheet.text(x, y - 0.02, swatch.phrase + mark, WORD, align="center")
    return y


def _headline(sheet: Sheet, ladders: Sequence[Ladder]) -> float:
    room = sheet.width - 2 * MARGIN
    if len(ladders) > 1:
        return sheet.text(MARGIN, -0.28, say("view.ladders"), TITLE, width=room)
    (drawn,) = ladders
    title = say("view.ladder", {"colours": colours_phrase(drawn.strengths)})
    y = sheet.text(MARGIN, -0.28, title[:1].upper() + title[1:], TITLE, width=room)
    return sheet.text(MARGIN, y - 0.06, _liquid(drawn), WORD, width=room, ink=FAINT)


def _block_heading(sheet: Sheet, drawn: Ladder, top: float) -> float:
    room = sheet.width - 2 * MARGIN
    sheet.rule(MARGIN, top, sheet.width - MARGIN, top)
    title = colours_phrase(drawn.strengths)
    y = sheet.text(MARGIN, top - 0.12, title[:1].upper() + title[1:], HEADING, width=room)
    return sheet.text(MARGIN, y - 0.02, _liquid(drawn), WORD, width=room, ink=FAINT)


def _liquid(drawn: Ladder) -> str:
    amounts = [amount_phrase(which, value) for which, value in drawn.strengths.items()]
    return " · ".join([*amounts, view_phrase(drawn.view)])


def _remark(ladders: Sequence[Ladder]) -> str:
    lights = dict.fromkeys(light_label(drawn.view.light) for drawn in ladders)
    remark = say("view.ladder-note", {"light": ", ".join(lights)})
    if not all(swatch.in_gamut for drawn in ladders for swatch in drawn.swatches):
        remark += " " + say("view.out-of-gamut")
    return remark


def amount_phrase(which: ColourantLike, strength: ArrayLike) -> str:
    """Phrase for how much of a colourant is in the liquid.

    Parameters
    ----------
    which : Colourant or str
        A record, or the name of a shipped colourant.
    strength : array_like
        PH-1 absorbance per cm [1/cm], or molarity of a dye [mol/L].

    Returns
    -------
    str
    """
    known = colourant(which)
    if known.molar_mass is None:
        return say("view.pigment", {"label": known.label, "strength": float(np.asarray(strength))})
    milligrams = 1000.0 * float(np.asarray(strength)) * known.molar_mass
    return say("view.dye", {"label": known.label, "mg_l": milligrams})
