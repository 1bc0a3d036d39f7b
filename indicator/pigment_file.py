"""Pigment files: a colourant of one's own as TOML, read with care and written whole.

A file holds every number of its colourant, so that it can be handed on; a spectrum may be a CSV
table beside it.
"""

from __future__ import annotations

import csv
import json
import math
import re
import tomllib
from collections.abc import Collection, Mapping, Sequence
from dataclasses import fields
from itertools import pairwise
from pathlib import Path
from typing import Any

from indicator.colourants import BandRow, Colourant, FormRow, FormSpectrum, Range
from indicator.files import was_read, whole_file
from indicator.notes import Value, say
from indicator.tables import DataError

LARGEST_BYTES = 1_000_000
SCHEMA = 1
NAME = re.compile(r"[a-z0-9][a-z0-9-]{0,47}")
MOST_ROWS, MOST_POINTS, MOST_LETTERS, MOST_SHOWN = 200, 5000, 200, 60
OWN = "OWN"

_TOP = (
    "name", "kind", "label", "aliases", "based_on", "strength_sd", "steady_from_ph",
    "below_steady", "stains", "micelle_shift",
)  # fmt: skip
_OF_KIND = {"pigment": ("per_percent",), "dye": ("molar_mass", "content")}
_FORM, _BAND = (
    [each.name for each in fields(row) if each.name != "colourant"] for row in (FormRow, BandRow)
)
_ELSEWHERE = {"schema", "form", "band", "spectra", "made", "per_percent", "molar_mass", "content"}
"""Keys that are read by others, or by one kind of colourant."""
_NUMBERS = {
    "strength_sd": (0.0, 3.0),
    "steady_from_ph": (0.0, 14.0),
    "molar_mass": (10.0, 1e5),
    "protons": (0, 4),
    "pka": (-2.0, 16.0),
    "pka_sd": (0.0, 5.0),
    "height_sd": (0.0, 3.0),
    "centre_nm": (100.0, 1500.0),
    "width_nm": (1.0, 1000.0),
    "height": (0.0, 1e7),
}
"""Ends between which the numbers of these keys lie; other keys have a text."""
_RANGES = {"per_percent": (0.0, 300.0), "content": (0.0, 1.0), "micelle_shift": (-10.0, 10.0)}
_CHOICES = {
    "kind": ("pigment", "dye"),
    "below_steady": ("weakens", "settles"),
    "stains": ("little", "strongly"),
    "shape": ("gaussian", "exponential"),
    "confidence": (OWN, "SEEN", "SEEN-2", "MEMORY", "DERIVED", "CALC", "DESIGN", "GUESS"),
}
_DEFAULTS: dict[str, Any] = {
    "kind": "pigment", "label": "", "aliases": (), "based_on": "", "strength_sd": 0.5,
    "steady_from_ph": None, "below_steady": "weakens", "stains": "strongly", "micelle_shift": None,
    "group": "pigment", "from_form": "", "protons": 1, "pka": None, "pka_sd": 0.5,
    "height_sd": None, "shape": "gaussian", "source": "own", "confidence": OWN,
}  # fmt: skip
"""What stands for nothing; a key that is not here has to be there."""


def read_pigment_file(path: Path) -> Colourant:
    """The colourant of a pigment file.

    Parameters
    ----------
    path : Path
        A TOML file.

    Raises
    ------
    DataError
        If the file cannot be read or something in it cannot be used; the sentence names the file,
        the key, the value and what is accepted.
    """
    table = _Table(path, "", _toml(path))
    if table.content.get("schema") != SCHEMA:
        raise table.wrong("schema", _accepted("schema", schema=SCHEMA))
    top = table.read(_TOP, _ELSEWHERE)
    name = top["name"]
    if not NAME.fullmatch(name):
        raise table.wrong("name", _accepted("name"))
    forms, height_sds = _forms(table, name)
    known = tuple(form.form for form in forms)
    bands = tuple(BandRow(name, **row.read(_BAND, of=known)) for row in table.rows("band"))
    spectra = tuple(_spectrum(row, known) for row in _curves(table))
    if not bands and not spectra:
        raise table.wrong("band", _accepted("band"))
    of_kind = {key: None for keys in _OF_KIND.values() for key in keys}
    return Colourant(
        **top | {"label": top["label"] or name.replace("-", " ")},
        **of_kind | {key: table.value(key) for key in _OF_KIND[top["kind"]]},
        forms=forms,
        bands=bands,
        spectra=spectra,
        height_sds=height_sds,
        source="own",
        confidence=OWN,
        file=str(path.absolute()),
    )


def write_pigment_file(which: Colourant, path: Path, made: Mapping[str, object]) -> None:
    """Write a colourant as a pigment file.

    Parameters
    ----------
    which : Colourant
        Whatever its `source` and `confidence`, it is a maker's own when it is read again.
    path : Path
        Ending in ``.toml``.
    made : mapping of str to object
        How it came about, for people: texts, numbers, lists of them.

    Raises
    ------
    OSError
        If the folder cannot be written to.
    """
    lines = [f"# {say('pigment-file.header')}", f"schema = {SCHEMA}"]
    plain = (key for key in (*_TOP, "molar_mass") if key not in _RANGES)
    lines += _pairs({key: getattr(which, key) for key in plain})
    heights = dict(which.height_sds)
    ranges = ((key, getattr(which, key)) for key in _RANGES)
    tables = [
        *((f"[{key}]", vars(ends)) for key, ends in ranges if ends is not None),
        ("[made]", made),
        *(("[[form]]", vars(row) | {"height_sd": heights.get(row.form)}) for row in which.forms),
        *(("[[band]]", vars(row)) for row in which.bands),
        *(("[[spectra]]", vars(row)) for row in which.spectra),
    ]
    for heading, values in tables:
        lines += ["", heading, *_pairs(values)]
    path.parent.mkdir(parents=True, exist_ok=True)
    with whole_file(path) as draft:
        draft.write_text("\n".join(lines) + "\n", encoding="utf-8")


def _pairs(values: Mapping[str, object]) -> list[str]:
    """Lines of a table, without what is nothing and what the file says once."""
    kept = {key: value for key, value in values.items() if value not in (None, "", ())}
    return [f"{key} = {_toml_value(value)}" for key, value in kept.items() if key != "colourant"]


def _toml_value(value: object) -> str:
    """A value as TOML has it: texts, numbers and truths stand there as in JSON."""
    if isinstance(value, list | tuple):
        return f"[{', '.join(map(_toml_value, value))}]"
    if isinstance(value, float):
        value = float(f"{value:.6g}")
    if isinstance(value, str):
        value = _printable(value)
    return json.dumps(value, ensure_ascii=False)


def _content(path: Path) -> bytes:
    """Of a file, however small or large.

    Raises
    ------
    DataError
        If it is no plain file, cannot be read or is too large.
    """
    values = {"file": str(path)}
    if path.exists() and not path.is_file():
        raise DataError(say("pigment-file.no-plain-file", values))
    try:
        with path.open("rb") as stream:
            content = stream.read(LARGEST_BYTES + 1)
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or say("pigment-file.no-file")
        raise DataError(say("pigment-file.unreadable", values | {"reason": reason})) from error
    if len(content) > LARGEST_BYTES:
        raise DataError(say("pigment-file.large", values))
    return content


def _toml(path: Path) -> dict[str, Any]:
    content = _content(path)
    try:
        return tomllib.loads(content.decode("utf-8-sig"))
    except (ValueError, RecursionError) as error:
        reason = str(error).splitlines()[0][:120] if str(error) else say("pigment-file.nested")
        raise DataError(say("pigment-file.toml", {"file": str(path), "reason": reason})) from error


class _Table:
    """A table of a pigment file, with one sentence for whatever cannot be used."""

    def __init__(self, path: Path, place: str, content: Mapping[str, Any]) -> None:
        self.path, self.place, self.content = path, place, content

    def wrong(self, key: str, accepted: str) -> DataError:
        """That what stands under a key is none of what is accepted."""
        value = self.content.get(key)
        shown = say("pigment-file.nothing") if value is None else repr(value)
        values = {
            "file": str(self.path),
            "field": f"{self.place}{key}",
            "value": shown if len(shown) <= MOST_SHOWN else f"{shown[: MOST_SHOWN - 3]}...",
            "accepted": accepted,
        }
        return DataError(say("pigment-file.wrong", values))

    def read(
        self, keys: Collection[str], others: Collection[str] = (), of: Sequence[str] = ()
    ) -> dict[str, Any]:
        """Values of a table that has no other keys than these and the others.

        ``of`` are the forms that its ``form`` may name.
        """
        for key in self.content:
            if key not in keys and key not in others:
                raise self.wrong(key, ", ".join(sorted({*keys, *others})))
        if of and self.content.get("form") not in of:
            raise self.wrong("form", ", ".join(of))
        return {key: self.value(key) for key in keys}

    def value(self, key: str) -> Any:
        """What stands under a key, checked; or what stands for nothing."""
        if key not in self.content and key in _DEFAULTS:
            return _DEFAULTS[key]
        value = self.content.get(key)
        if key in _NUMBERS:
            return self.number(key, *_NUMBERS[key])
        if key in _RANGES:
            return self.ends(key, *_RANGES[key])
        if key in _CHOICES:
            fits, accepted = value in _CHOICES[key], ", ".join(_CHOICES[key])
        elif key == "aliases":
            fits, accepted = _are(str, value), _accepted("texts")
        else:
            fits = isinstance(value, str) and len(value) <= MOST_LETTERS
            accepted = _accepted("text")
        if not fits:
            raise self.wrong(key, accepted)
        return _printable(value) if isinstance(value, str) else tuple(value or ())

    def number(self, key: str, low: float, high: float) -> float:
        """A number between two ends."""
        value: Any = self.content.get(key)
        if not _is_number(value) or not low <= value <= high:
            raise self.wrong(key, _accepted("number", low=low, high=high))
        return float(value)

    def ends(self, key: str, low: float, high: float) -> Range:
        """A range; an end that is missing is the best value itself."""
        content = self.content.get(key)
        if not isinstance(content, dict):
            raise self.wrong(key, _accepted("range"))
        if unknown := content.keys() - {"best", "low", "high"}:
            raise _Table(self.path, f"{key}.", content).wrong(unknown.pop(), "best, low, high")
        best = _Table(self.path, f"{key}.", content).number("best", low, high)
        inside = _Table(self.path, f"{key}.", {"low": best, "high": best} | content)
        return Range(best, inside.number("low", low, best), inside.number("high", best, high))

    def rows(self, key: str) -> list[_Table]:
        """Tables of an array of tables."""
        rows = self.content.get(key, [])
        if not _are(dict, rows) or len(rows) > MOST_ROWS:
            raise self.wrong(key, _accepted("rows", key=key))
        return [_Table(self.path, f"{key}[{n}].", row) for n, row in enumerate(rows, start=1)]


def _printable(text: str) -> str:
    return "".join(c if c.isprintable() else " " for c in text)


def _accepted(what: str, **values: Value) -> str:
    return say(f"pigment-file.accepted.{what}", values)


def _are(kind: type, value: object) -> bool:
    return isinstance(value, list) and all(isinstance(item, kind) for item in value)


def _forms(table: _Table, name: str) -> tuple[tuple[FormRow, ...], tuple[tuple[str, float], ...]]:
    """Forms, each from one that stands before it, and the spreads of their heights."""
    forms: list[FormRow] = []
    heights = []
    for row in table.rows("form"):
        values = row.read([*_FORM, "height_sd"])
        form, before, group = values["form"], values["from_form"], values["group"]
        if form in {earlier.form for earlier in forms}:
            raise row.wrong("form", _accepted("new-form"))
        if not before:
            values |= {"protons": 0, "pka": None, "pka_sd": None}
        elif (group, before) not in {(earlier.group, earlier.form) for earlier in forms}:
            raise row.wrong("from_form", _accepted("from-form", group=group))
        elif values["pka"] is None or values["protons"] < 1:
            row.number("pka", *_NUMBERS["pka"])
            row.number("protons", 1, 4)
        height = values.pop("height_sd")
        heights += [] if height is None else [(form, height)]
        forms.append(FormRow(name, **values | {"protons": int(values["protons"])}))
    if not forms:
        raise table.wrong("form", _accepted("form"))
    return tuple(forms), tuple(heights)


def _curves(table: _Table) -> list[_Table]:
    """Tables of spectra: those in the file, or the columns of the CSV table that it names."""
    name = table.content.get("spectra")
    if not isinstance(name, str):
        return table.rows("spectra")
    file = table.path.parent / name
    try:
        text = _content(file).decode("utf-8-sig")
    except UnicodeDecodeError as error:
        values = {"file": str(file), "reason": say("pigment-file.no-text")}
        raise DataError(say("pigment-file.unreadable", values)) from error
    was_read(file)
    lines = [line for line in text.splitlines() if line.strip() and not line.startswith("#")]
    head, *rows = [[cell.strip() for cell in row] for row in csv.reader(lines)] or [[]]
    if head[:1] != ["wavelength_nm"] or len(head) < 2:
        known = ", ".join(str(row.content.get("form")) for row in table.rows("form"))
        raise table.wrong("spectra", _accepted("columns", forms=known))
    if not rows or any(len(row) != len(head) for row in rows):
        raise table.wrong("spectra", _accepted("numbers"))
    nm, *heights = ([*map(_float, column)] for column in zip(*rows, strict=True))
    return [
        _Table(file, f"{form}.", {"form": form, "wavelength_nm": nm, "height": height})
        for form, height in zip(head[1:], heights, strict=True)
    ]


def _spectrum(row: _Table, known: Sequence[str]) -> FormSpectrum:
    """The spectrum of a form: rising wavelengths, and as many heights."""
    row.read(("form",), ("wavelength_nm", "height"), of=known)
    nm: Any = row.content.get("wavelength_nm")
    height: Any = row.content.get("height")
    for key, numbers in (("wavelength_nm", nm), ("height", height)):
        sound = isinstance(numbers, list) and 2 <= len(numbers) <= MOST_POINTS
        if not sound or not all(_is_number(number) and number >= 0 for number in numbers):
            raise row.wrong(key, _accepted("numbers"))
    if len(nm) != len(height):
        raise row.wrong("height", _accepted("numbers"))
    if any(later <= earlier for earlier, later in pairwise(nm)):
        raise row.wrong("wavelength_nm", _accepted("rising"))
    return FormSpectrum(row.content["form"], tuple(map(float, nm)), tuple(map(float, height)))


def _is_number(value: Any) -> bool:
    plain = isinstance(value, int | float) and not isinstance(value, bool)
    return plain and math.isfinite(value)


def _float(cell: str) -> object:
    try:
        return float(cell)
    except ValueError:
        return cell
