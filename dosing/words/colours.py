"""The document of ``colours``: ladders, what is known of their colourants, a row of jars."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from dosing.bottle.rainbow import Rainbow
from dosing.plan.levels import gate_level
from dosing.plan.rules import permissions
from indicator.colourants import Colourant, Range, trust
from indicator.ladders import FINE_NM, Ladder
from indicator.notes import Note
from indicator.tables import citation
from indicator.words import threshold

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Market:
    """Standing of a colour in the cosmetics of a market."""

    market: str
    listed: str
    remark: str
    source: str


@dataclass(frozen=True)
class ColourantListed:
    """A pigment or dye, and how far its numbers are to be trusted."""

    name: str
    kind: str
    """``"pigment"`` or ``"dye"``."""
    label: str
    trust: str
    """``"published"``, ``"recalled"``, ``"estimated"``, ``"reported"`` or ``"own"``."""
    sources: tuple[str, ...]
    """In words of one's own for a file of one's own."""
    strength_per_percent: Range | None
    """pH-1 absorbance per cm of an infusion of 1 % w/v dried petals; None for a dye."""
    strength_sd: float
    """Relative standard deviation of a strength judged from the recipe."""
    stains: str
    """``"little"`` or ``"strongly"``."""
    markets: tuple[Market, ...]

    @classmethod
    def of(cls, which: Colourant) -> ColourantListed:
        """Facts that are known of a colourant."""
        sources = dict.fromkeys(
            [row.source for row in which.forms] + [row.source for row in which.bands]
        )
        return cls(
            name=which.name,
            kind=which.kind,
            label=which.label,
            trust=trust(which),
            sources=tuple(sources if which.own else map(citation, sources)),
            strength_per_percent=which.per_percent,
            strength_sd=which.strength_sd,
            stains=which.stains,
            markets=tuple(Market(*row) for row in permissions(which)),
        )


@dataclass(frozen=True)
class ColoursDocument:
    """Answer of ``colours``."""

    ladders: tuple[Ladder, ...]
    rainbow: Rainbow | None
    """Doses of a row of jars, where one was asked for; their colours are the one ladder."""
    listed: bool
    """Whether nothing was named, and all there are are listed."""
    spectrum: bool
    """Whether spectra were asked for."""
    warnings: tuple[Note, ...]

    @property
    def colourants(self) -> tuple[ColourantListed, ...]:
        """Every pigment and dye in the ladders, each once."""
        every = dict.fromkeys(which for ladder in self.ladders for which in ladder.strengths)
        return tuple(map(ColourantListed.of, every))

    @property
    def wavelength_nm(self) -> Array | None:
        """Of the spectra [nm]."""
        return FINE_NM if self.spectrum else None

    @property
    def absorbance_per_cm(self) -> tuple[Array, ...]:
        """Spectra of each ladder, shape (rungs, wavelengths) [1/cm]."""
        return tuple(ladder.absorbance for ladder in self.ladders) if self.spectrum else ()

    @property
    def bathable_ph(self) -> tuple[float, ...]:
        """PH of the rungs that need no caution for an adult."""
        every = np.unique(np.concatenate([ladder.ph for ladder in self.ladders]))
        return tuple(every[gate_level(every, "adult") == 0].tolist())

    @property
    def beyond_screens(self) -> bool:
        """Whether a colour is stronger than a screen can show."""
        return not all(ladder.colours.in_gamut.all() for ladder in self.ladders)

    @property
    def doubt(self) -> str:
        """Doubt whether people will see these words: ``"sure"``, ``"fair"`` or ``"rough"``."""
        most = max(float(ladder.spread_delta_e.max()) for ladder in self.ladders)
        grades = (("sure", "change_subtle"), ("fair", "change_obvious"))
        return next((word for word, limit in grades if most < threshold(limit)), "rough")


def refused_files(sentences: Sequence[str]) -> tuple[Note, ...]:
    """Notes on pigment files that cannot be used, a sentence each."""
    return tuple(Note("pigments.file", {"message": message}) for message in sentences)
