"""A jar test as a person writes it, brought to its answer or laid out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from dosing.bath.inputs import RecipeInputs
from dosing.jar.answer import jar_test
from dosing.jar.bench import BY_NAMES, Bench, water_was_read
from dosing.jar.guide import Guide, guide
from dosing.jar.kit import UNITS
from dosing.jar.model import kind_read
from dosing.jar.records import JarAnswer
from dosing.jar.series import WrittenSeries, readings_of, rectangles, series_of, unit_name
from dosing.recipe.quantities import InputError
from indicator.notes import Note, Value, say
from indicator.photograph import LIMITS as PHOTOGRAPH
from indicator.spread import cast_error
from indicator.tables import value_of

MISLED = ("strip", "drop-kit")
"""What colour and foam mislead, so that a jar of plain water is read."""
BY_EYE_JAR, WEIGHED_JAR, BUCKET = "1 L", "1000 g", "10 L"
"""What is filled where nothing is said: by a jug, by a scale, and for pinches of dry powder."""
OF_KIND = {"photo": "photograph", "turn": "turn"}
"""What has read a series of a kind; any other that is no pH is a colour that was noted."""

PAPER, LIQUID = "A", "B"
"""In a command, for the rectangles that only the pictures tell."""


@dataclass(frozen=True)
class JarRequest:
    """A jar test as it was typed; what is None is taken as usual."""

    recipe: RecipeInputs
    table: Path | None = None
    steps: Sequence[str] = ()
    by: str | None = None
    unit: str | None = None
    solution: str | None = None
    """As `Bench.with_solution` reads it."""
    jar: str | None = None
    """As `Bench.with_jar` reads it."""
    white: Sequence[str] = ()
    liquid: str | None = None
    target: str | None = None
    accept_ph: str | None = None
    accept_pouring: str | None = None

    def answer(self) -> JarAnswer:
        """The corrected dose of a series.

        Raises
        ------
        InputError, ValueError
            If something that was typed cannot be used; one sentence says what.
        """
        series = series_of(self.table, self.steps)
        bench = self._bench(self._by(series), self._unit(series.unit))
        readings, left_out = readings_of(series, bench, rectangles(self.white, self.liquid))
        model = bench.model(readings)
        if not bench.dry and bench.percent is None:
            # Half the strength taken for all of it would double the dose.
            raise InputError(say("jar.error.solution-missing", {"unit": bench.unit}), "solution")
        answer = jar_test(
            model,
            readings,
            bench.by,
            target=self.target,
            accept_ph=self.accept_ph,
            accept_pouring=self.accept_pouring,
            left_out=left_out,
        )
        notes = bench.notes()
        plain = cast_error(value_of(PHOTOGRAPH, "most_plain_cast"))
        if readings.kind != "ph" and readings.noise.max() > plain:
            notes.append(Note("jar.note.cast"))
        return replace(
            answer,
            notes=(*answer.notes, *notes),
            maximum_g=0.0 if answer.stopped else answer.maximum_g,
        )

    def guide(self) -> Guide:
        """The test laid out.

        Raises
        ------
        InputError, ValueError
            If something that was typed cannot be used; one sentence says what.
        """
        if self.table is not None or self.steps:
            raise InputError(say("jar.error.instructions-and-series"), "instructions")
        by = _by_name(self.by) or self._usual_reading()
        unit = unit_name(self.unit) if self.unit else "tsp" if by == "turn" else UNITS[0]
        usual = BUCKET if unit == "pinches" else BY_EYE_JAR if by == "turn" else WEIGHED_JAR
        asked = replace(self, jar=self.jar or usual)
        bench = asked._bench(by, unit)
        laid_out = guide(replace(bench, plain=bench.plain or by in MISLED), self.target)
        if by == "meter" or (by == "turn" and not laid_out.tells_little):
            return laid_out
        metered = replace(self, by="meter", unit=None if by == "turn" else self.unit)
        return replace(laid_out, by_meter_g=metered.guide().after_g)

    def _usual_reading(self) -> str:
        """Reading that will be taken; a drop kit of the recipe tells alkalinity, not pH."""
        if self.recipe.water.instrument == "meter":
            return "meter"
        if not self.recipe.colours or "plain" in (self.jar or "") or water_was_read(self.recipe):
            # A colour that is looked at tells hardly more than a water that was read.
            return "strip"
        return "turn"

    def _by(self, series: WrittenSeries) -> str:
        """Instrument that was read, where the readings are of this kind."""
        by, kind = _by_name(self.by), series.kind
        values: dict[str, Value] = {"value": repr(self.by), "found": series.by or ""}
        if series.by is not None and by not in (None, series.by):
            raise InputError(say("jar.error.two-by", values), "by", self.by)
        by = by or series.by
        if kind == "ph":
            if by is None:
                raise InputError(say("jar.error.by-missing"), "by")
            if kind_read(by) != "ph" or by == "turn":
                raise InputError(say("jar.error.by-ph", values), "by", self.by)
            return by
        meant = OF_KIND.get(kind, "colour")
        if by not in (None, meant):
            raise InputError(say(f"jar.error.by-{meant}", values), "by", self.by)
        return meant

    def _unit(self, read: str | None) -> str:
        """Unit of the additions: as asked for, as the series has it, or usual."""
        unit = None if self.unit is None else unit_name(self.unit)
        if unit is not None and read is not None and unit != read:
            values: dict[str, Value] = {"found": read, "unit": unit}
            raise InputError(say("jar.error.two-units", values), "unit", self.unit)
        return unit or read or UNITS[0]

    def _bench(self, by: str, unit: str) -> Bench:
        """Bench with what was typed."""
        bench = Bench(recipe=self.recipe, by=by, unit=unit)
        if self.jar is not None:
            bench = bench.with_jar(self.jar)
        return bench if self.solution is None else bench.with_solution(self.solution)

    def command(self, test: Guide, whose: str) -> str:
        """Command that is typed when the test is done.

        Parameters
        ----------
        test : Guide
            How it is done.
        whose : str
            What names the recipe in a command, after a space.

        Returns
        -------
        str
        """
        words, bench = [f"huedose jar{whose}"], test.bench
        if test.by == "turn":
            words.append(f'--step "N {test.unit}: turned"')
            if test.aim_matched is not None:
                words.append(f'--step "M {test.unit}: matched"')
        else:
            words.append("jar.csv")
        told = {"solution": bench.typed_solution, "jar": bench.typed_jar, "target": self.target}
        words += [f'--{option} "{text}"' for option, text in told.items() if text]
        if test.by == "photograph":
            words += [f"--white {patch}" for patch in self.white or (PAPER,)]
            words.append(f"--liquid {self.liquid or LIQUID}")
        return " ".join(words)


def _by_name(written: str | None) -> str | None:
    if written is None:
        return None
    by = BY_NAMES.get(written.strip().casefold().replace(" ", "-"))
    if by is None:
        raise InputError(say("jar.error.by", {"value": repr(written)}), "by", written)
    return by
