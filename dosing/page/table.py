"""Doses and limits of a product in every water, tub and bather of its card, solved by the engine.

What the page may allow is `Plan.maximum_g` of the very readings; it interpolates nothing. Its pH
is a table whose dose nodes stand where straight lines between them come near enough.
"""

from __future__ import annotations

import os
from collections.abc import Mapping, Sequence
from concurrent.futures import ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from dataclasses import dataclass, field, replace
from functools import cache
from itertools import pairwise
from multiprocessing import get_context, parent_process
from multiprocessing.process import BaseProcess
from threading import Thread

import numpy as np
from numpy.typing import NDArray

from dosing.bath.assembled import Truth, assemble, water_l
from dosing.bath.inputs import RecipeInputs, TubInputs
from dosing.ingredients.hardness_units import (
    alkalinity_meq_l,
    hardness_classes,
    unit_meq_l,
)
from dosing.ingredients.powders import portions_on_scale_g, scale_floor_g, scale_step
from dosing.ingredients.trade_values import typical
from dosing.ingredients.tub import TubSize, bath_size
from dosing.ingredients.water import WaterReadings, drops_counted_meq_l, typical_water
from dosing.page.records import SACHET, ByBather, FillMark, Grid, PhTable
from dosing.plan.case import Case, case
from dosing.plan.cautions import Caution
from dosing.plan.choosing import Choice, chosen
from dosing.plan.records import Wish, correcting
from dosing.plan.telling import Weighed, weighed
from dosing.sachets.rules import strip_pads

Array = NDArray[np.float64]

DROPS = (*range(11), 12, 14, 17, 20)
"""Drops of a kit at which plans are made; a count between them takes the smaller one's."""


@dataclass(frozen=True)
class Extent:
    """Fills and drops at which plans are made."""

    marks: Mapping[str, float] = field(
        default_factory=lambda: {"third": 1 / 3, "half": 1 / 2, "two-thirds": 2 / 3, "full": 1.0}
    )
    """Fills that can be drawn, over the full tub."""
    between: tuple[float, ...] = (5 / 12, 5 / 6)
    """Further fills, so that the smaller of two is never far."""
    drops: tuple[int, ...] = DROPS


PICKS = {"soft": 0, "middling": 1, "hard": 2}
"""What a town's water is called, as a place among the classes of hardness."""
NEAR_PH = 0.02
"""Most by which a straight line between two dose nodes is off."""
FINE_DOSES, BEYOND = 80, 1.25
"""Doses that nodes are chosen from, up to so much of the largest limit of a row."""
SEARCHED = 0.95
"""Of the way from a dose to its limit: plans search it in steps."""
WORTH_WORKERS = 24
"""Plans from which several processes are worth their start."""


@dataclass(frozen=True)
class Row:
    """One reading of the card, with the waters that it may stand for."""

    kind: str
    """``"strip"``, ``"drops"`` or ``"none"``."""
    label: str
    waters: tuple[WaterReadings, ...]
    plans: tuple[str, ...]
    """Labels of the rows that are planned: its own, or its neighbours' on both sides."""

    @property
    def read(self) -> bool:
        """Whether somebody read the alkalinity."""
        return self.kind != "none"

    @property
    def may_be_none(self) -> bool:
        """Whether the water may have no alkalinity at all; no dose goes into it then."""
        return any(float(np.asarray(water.alkalinity_meq_l)) <= 0.0 for water in self.waters)


@dataclass(frozen=True)
class Cell:
    """Dose and limit of one reading, fill and bather."""

    limit: float = 0.0
    dose: float = 0.0
    why: str = ""
    chance: float = 0.0
    more: float = 0.0
    portions: int = 0
    first: float = 0.0
    ph_low: float = 0.0
    ph_high: float = 0.0
    ways: tuple[tuple[int, int], ...] = ()
    """Caution level and number of portions in each of the waters."""
    cautions: tuple[Caution, ...] = ()


def drop_ppm() -> float:
    """Alkalinity that a drop of the usual kit is worth: a German degree [mg/L CaCO3]."""
    return unit_meq_l("alkalinity", "dH") / unit_meq_l("alkalinity", "ppm")


def rows(extent: Extent) -> tuple[Row, ...]:
    """Readings of the card: pads of a strip, drops of a kit, and what a town's water is called."""
    pads = {f"{pad:g}": float(alkalinity_meq_l(pad, "ppm")) for pad in strip_pads()}
    counts, step = range(extent.drops[-1] + 1), unit_meq_l("alkalinity", "dH")
    return (
        *(Row("strip", pad, (_read(meq_l, "strip"),), (pad,)) for pad, meq_l in pads.items()),
        *(Row("drops", f"{n}", (_drops(n, step),), _planned(n, extent.drops)) for n in counts),
        *(Row("none", name, _called(name), (name,)) for name in PICKS),
    )


def _planned(count: int, drops: Sequence[int]) -> tuple[str, ...]:
    softer = max(each for each in drops if each <= count)
    return tuple(map(str, dict.fromkeys((softer, min(each for each in drops if each >= count)))))


def _read(meq_l: float, instrument: str) -> WaterReadings:
    return WaterReadings(alkalinity_meq_l=meq_l, instrument=instrument)


def _drops(count: int, step: float) -> WaterReadings:
    counted = float(drops_counted_meq_l(count * step, step))
    return replace(_read(counted, "drop-kit"), drop_step_meq_l=step)


def _called(name: str) -> tuple[WaterReadings, ...]:
    """Waters at both ends of a class of hardness, as they come and softened."""
    ends = hardness_classes()[PICKS[name] :][:1] if name != "hard" else hardness_classes()[2:]
    share = typical("alkalinity_share_of_hardness").value
    softened = typical_water("softened").hardness_mmol_l
    found = sorted({end for ends_of in ends for end in ends_of if np.isfinite(end)})
    return tuple(
        replace(_read(2.0 * share * hardness, "from-hardness"), hardness_mmol_l=left)
        for hardness in found
        for left in (hardness, softened)
    )


def fills(inputs: RecipeInputs, extent: Extent) -> tuple[tuple[float, ...], tuple[FillMark, ...]]:
    """Fill nodes of the card [L], rising, and those that a drawing of the tub shows.

    Parameters
    ----------
    inputs : RecipeInputs
        Whose tub tells the kind of vessel.
    extent : Extent
        Which fills.

    Returns
    -------
    tuple
        Litres, and marks that lie on them.
    """
    full = size_of(inputs).high_l
    nodes = sorted(round(full * share, 1) for share in (*extent.marks.values(), *extent.between))
    marks = [FillMark(name, round(full * share, 1), share) for name, share in extent.marks.items()]
    return tuple(nodes), tuple(marks)


def size_of(inputs: RecipeInputs) -> TubSize:
    """Kind of tub that the card is for: one that may be filled as the recipe's is."""
    return bath_size(water_l(inputs.tub))


def cell_inputs(
    inputs: RecipeInputs, water: WaterReadings, litres: float, bathers: str
) -> RecipeInputs:
    """The recipe in a customer's water and tub, whose fill is judged by eye.

    Parameters
    ----------
    inputs : RecipeInputs
        The maker's.
    water : WaterReadings
        Of the customer.
    litres : float
        Water in the tub [L].
    bathers : str
        ``"adult"`` or ``"child"``.

    Returns
    -------
    RecipeInputs
        Everything else is the maker's.
    """
    tub = TubInputs(volume_l=litres, floor_area_cm2=area_cm2(inputs), floor=inputs.tub.floor)
    wish = replace(inputs.wish, bathers=bathers, child_age_years=None)
    return replace(inputs, water=water, tub=tub, wish=wish)


def area_cm2(inputs: RecipeInputs) -> float:
    """Mean area of the water [cm²]: the maker's, or that of the kind of tub."""
    return inputs.tub.floor_area_cm2 or size_of(inputs).area_cm2


def solved_cells(
    inputs: RecipeInputs, table: Sequence[Row], litres: Sequence[float], bathers: Sequence[str]
) -> dict[str, list[list[Cell]]]:
    """The engine's answer for every bather, reading and fill.

    Parameters
    ----------
    inputs : RecipeInputs
        The maker's recipe.
    table : sequence of Row
        CardReadings.
    litres : sequence of float
        Fills [L].
    bathers : sequence of str
        ``"adult"``, ``"child"`` or both.

    Returns
    -------
    dict
        Bather to cells, by row and fill.
    """
    planned = [row for row in table if row.plans == (row.label,)]
    jobs = [(inputs, row, volume_l, tuple(bathers)) for row in planned for volume_l in litres]
    workers = min(os.cpu_count() or 1, len(jobs))
    if len(jobs) < WORTH_WORKERS or workers < 2:
        answers = list(map(_cells, jobs))
    else:
        answers = _by_workers(jobs, workers)
    solved = {
        (row.kind, row.label): answers[start : start + len(litres)]
        for row, start in zip(planned, range(0, len(jobs), len(litres)), strict=True)
    }

    def cells(row: Row, who: str) -> list[Cell]:
        beside = [solved[row.kind, label] for label in row.plans]
        return [_between([cell[who] for cell in fill]) for fill in zip(*beside, strict=True)]

    return {who: [rising(cells(row, who)) for row in table] for who in bathers}


def _by_workers(
    jobs: Sequence[tuple[RecipeInputs, Row, float, tuple[str, ...]]], workers: int
) -> list[dict[str, Cell]]:
    """Jobs done by processes of their own, none of which outlives this one."""
    # A process that is only forked may inherit a lock of a numerical thread, and wait for ever.
    with ProcessPoolExecutor(workers, get_context("spawn"), _end_with_parent) as pool:
        try:
            return list(pool.map(_cells, jobs, chunksize=2))
        except BrokenProcessPool:
            # A script without a guard for its main part cannot start workers.
            return list(map(_cells, jobs))
        except BaseException:
            pool.shutdown(wait=False, cancel_futures=True)
            raise


def _end_with_parent() -> None:
    Thread(target=_watch, args=(parent_process(),), daemon=True).start()


def _watch(parent: BaseProcess | None) -> None:
    """End a worker when the process that started it has ended, however it did."""
    if parent is not None:
        parent.join()
        os._exit(1)


def _between(planned: Sequence[Cell]) -> Cell:
    """A cell of the planned reading, or of one between two that are planned."""
    cell = lowest(planned)
    steady = all(each.ways == planned[0].ways for each in planned) and _at_once(cell)
    return cell if steady or len(planned) == 1 else within(cell, cell.dose)


def _at_once(cell: Cell) -> bool:
    return all(portions == 1 for _, portions in cell.ways)


def rising(cells: Sequence[Cell]) -> list[Cell]:
    """Cells by fill whose limits hold between two fills too, and never fall with the fill.

    A plan's maximum rises with the fill as long as the dose has one caution level and is poured at
    once; where that changes between two fills it may fall to the dose, which always rises.

    Parameters
    ----------
    cells : sequence of Cell
        The least full tub first; those without a dose part the rest.

    Returns
    -------
    list of Cell
    """
    kept = [
        cell if cell.limit <= 0.0 or after.limit <= 0.0 else _until(cell, after)
        for cell, after in pairwise(cells)
    ] + [*cells[-1:]]
    most = np.inf
    for place in reversed(range(len(kept))):
        cell = kept[place]
        most = min(most, cell.limit) if cell.limit > 0.0 else np.inf
        kept[place] = within(cell, most)
    return kept


def _until(cell: Cell, after: Cell) -> Cell:
    """A cell whose limit holds up to the next one, too."""
    steady = cell.ways == after.ways and _at_once(cell)
    return within(cell, cell.dose + SEARCHED * (cell.limit - cell.dose) if steady else cell.dose)


def within(cell: Cell, most_g: float) -> Cell:
    """A cell that keeps a limit.

    Parameters
    ----------
    cell : Cell
        Of one reading, fill and bather.
    most_g : float
        The limit [g].

    Returns
    -------
    Cell
    """
    limit, dose = min(cell.limit, most_g), min(cell.dose, most_g)
    more = max(min(cell.more, limit - dose), 0.0)
    return replace(cell, limit=limit, dose=dose, first=min(cell.first, dose), more=more)


def _cells(job: tuple[RecipeInputs, Row, float, tuple[str, ...]]) -> dict[str, Cell]:
    inputs, row, litres, bathers = job
    if row.may_be_none:
        return dict.fromkeys(bathers, Cell(why="nothing-safe"))
    wish = Wish.written(inputs.wish.target)

    @cache
    def asked(place: int) -> Case:
        return case(cell_inputs(inputs, row.waters[place], litres, bathers[0]))

    def cell(who: str) -> Cell:
        if who == "child" and not row.read:
            return Cell(why="needs-reading")
        cells: list[Cell] = []
        for place in range(len(row.waters)):
            cells.append(solved_cell(asked(place).for_bathers(who), wish))
            if cells[-1].limit <= 0.0:
                # Where one water takes nothing, the others do not matter.
                break
        return lowest(cells)

    return {who: cell(who) for who in bathers}


def solved_cell(asked: Case, wish: Wish) -> Cell:
    """Dose and limit of a plan, without working out all that it tells.

    Parameters
    ----------
    asked : Case
        A customer's tub and bathers.
    wish : Wish
        The recipe's.

    Returns
    -------
    Cell
        Its limit is `Plan.maximum_g` of `dosing.plan.answer.make_plan`.
    """
    asked = asked.asked(wish.ph, None, None)
    choice = chosen(asked, wish)
    what = weighed(asked, wish, choice)
    step = scale_step(choice.grams)
    most = scale_floor_g(what.maximum_g, step)
    portions = [pour.grams for pour in what.pours if not pour.spare]
    if most <= 0.0 or not portions:
        return Cell(why=_why(choice, what), cautions=what.cautions)
    (poured,), _ = portions_on_scale_g((choice.grams,), what.maximum_g, step)
    follows = correcting(what.before, poured, most) == "once-more"
    sachet_g = asked.inputs.card.sachet_g
    if sachet_g is not None and len(portions) > 1 and sachet_g > min(portions):
        # Whole sachets would be larger steps than those that were judged.
        return Cell(why=SACHET, cautions=what.cautions)
    return Cell(
        limit=what.maximum_g,
        dose=min(choice.grams, what.maximum_g),
        chance=choice.odds.reached_share,
        more=most - poured if follows and not what.strip_at_end else 0.0,
        portions=len(portions),
        first=min(portions),
        ph_low=what.pouring.final[0],
        ph_high=what.pouring.final[1],
        ways=((what.pouring.level, len(portions)),),
        cautions=what.cautions,
    )


def _why(choice: Choice, what: Weighed) -> str:
    if not what.met:
        return "nothing-safe" if choice.ideal.met else "no-change"
    return "nothing-safe" if what.may_pour else "forbidden"


def lowest(cells: Sequence[Cell]) -> Cell:
    """The cell that holds in all the waters that a reading may stand for."""
    worst = min(cells, key=lambda cell: cell.limit)
    if worst.limit <= 0.0 or len(cells) == 1:
        return worst
    dose = min(cell.dose for cell in cells)
    return replace(
        worst,
        dose=min(dose, worst.limit),
        chance=min(cell.chance for cell in cells),
        more=0.0,
        portions=max(cell.portions for cell in cells),
        first=min(dose, *(cell.first for cell in cells)),
        ph_low=min(cell.ph_low for cell in cells),
        ph_high=max(cell.ph_high for cell in cells),
        ways=tuple(way for cell in cells for way in cell.ways),
    )


def grid(cells: Sequence[Sequence[Cell]], part: str, digits: int = 2) -> Grid:
    """One number of all cells of a bather, by row and fill.

    Parameters
    ----------
    cells : sequence of sequence of Cell
        By row and fill.
    part : str
        Name of the number.
    digits : int
        Decimals that are kept, never rounded up.

    Returns
    -------
    Grid
    """
    step = 10.0**-digits
    return tuple(
        tuple(round(scale_floor_g(getattr(cell, part), step), digits or None) for cell in row)
        for row in cells
    )


def ph_table(
    inputs: RecipeInputs, table: Sequence[Row], litres: Sequence[float], limit: ByBather
) -> PhTable:
    """PH by reading, litres and dose, with unread inputs at their usual values.

    Parameters
    ----------
    inputs : RecipeInputs
        The maker's recipe.
    table : sequence of Row
        CardReadings; of several waters the first is shown.
    litres : sequence of float
        Fills [L].
    limit : mapping
        Of each bather, row and fill [g]: no dose is asked for beyond.

    Returns
    -------
    PhTable
        Straight between its nodes it is within `NEAR_PH` of the engine.
    """
    nodes, columns = [], []
    most_g_l = BEYOND * np.max(np.array(list(limit.values())) / np.array(litres), axis=(0, 2))
    for row, most in zip(table, most_g_l, strict=True):
        doses = most * np.linspace(0.0, 1.0, FINE_DOSES if most > 0.0 else 1) ** 2
        ph = ph_at(inputs, row.waters[0], np.asarray(litres), doses[:, None])
        kept = straight_nodes(doses, ph)
        nodes.append(tuple(round(float(dose), 5) for dose in doses[kept]))
        columns.append(tuple(tuple(np.round(column, 2).tolist()) for column in ph[kept].T))
    return PhTable(tuple(nodes), tuple(columns))


def ph_at(
    inputs: RecipeInputs, water: WaterReadings, litres: Array, grams_per_litre: Array
) -> Array:
    """PH of a customer's tub as read.

    Parameters
    ----------
    inputs : RecipeInputs
        The maker's.
    water : WaterReadings
        The customer's.
    litres, grams_per_litre : numpy.ndarray
        Water in the tub [L] and dose [g/L]; they broadcast.

    Returns
    -------
    numpy.ndarray
        pH, the broadcast shape.
    """
    whole = cell_inputs(inputs, water, 100.0, "adult")
    setting = assemble(whole, Truth(volume=litres / 100.0))
    return np.asarray(setting.bath.with_activator(grams_per_litre * litres, setting.per_gram).ph)


def straight_nodes(doses: Array, ph: Array) -> list[int]:
    """Fewest doses between which straight lines are within `NEAR_PH`.

    Parameters
    ----------
    doses : numpy.ndarray
        Rising, shape (doses,).
    ph : numpy.ndarray
        Shape (doses, ...).

    Returns
    -------
    list of int
        Indices, the first and the last among them.
    """
    kept = [0]
    while kept[-1] < len(doses) - 1:
        start = kept[-1]
        end = start + 1
        while end < len(doses) - 1 and _straight(doses, ph, start, end + 1):
            end += 1
        kept.append(end)
    return kept


def _straight(doses: Array, ph: Array, start: int, end: int) -> bool:
    share = (doses[start : end + 1] - doses[start]) / (doses[end] - doses[start])
    line = ph[start] + share[:, None] * (ph[end] - ph[start])
    return bool(np.max(np.abs(line - ph[start : end + 1])) <= NEAR_PH)
