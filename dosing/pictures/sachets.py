"""The sheet of a sachet: a hundred homes in a row, as the water in each of them looks after it."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import ArrayLike, NDArray

from dosing.bath.assembled import Setting, assemble
from dosing.bath.inputs import RecipeInputs
from dosing.bath.mixed import colour_at
from dosing.pictures.poster import Poster
from dosing.plan.households import in_tub
from dosing.sachets.blends import BlendAnswer
from dosing.sachets.counting import size_shares
from dosing.sachets.home_doses import HomeDoses
from dosing.sachets.sizes import SachetAnswer
from dosing.words import sachets as words
from dosing.words.label import told_on_labels
from dosing.words.wording import caution_line, heaviest_first
from dosing.words.wording import grams as grams_shown
from indicator.appearance import light_label
from indicator.notes import say, sentence
from indicator.sheet import FAINT, GROUND, HAIRLINE, INK

if TYPE_CHECKING:
    from matplotlib.figure import Figure

Array = NDArray[np.float64]

WIDTH = 7.4
LEFT = 0.55
RIGHT = WIDTH - LEFT
TITLE, LARGE, BODY, SMALL = 20.0, 11.5, 8.6, 7.6
"""Sizes of type [points]."""
SHOWN = 100
"""Homes in a row."""
CELL_HEIGHT = 0.34
MARK_HEIGHT = 0.11
MOST_SIZES = 4


def draw_sachet(
    answer: SachetAnswer, inputs: RecipeInputs, blends: BlendAnswer | None = None
) -> Figure:
    """The answer as one sheet.

    Parameters
    ----------
    answer : SachetAnswer
        What `dosing.sachets.sizes.sachet_answer` gave.
    inputs : RecipeInputs
        The recipe it was given for; its colours and view are drawn.
    blends : BlendAnswer, optional
        Proposals for other blends.

    Returns
    -------
    matplotlib.figure.Figure
        Not attached to any window; save it with `indicator.sheet.write_picture`.
    """
    sheet = Poster(WIDTH)
    y = sheet.text(LEFT, -0.36, words.title(answer), TITLE, width=RIGHT - LEFT)
    if answer.bathers == "nobody":
        y = sheet.text(LEFT, y - 0.04, say("plan.not-for-bathing"), LARGE, bold=True)
    y = _headlines(sheet, answer, blends, y - 0.06)
    y = _paragraphs(sheet, map(sentence, answer.assumptions[:1]), y, 0.06, FAINT)
    y = _paragraphs(sheet, words.counted_as(answer), y, 0.02, FAINT)
    y = _rows(sheet, answer, inputs, y - 0.14)
    y = _ways(sheet, answer, y - 0.2)
    if blends is not None:
        y = _blends(sheet, answer, blends, y - 0.16)
    y = _label(sheet, answer, blends, y - 0.16)
    y = _cautions(sheet, answer, y - 0.16)
    sheet.rule(LEFT, y - 0.2, RIGHT, y - 0.2)
    remark = say("sachet.remark", {"light": light_label(inputs.wish.light)})
    y = sheet.paragraphs([remark], y, SMALL, gap=0.3, ink=FAINT)
    return sheet.finished(y - 0.26)


def _paragraphs(
    sheet: Poster, texts: Iterable[str], top: float, gap: float = 0.05, ink: str = INK
) -> float:
    return sheet.paragraphs(texts, top, BODY, gap=gap, ink=ink)


def _headlines(
    sheet: Poster, answer: SachetAnswer, blends: BlendAnswer | None, top: float
) -> float:
    heads = words.headlines(answer, blends)
    if not heads:
        return top
    return sheet.verdict((heads, (), None), top, (LARGE, BODY)) - 0.06


def _rows(sheet: Poster, answer: SachetAnswer, inputs: RecipeInputs, top: float) -> float:
    """A row of homes before, after each size, and after each way of pouring."""
    order = np.argsort(answer.doses.turns_g, kind="stable")
    places = ((np.arange(SHOWN) + 0.5) / SHOWN * len(order)).astype(int)
    shown = order[places]
    middle = float(np.median(answer.in_homes.volume_l))
    setting = assemble(in_tub(inputs, middle))
    y = sheet.text(LEFT, top, say("sachet.each-cell"), BODY, width=RIGHT - LEFT)
    y = sheet.text(LEFT, y - 0.12, say("sachet.row-before"), BODY, bold=True)
    y = _cells(sheet, setting, answer.doses.start_ph[shown], y - 0.03)
    y = _needs(sheet, answer.doses, order, y)
    for title, grams in _drawn(answer):
        y = sheet.text(LEFT, y - 0.16, title, BODY, bold=True)
        shares = words.shares(size_shares(answer.doses, grams))
        y = sheet.text(LEFT, y, shares, BODY, width=RIGHT - LEFT)
        y = _cells(sheet, setting, answer.in_homes.ph_after(grams)[shown], y - 0.03)
        y = _marks(sheet, answer.doses, grams, shown, y - 0.02)
    return _legend(sheet, y - 0.06)


def _drawn(answer: SachetAnswer) -> list[tuple[str, Array]]:
    """Titles and grams of the rows, some sizes first."""
    count = len(answer.doses.turns_g)
    sizes = [size.grams for size in answer.sizes]
    if len(sizes) > MOST_SIZES:
        sizes = [sizes[round(k)] for k in np.linspace(0, len(sizes) - 1, MOST_SIZES)]
    rows = [
        (say("sachet.short-size", {"grams": grams_shown(size)}), np.full(count, size))
        for size in sizes
    ]
    for way in words.ways(answer):
        if way == "one" and answer.single is not None and answer.single.grams in sizes:
            continue
        rows.append((words.way_told(answer, way, "short"), answer.poured(way)))
    return rows


def _cells(sheet: Poster, setting: Setting, ph: Array, top: float) -> float:
    """The water of each home as a cell, edge to edge."""
    colours = colour_at(setting.bath.strengths, ph, setting.view, setting.bath.surfactants_g_l)
    width = (RIGHT - LEFT) / SHOWN
    bottom = top - CELL_HEIGHT
    for place, shade in enumerate(np.atleast_1d(colours.hex)):
        x = LEFT + place * width
        # A hair of overlap, so that no ground shines between neighbours.
        sheet.axes.fill(
            [x, x + 1.04 * width, x + 1.04 * width, x],
            [top, top, bottom, bottom],
            color=str(shade),
            linewidth=0,
        )
    sheet.rule(LEFT, top, RIGHT, top)
    return bottom


def _needs(sheet: Poster, doses: HomeDoses, order: NDArray[np.int_], top: float) -> float:
    """Grams that homes need, written along the row."""
    for share in (0.1, 0.3, 0.5, 0.7, 0.9):
        x = LEFT + share * (RIGHT - LEFT)
        need = float(doses.turns_g[order[int(share * len(order))]])
        sheet.rule(x, top, x, top - 0.05)
        text = say("sachet.never-turns") if np.isinf(need) else grams_shown(need)
        sheet.text(x, top - 0.05, text, SMALL, align="center")
    return sheet.text(LEFT, top - 0.05, say("sachet.needs"), SMALL, ink=FAINT)


def _marks(
    sheet: Poster, doses: HomeDoses, grams: Array, shown: NDArray[np.int_], top: float
) -> float:
    """Under each cell a cross for too sour, a dot for turned, nothing for not turned."""
    turned, past = (which[shown] for which in doses.turned_and_past(grams))
    width = (RIGHT - LEFT) / SHOWN
    x = LEFT + (np.arange(SHOWN) + 0.5) * width
    y: Array = np.full(SHOWN, top - 0.5 * MARK_HEIGHT, dtype=np.float64)
    _scatter(sheet, x[past], y[past], "x")
    _scatter(sheet, x[turned], y[turned], "o")
    return top - MARK_HEIGHT


def _scatter(sheet: Poster, x: ArrayLike, y: ArrayLike, mark: str) -> None:
    fill = INK if mark == "o" else GROUND
    sheet.axes.plot(
        x, y, linestyle="none", marker=mark, color=INK, markerfacecolor=fill,
        markersize=2.2 if mark == "o" else 2.8, markeredgewidth=HAIRLINE if mark == "x" else 0.0,
    )  # fmt: skip


def _legend(sheet: Poster, top: float) -> float:
    x = LEFT + 0.04
    middle = top - 0.09
    _scatter(sheet, [x], [middle], "o")
    sheet.text(x + 0.09, top - 0.01, say("sachet.legend-turns"), SMALL)
    _scatter(sheet, [x + 0.85], [middle], "x")
    sheet.text(x + 0.94, top - 0.01, say("sachet.legend-sour"), SMALL)
    return sheet.text(x + 1.8, top - 0.01, say("sachet.legend-not"), SMALL)


def _ways(sheet: Poster, answer: SachetAnswer, top: float) -> float:
    y = top
    told = words.ways(answer)
    if told:
        y = sheet.text(LEFT, y, say("sachet.heading.ways"), LARGE, bold=True)
    for way, text in told.items():
        mark = say("sachet.recommended") if way == answer.recommended else ""
        y = _paragraphs(sheet, [f"{mark}{text}"], y)
    return _paragraphs(sheet, (words.wished(answer), *words.too_light(answer)), y)


def _blends(sheet: Poster, answer: SachetAnswer, blends: BlendAnswer, top: float) -> float:
    y = sheet.text(LEFT, top, say("sachet.heading.blends"), LARGE, bold=True)
    y = sheet.text(LEFT, y, words.blend_intro(blends), BODY, width=RIGHT - LEFT, ink=FAINT)
    for name, facts, cautions in words.blend_lines(blends, answer.cautions):
        y = sheet.text(LEFT, y - 0.06, name, BODY, width=RIGHT - LEFT, bold=True)
        y = _paragraphs(sheet, (" ".join(facts), *cautions), y, 0.0)
    return _paragraphs(sheet, words.heavy_blends(blends), y)


def _label(sheet: Poster, answer: SachetAnswer, blends: BlendAnswer | None, top: float) -> float:
    """The text of each sachet in a frame of its own, to be copied."""
    y = sheet.text(LEFT, top, say("sachet.heading.label"), LARGE, bold=True) - 0.04
    for title, lines in told_on_labels(answer, blends):
        if lines:
            y = sheet.verdict(([title], lines, None), y, (BODY, BODY)) - 0.1
        else:
            y = sheet.text(LEFT, y, title, BODY, width=RIGHT - LEFT)
    return y


def _cautions(sheet: Poster, answer: SachetAnswer, top: float) -> float:
    if not answer.cautions:
        return top
    y = sheet.text(LEFT, top, say("plan.heading.cautions"), LARGE, bold=True)
    return _paragraphs(sheet, map(caution_line, heaviest_first(answer.cautions)), y, 0.03)
