"""Pigment files: a colourant of one's own as TOML, read with care and written whole.

A file holds every number of its colourant, so that it can be handed on; a spectrum may be a CSV
table beside it.
"""

from __future__ import annotations

import csv
import math
import re
import tomllib
from collections.abc import Collection, Mapping, Sequence
from itertools import pairwise
from pathlib import Path
from typing import Any

from indicator.colourants import BandRow, Colourant, FormRow, FormSpectrum, Range
from indicator.files import was_read, whole_file
from indicator.notes import say
from indicator.tables import DataError

LARGEST_BYTES = 1_000_000
SCHEMA = 1
NAME = re.compile(r"[a-z0-9][a-z0-9-]{0,47}")
SHAPES = ("gaussian", "exponential")
MOST_ROWS = 200
OWN = "OWN"
CONFIDENCES = (OWN, "SEEN", "SEEN-2", "MEMORY", "DERIVED", "CALC", "DESIGN", "GUESS")
_WHOSE = {"source": ("text", "own"), "confidence": ("choice", CONFIDENCES, OWN)}
_TOP: dict[str, tuple[Any, ...]] = {
    "name": ("text",),
    "kind": ("choice", ("pigment", "dye"), "pigment"),
    "label": ("text", ""),
    "aliases": ("texts",),
    "based_on": ("text", ""),
    "strength_sd": ("number", 0.0, 3.0, 0.5),
    "steady_from_ph": ("optional", 0.0, 14.0),
    "below_steady": ("choice", ("weakens", "settles"), "weakens"),
    "stains": ("choice", ("little", "strongly"), "strongly"),
    "micelle_shift": ("optional_range", -10.0, 10.0),
}
_OF_KIND: dict[str, dict[str, tuple[Any, ...]]] = {
    "pigment": {"per_percent": ("range", 0.0, 300.0)},
    "dye": {"molar_mass": ("number", 10.0, 1e5), "content": ("range", 0.0, 1.0)},
}
_ELSEWHERE = {"schema", "form", "band", "spectra", "made", "per_percent", "molar_mass", "content"}
"""Keys that are read by others, or by one kind of colourant."""
_FORM: dict[str, tuple[Any, ...]] = {
    "group": ("text", "pigment"),
    "form": ("text",),
    "from_form": ("text", ""),
    "protons": ("number", 0, 4, 1),
    "pka": ("optional", -2.0, 16.0),
    "pka_sd": ("number", 0.0, 5.0, 0.5),
    "height_sd": ("optional", 0.0, 3.0),
    **_WHOSE,
}
_BAND: dict[str, tuple[Any, ...]] = {
    "form": ("text",),
    "shape": ("choice", SHAPES, "gaussian"),
    "centre_nm": ("number", 100.0, 1500.0),
    "width_nm": ("number", 1.0, 1000.0),
    "height": ("number", 0.0, 1e7),
    **_WHOSE,
}
"""What may stand in each table: the reader of its value, limits and what stands for nothing."""


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
    schema = table.content.get("schema")
    if schema != SCHEMA:
        accepted = say("pigment-file.accepted.schema", {"schema": SCHEMA})
        raise table.wrong("schema", schema, accepted)
    top = table.read(_TOP, _ELSEWHERE)
    name = top["name"]
    if not NAME.fullmatch(name):
        raise table.wrong("name", name, say("pigment-file.accepted.name"))
    forms, height_sds = _forms(table, name)
    known = tuple(form.form for form in forms)
    bands = tuple(
        BandRow(colourant=name, **row.read({**_BAND, "form": ("choice", known)}))
        for row in table.rows("band")
    )
    spectra = _spectra(table, known)
    if not bands and not spectra:
        raise table.wrong("band", None, say("pigment-file.accepted.band"))
    of_kind: dict[str, Any] = {"per_percent": None, "molar_mass": None, "content": None}
    return Colourant(
        **top | {"label": top["label"] or name.replace("-", " ")},
        **of_kind | table.values(_OF_KIND[top["kind"]]),
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
    plain = {
        "name", "kind", "label", "aliases", "based_on", "strength_sd", "molar_mass",
        "steady_from_ph", "stains", *(() if which.steady_from_ph is None else ("below_steady",)),
    }  # fmt: skip
    lines += _pairs({key: value for key, value in vars(which).items() if key in plain})
    heights = dict(which.height_sds)
    ranges = ((key, getattr(which, key)) for key in ("per_percent", "content", "micelle_shift"))
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
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int):
        return str(value)
    if isinstance(value, float):
        return f"{value:.6g}" if "." in f"{value:.6g}" or "e" in f"{value:.6g}" else f"{value:.1f}"
    if isinstance(value, list | tuple):
        return "[" + ", ".join(map(_toml_value, value)) + "]"
    text = str(value).replace("\\", "\\\\").replace('"', '\\"')
    return '"' + "".join(c if c.isprintable() else " " for c in text) + '"'


def _content(path: Path) -> bytes:
    """Of a file, however small or large.

    Raises
    ------
    DataError
        If it is no plain file, cannot be read or is too large.
    """
    code, values = "", {"file": str(path)}
    try:
        if path.exists() and not path.is_file():
            code = "no-plain-file"
        else:
            with path.open("rb") as stream:
                content = stream.read(LARGEST_BYTES + 1)
            code = "large" if len(content) > LARGEST_BYTES else ""
    except (OSError, ValueError) as error:
        values["reason"] = getattr(error, "strerror", None) or say("pigment-file.no-file")
        raise DataError(say("pigment-file.unreadable", values)) from error
    if code:
        raise DataError(say(f"pigment-file.{code}", values))
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

    def wrong(self, key: str, value: object, accepted: str) -> DataError:
        shown = say("pigment-file.nothing") if value is None else repr(value)
        values = {
            "file": str(self.path),
            "field": f"{self.place}{key}",
            "value": shown if len(shown) <= 60 else f"{shown[:57]}...",
            "accepted": accepted,
        }
        return DataError(say("pigment-file.wrong", values))

    def read(
        self, spec: Mapping[str, tuple[Any, ...]], others: Collection[str] = ()
    ) -> dict[str, Any]:
        """Values of a table that has no other keys than these and the others."""
        for key, value in self.content.items():
            if key not in spec and key not in others:
                raise self.wrong(key, value, ", ".join(sorted({*spec, *others})))
        return self.values(spec)

    def values(self, spec: Mapping[str, tuple[Any, ...]]) -> dict[str, Any]:
        return {key: getattr(self, how)(key, *limits) for key, (how, *limits) in spec.items()}

    def text(self, key: str, default: str | None = None) -> str:
        value = self.content.get(key, default)
        if not isinstance(value, str) or len(value) > 200:
            raise self.wrong(key, value, say("pigment-file.accepted.text"))
        return "".join(c if c.isprintable() else " " for c in value)

    def texts(self, key: str) -> tuple[str, ...]:
        value = self.content.get(key, [])
        if not isinstance(value, list) or not all(isinstance(text, str) for text in value):
            raise self.wrong(key, value, say("pigment-file.accepted.texts"))
        return tuple(value)

    def choice(self, key: str, accepted: tuple[str, ...], default: str | None = None) -> str:
        value = self.content.get(key, default)
        if value not in accepted:
            raise self.wrong(key, value, ", ".join(accepted))
        return str(value)

    def number(self, key: str, low: float, high: float, default: float | None = None) -> float:
        value = self.content.get(key, default)
        if not _is_number(value) or not low <= value <= high:
            values = {"low": low, "high": high}
            raise self.wrong(key, value, say("pigment-file.accepted.number", values))
        return float(value)

    def optional(self, key: str, low: float, high: float) -> float | None:
        return self.number(key, low, high) if key in self.content else None

    def range(self, key: str, low: float, high: float) -> Range:
        content = self.content.get(key)
        if not isinstance(content, dict):
            raise self.wrong(key, content, say("pigment-file.accepted.range"))
        inside = _Table(self.path, f"{key}.", content)
        best = inside.read({"best": ("number", low, high)}, ("low", "high"))["best"]
        ends = {"low": ("number", low, best, best), "high": ("number", best, high, best)}
        return Range(best, **inside.values(ends))

    def optional_range(self, key: str, low: float, high: float) -> Range | None:
        return self.range(key, low, high) if key in self.content else None

    def rows(self, key: str) -> list[_Table]:
        value = self.content.get(key, [])
        rows = isinstance(value, list) and all(isinstance(row, dict) for row in value)
        if not rows or len(value) > MOST_ROWS:
            raise self.wrong(key, value, say("pigment-file.accepted.rows", {"key": key}))
        return [_Table(self.path, f"{key}[{n}].", row) for n, row in enumerate(value, start=1)]


def _forms(table: _Table, name: str) -> tuple[tuple[FormRow, ...], tuple[tuple[str, float], ...]]:
    """Forms, each from one that stands before it, and the spreads of their heights."""
    forms: list[FormRow] = []
    heights = []
    for row in table.rows("form"):
        values = row.read(_FORM)
        form, before, group = values["form"], values["from_form"], values["group"]
        if form in {earlier.form for earlier in forms}:
            raise row.wrong("form", form, say("pigment-file.accepted.new-form"))
        if before and (group, before) not in {(earlier.group, earlier.form) for earlier in forms}:
            accepted = say("pigment-file.accepted.from-form", {"group": group})
            raise row.wrong("from_form", before, accepted)
        if before:
            values |= row.values({"protons": ("number", 1, 4, 1), "pka": ("number", -2.0, 16.0)})
        else:
            values |= {"protons": 0, "pka": None, "pka_sd": None}
        height = values.pop("height_sd")
        heights += [] if height is None else [(form, height)]
        forms.append(FormRow(name, **values | {"protons": int(values["protons"])}))
    if not forms:
        raise table.wrong("form", None, say("pigment-file.accepted.form"))
    return tuple(forms), tuple(heights)


def _spectra(table: _Table, known: Sequence[str]) -> tuple[FormSpectrum, ...]:
    """Spectra given in the file, or in a CSV table beside it whose columns are the forms."""
    given = table.content.get("spectra", [])
    if isinstance(given, str):
        return _csv_spectra(table, given, known)
    spectra = []
    for row in table.rows("spectra"):
        form = row.choice("form", tuple(known))
        row.read({}, ("form", "wavelength_nm", "height"))
        columns = (row.content.get(key) for key in ("wavelength_nm", "height"))
        spectra.append(_spectrum(row, form, *columns))
    return tuple(spectra)


def _csv_spectra(table: _Table, name: str, known: Sequence[str]) -> tuple[FormSpectrum, ...]:
    file = table.path.parent / name
    try:
        text = _content(file).decode("utf-8-sig")
    except UnicodeDecodeError as error:
        values = {"file": str(file), "reason": say("pigment-file.no-text")}
        raise DataError(say("pigment-file.unreadable", values)) from error
    was_read(file)
    lines = [line for line in text.splitlines() if line.strip() and not line.startswith("#")]
    header, *rows = list(csv.reader(lines)) or [[]]
    head = [cell.strip() for cell in header]
    if head[:1] != ["wavelength_nm"] or len(head) < 2 or not set(head[1:]) <= set(known):
        accepted = say("pigment-file.accepted.columns", {"forms": ", ".join(known)})
        raise table.wrong("spectra", ",".join(head), accepted)
    columns: list[list[object]] = [[] for _ in head]
    for row in rows:
        if len(row) != len(head):
            raise table.wrong("spectra", ",".join(row), say("pigment-file.accepted.numbers"))
        for column, cell in zip(columns, row, strict=True):
            column.append(_float(cell))
    return tuple(
        _spectrum(table, form, columns[0], heights)
        for form, heights in zip(head[1:], columns[1:], strict=True)
    )


def _spectrum(table: _Table, form: str, nm: object, height: object) -> FormSpectrum:
    accepted = say("pigment-file.accepted.numbers")
    if not isinstance(nm, list) or not isinstance(height, list) or not 2 <= len(nm) <= 5000:
        raise table.wrong("spectra", nm, accepted)
    if len(nm) != len(height):
        raise table.wrong("spectra", f"{len(nm)} and {len(height)}", accepted)
    for number in (*nm, *height):
        if not _is_number(number) or number < 0:
            raise table.wrong("spectra", number, accepted)
    if any(later <= earlier for earlier, later in pairwise(nm)):
        raise table.wrong("spectra", "wavelength_nm", say("pigment-file.accepted.rising"))
    return FormSpectrum(form, tuple(map(float, nm)), tuple(map(float, height)))


def _is_number(value: Any) -> bool:
    plain = isinstance(value, int | float) and not isinstance(value, bool)
    return plain and math.isfinite(value)


def _float(cell: str) -> object:
    try:
        return float(cell)
    except ValueError:
        return cell
