"""The document of ``calibrate``: a fitted pigment, and where it was written."""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path

from indicator.appearance import hex_of_lab
from indicator.calibration import COVERAGE, Calibration, JarFit, Unread
from indicator.photograph import LIMITS as PHOTOGRAPH
from indicator.tables import value_of


@dataclass(frozen=True)
class JarShown:
    """A jar as it was read and as it was fitted."""

    answer: JarFit
    hexes: tuple[str, ...]
    """Both colours, sRGB; none of absorbances."""


@dataclass(frozen=True)
class CalibrationDocument:
    """Answer of ``calibrate``."""

    answer: Calibration
    refused: bool
    """Whether no file is written because the jars hardly are of this pigment."""
    written: Path | None = field(metadata={"working": True})
    found_by_name: bool = field(metadata={"working": True})
    """Whether every command finds the file by its name."""
    shown: Path | None = field(default=None, metadata={"working": True})
    """Picture of what was read on a photo mat."""

    @property
    def annotated(self) -> str | None:
        """Picture that shows what was read on the photo mat."""
        return None if self.shown is None else str(self.shown)

    @property
    def file(self) -> str | None:
        """Pigment file that was written."""
        return None if self.written is None else str(self.written)

    @property
    def name(self) -> str | None:
        """Of the pigment in it."""
        return None if self.written is None else self.written.stem

    @property
    def readings(self) -> str:
        """Kind of the readings: absorbance, lab, hex or photograph."""
        return self.answer.series.kind

    @property
    def path_cm(self) -> float | None:
        """Inner width of the jars [cm]; null of absorbances."""
        view = self.answer.series.view
        return None if view is None else view.path_cm

    @property
    def strength_unit(self) -> str:
        """Of the strength."""
        return "1/cm" if self.answer.start.kind == "pigment" else "mol/L"

    @property
    def residual_unit(self) -> str:
        """Of the residuals."""
        return "1/cm" if self.path_cm is None else "CIEDE2000"

    @property
    def coverage(self) -> float:
        """Share of the truths that the intervals hold."""
        return COVERAGE

    @property
    def dropped(self) -> tuple[Unread, ...]:
        """Jars that could not be read."""
        return self.answer.series.unread

    @property
    def white_cast(self) -> float | None:
        """Brightest over darkest channel of the white in a photograph."""
        return self.answer.series.cast if self.readings == "photograph" else None

    def coloured_white(self) -> bool:
        """Whether the white in the photograph is strongly coloured."""
        return (self.white_cast or 1.0) > value_of(PHOTOGRAPH, "most_plain_cast")

    def jars_shown(self) -> tuple[JarShown, ...]:
        """Every jar with both of its colours."""
        series = self.answer.series
        if series.view is None:
            return tuple(JarShown(jar, ()) for jar in self.answer.jars)
        light = "D65" if series.in_daylight else series.view.light
        pairs = hex_of_lab(
            [[jar.read, jar.fitted] for jar in self.answer.jars], light, series.view.observer_deg
        )
        return tuple(
            JarShown(jar, tuple(map(str, pair)))
            for jar, pair in zip(self.answer.jars, pairs, strict=True)
        )
