"""``pigments``: every pigment and dye with its colours along the pH and how far to trust them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from dosing.cli.output import show
from dosing.cli.own_files import known_pigments
from dosing.cli.swatches import view_of
from dosing.plan.cautions import permissions
from dosing.words.colours import pigments_lines
from indicator.colourants import Range
from indicator.ladders import Ladder, WordSpan, ladder, shown_strength
from indicator.notes import Note
from indicator.pigments import trust
from indicator.tables import citation

PH_STEPS = np.round(np.arange(1.0, 12.001, 0.1), 1)


@dataclass(frozen=True)
class Market:
    """Standing of a colour in the cosmetics of a market."""

    market: str
    listed: str
    remark: str
    source: str


@dataclass(frozen=True)
class Step:
    """A colour along the pH."""

    ph: float
    hex: str


@dataclass(frozen=True)
class ListedPigment:
    """A pigment or dye."""

    name: str
    kind: str
    label: str
    trust: str
    """How far its numbers are to be trusted."""
    sources: tuple[str, ...]
    """In words of one's own for a file of one's own."""
    strength: float
    """At which it is shown: pH-1 absorbance per cm, or mol/L of a dye."""
    strength_per_percent: Range | None
    """PH-1 absorbance per cm of an infusion of 1 % w/v dried petals; None for a dye."""
    strength_sd: float
    stains: str
    markets: tuple[Market, ...]
    words: tuple[WordSpan, ...]
    ribbon: tuple[Step, ...]


@dataclass(frozen=True)
class PigmentsDocument:
    """Answer of ``pigments``."""

    view: str
    path_cm: float
    light: str
    observer_deg: int
    pigments: tuple[ListedPigment, ...]
    warnings: tuple[Note, ...]
    """Files that could not be read."""


def run_pigments(
    *, view: str, depth: str | None, light: str | None, observer: str | None, as_json: bool
) -> None:
    """List every pigment and dye with its colours, the shipped ones first and then the maker's own.

    Parameters
    ----------
    view : str
        Vessel.
    depth : str or None
        Width or depth, with a unit; the usual one if not given.
    light, observer : str or None
        The usual ones if not given.
    as_json : bool
        Whether one document is printed.
    """
    looked = view_of(view.strip().lower(), depth, light, observer)
    known = known_pigments()
    listed = [
        ladder({which: shown_strength(which, looked)}, PH_STEPS, looked) for which in known.every
    ]
    document = PigmentsDocument(
        view=looked.kind,
        path_cm=looked.path_cm,
        light=looked.light,
        observer_deg=looked.observer_deg,
        pigments=tuple(map(_listed, listed)),
        warnings=tuple(Note("pigments.file", {"message": message}) for message in known.refused),
    )
    lines = pigments_lines(listed, looked, known.refused)
    show(document, lines, as_json=as_json)


def _listed(ladder: Ladder) -> ListedPigment:
    ((which, strength),) = ladder.strengths.items()
    rows = [row.source for row in which.forms] + [row.source for row in which.bands]
    sources = dict.fromkeys(rows)
    return ListedPigment(
        name=which.name,
        kind=which.kind,
        label=which.label,
        trust=trust(which),
        sources=tuple(sources if which.own else map(citation, sources)),
        strength=strength,
        strength_per_percent=which.per_percent,
        strength_sd=which.strength_sd,
        stains=which.stains,
        markets=tuple(Market(*row) for row in permissions(which)),
        words=ladder.words,
        ribbon=tuple(map(Step, PH_STEPS.tolist(), map(str, ladder.colours.hex))),
    )
