"""Pigment files: a colourant of one's own as TOML, read with care and written whole.

A file holds every number of its colourant, so that it can be handed on; a spectrum may be a CSV
table beside it.
"""

from __future__ import annotations

import csv
import math
import re
import tomllib
from collections.abc import Mapping, Sequence
from itertools import pairwise
from pathlib import Path
from typing import Any

from indicator.colourants import BandRow, Colourant, FormRow, FormSpectrum, Strength
from indicator.files import was_read, whole_file
from indicator.notes import say
from indicator.tables import DataError

LARGEST_BYTES = 1_000_000
SCHEMA = 1
NAME = re.compile(r"[a-z0-9][a-z0-9-]{0,47}")
SHAPES = ("gaussian", "exponential")
MOST_ROWS = 200
OWN = "OWN"
FORM_KEYS = {
    "group", "form", "from_form", "protons", "pka", "pka_sd", "height_sd", "source", "confidence",
}  # fmt: skip
CONFIDENCES = (OWN, "SEEN", "SEEN-2", "MEMORY", "DERIVED", "CALC", "DESIGN", "GUESS")
_TOP = {
    "schema", "name", "kind", "label", "aliases", "based_on", "strength_sd", "molar_mass",
    "steady_from_ph", "below_steady", "stains", "per_percent", "content", "form", "band", "spectra",
    "micelle_shift", "made",
}  # fmt: skip


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
    content = _toml(path)
    table = _Table(path, "", content)
    table.only(_TOP)
    if content.get("schema") != SCHEMA:
        raise table.wrong("schema", content.get("schema"), str(SCHEMA))
    name = table.text("name")
    if not NAME.fullmatch(name):
        raise table.wrong("name", name, say("pigment-file.accepted.name"))
    kind = table.choice("kind", ("pigment", "dye"), "pigment")
    forms = _forms(table, name)
    known = tuple(form.form for form in forms)
    bands = _bands(table, name, known)
    spectra = _spectra(table, known)
    if not bands and not spectra:
        raise table.wrong("band", None, say("pigment-file.accepted.band"))
    return Colourant(
        name=name,
        kind=kind,
        label=table.text("label", name.replace("-", " ")),
        forms=forms,
        bands=bands,
        strength_sd=table.number("strength_sd", 0.0, 3.0, default=0.5),
        per_percent=_range(table, "per_percent", 300.0) if kind == "pigment" else None,
        molar_mass=table.number("molar_mass", 10.0, 1e5) if kind == "dye" else None,
        content=_range(table, "content", 1.0) if kind == "dye" else None,
        steady_from_ph=table.optional("steady_from_ph", 0.0, 14.0),
        below_steady=table.choice("below_steady", ("weakens", "settles"), "weakens"),
        stains=table.choice("stains", ("little", "strongly"), "strongly"),
        source="own",
        confidence=OWN,
        aliases=table.texts("aliases"),
        spectra=spectra,
        height_sds=tuple(
            (row.text("form"), row.number("height_sd", 0.0, 3.0))
            for row in table.rows("form")
            if "height_sd" in row.content
        ),
        based_on=table.text("based_on", ""),
        micelle_shift=(
            _range(table, "micelle_shift", 10.0, low=-10.0) if "micelle_shift" in content else None
        ),
        file=str(path.absolute()),
    )


def write_pigment_file(found: Colourant, path: Path, made: Mapping[str, object]) -> None:
    """Write a colourant as a pigment file.

    Parameters
    ----------
    found : Colourant
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
    lines += _pairs(
        {
            "name": found.name,
            "kind": found.kind,
            "label": found.label,
            "aliases": list(found.aliases) or None,
            "based_on": found.based_on or None,
            "strength_sd": found.strength_sd,
            "molar_mass": found.molar_mass,
            "steady_from_ph": found.steady_from_ph,
            "below_steady": None if found.steady_from_ph is None else found.below_steady,
            "stains": found.stains,
        }
    )
    for key in ("per_percent", "content", "micelle_shift"):
        value: Strength | None = getattr(found, key)
        if value is not None:
            lines += ["", f"[{key}]", *_pairs(vars(value))]
    lines += ["", "[made]", *_pairs(made)]
    heights = dict(found.height_sds)
    for form in found.forms:
        pairs = _form_pairs(form) | {"height_sd": heights.get(form.form)}
        lines += ["", "[[form]]", *_pairs(pairs)]
    for band in found.bands:
        kept = {key: value for key, value in vars(band).items() if key != "colourant"}
        lines += ["", "[[band]]", *_pairs(kept)]
    for table in found.spectra:
        lines += ["", "[[spectra]]", *_pairs({**vars(table)})]
    path.parent.mkdir(parents=True, exist_ok=True)
    with whole_file(path) as draft:
        draft.write_text("\n".join(lines) + "\n", encoding="utf-8")


def _form_pairs(form: FormRow) -> dict[str, object]:
    pairs = {key: value for key, value in vars(form).items() if key != "colourant"}
    return {key: value for key, value in pairs.items() if value not in (None, "")}


def _pairs(values: Mapping[str, object]) -> list[str]:
    return [f"{key} = {_toml_value(value)}" for key, value in values.items() if value is not None]


def _toml_value(value: object) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int):
        return str(value)
    if isinstance(value, float):
        return f"{value:.6g}" if "." in f"{value:.6g}" or "e" in f"{value:.6g}" else f"{value:.1f}"
    if isinstance(value, list | tuple):
        return "[" + ", ".join(_toml_value(one) for one in value) + "]"
    text = str(value).replace("\\", "\\\\").replace('"', '\\"')
    return '"' + "".join(c if c.isprintable() else " " for c in text) + '"'


def _toml(path: Path) -> dict[str, Any]:
    try:
        if path.exists() and not path.is_file():
            raise DataError(say("pigment-file.no-plain-file", {"file": str(path)}))
        with path.open("rb") as stream:
            content = stream.read(LARGEST_BYTES + 1)
    except (OSError, ValueError) as error:
        if isinstance(error, DataError):
            raise
        reason = getattr(error, "strerror", None) or say("pigment-file.no-file")
        raise DataError(
            say("pigment-file.unreadable", {"file": str(path), "reason": reason})
        ) from error
    if len(content) > LARGEST_BYTES:
        raise DataError(say("pigment-file.large", {"file": str(path)}))
    try:
        return tomllib.loads(content.decode("utf-8-sig"))
    except (ValueError, RecursionError) as error:
        reason = str(error).splitlines()[0][:120] if str(error) else "nested too deeply"
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

    def only(self, keys: set[str]) -> None:
        for key in self.content:
            if key not in keys:
                raise self.wrong(key, self.content[key], ", ".join(sorted(keys)))

    def text(self, key: str, default: str | None = None) -> str:
        value = self.content.get(key, default)
        if not isinstance(value, str) or len(value) > 200:
            raise self.wrong(key, value, say("pigment-file.accepted.text"))
        return "".join(c if c.isprintable() else " " for c in value)

    def texts(self, key: str) -> tuple[str, ...]:
        value = self.content.get(key, [])
        if not isinstance(value, list) or not all(isinstance(one, str) for one in value):
            raise self.wrong(key, value, say("pigment-file.accepted.texts"))
        return tuple(value)

    def choice(self, key: str, accepted: tuple[str, ...], default: str | None = None) -> str:
        value = self.content.get(key, default)
        if value not in accepted:
            raise self.wrong(key, value, ", ".join(accepted))
        return str(value)

    def number(self, key: str, low: float, high: float, *, default: float | None = None) -> float:
        value = self.content.get(key, default)
        plain = isinstance(value, int | float) and not isinstance(value, bool)
        if not plain or not math.isfinite(value) or not low <= value <= high:
            values = {"low": low, "high": high}
            raise self.wrong(key, value, say("pigment-file.accepted.number", values))
        return float(value)

    def optional(self, key: str, low: float, high: float) -> float | None:
        return self.number(key, low, high) if key in self.content else None

    def rows(self, key: str) -> list[_Table]:
        value = self.content.get(key, [])
        rows = isinstance(value, list) and all(isinstance(one, dict) for one in value)
        if not rows or len(value) > MOST_ROWS:
            raise self.wrong(key, value, say("pigment-file.accepted.rows", {"key": key}))
        return [_Table(self.path, f"{key}[{n}].", one) for n, one in enumerate(value, start=1)]


def _range(table: _Table, key: str, high: float, low: float = 0.0) -> Strength:
    content = table.content.get(key)
    if not isinstance(content, dict):
        raise table.wrong(key, content, say("pigment-file.accepted.range"))
    inside = _Table(table.path, f"{key}.", content)
    inside.only({"best", "low", "high"})
    best = inside.number("best", low, high)
    return Strength(
        best, inside.number("low", low, best, default=best),
        inside.number("high", best, high, default=best),
    )  # fmt: skip


def _forms(table: _Table, name: str) -> tuple[FormRow, ...]:
    rows = table.rows("form")
    if not rows:
        raise table.wrong("form", None, say("pigment-file.accepted.form"))
    forms: list[FormRow] = []
    for row in rows:
        row.only(FORM_KEYS)
        form, before = row.text("form"), row.text("from_form", "")
        group = row.text("group", "pigment")
        earlier = {(one.group, one.form) for one in forms}
        if form in {one.form for one in forms}:
            raise row.wrong("form", form, say("pigment-file.accepted.new-form"))
        if before and (group, before) not in earlier:
            accepted = say("pigment-file.accepted.from-form", {"group": group})
            raise row.wrong("from_form", before, accepted)
        steps = int(row.number("protons", 1, 4, default=1)) if before else 0
        forms.append(
            FormRow(
                name,
                group,
                form,
                before,
                steps,
                row.number("pka", -2.0, 16.0) if before else None,
                row.number("pka_sd", 0.0, 5.0, default=0.5) if before else None,
                row.text("source", "own"),
                row.choice("confidence", CONFIDENCES, OWN),
            )
        )
    return tuple(forms)


def _bands(table: _Table, name: str, known: Sequence[str]) -> tuple[BandRow, ...]:
    bands = []
    for row in table.rows("band"):
        row.only({"form", "shape", "centre_nm", "width_nm", "height", "source", "confidence"})
        bands.append(
            BandRow(
                name,
                row.choice("form", tuple(known)),
                row.choice("shape", SHAPES, "gaussian"),
                row.number("centre_nm", 100.0, 1500.0),
                row.number("width_nm", 1.0, 1000.0),
                row.number("height", 0.0, 1e7),
                row.text("source", "own"),
                row.choice("confidence", CONFIDENCES, OWN),
            )
        )
    return tuple(bands)


def _spectra(table: _Table, known: Sequence[str]) -> tuple[FormSpectrum, ...]:
    """Spectra given in the file, or in a CSV table beside it whose columns are the forms."""
    given = table.content.get("spectra", [])
    if isinstance(given, str):
        return _csv_spectra(table, given, known)
    spectra = []
    for row in table.rows("spectra"):
        row.only({"form", "wavelength_nm", "height"})
        nm, height = row.content.get("wavelength_nm"), row.content.get("height")
        form = row.choice("form", tuple(known))
        spectra.append(_spectrum(row, form, nm, height))
    return tuple(spectra)


def _csv_spectra(table: _Table, name: str, known: Sequence[str]) -> tuple[FormSpectrum, ...]:
    file = table.path.parent / name
    try:
        if file.exists() and not file.is_file():
            raise DataError(say("pigment-file.no-plain-file", {"file": str(file)}))
        if file.stat().st_size > LARGEST_BYTES:
            raise DataError(say("pigment-file.large", {"file": str(file)}))
        was_read(file)
        text = file.read_text(encoding="utf-8-sig")
    except (OSError, UnicodeDecodeError, ValueError) as error:
        if isinstance(error, DataError):
            raise
        reason = getattr(error, "strerror", None) or say("pigment-file.no-text")
        raise DataError(
            say("pigment-file.unreadable", {"file": str(file), "reason": reason})
        ) from error
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
    for one in (*nm, *height):
        plain = isinstance(one, int | float) and not isinstance(one, bool)
        if not plain or not math.isfinite(one) or one < 0:
            raise table.wrong("spectra", one, accepted)
    if any(later <= earlier for earlier, later in pairwise(nm)):
        raise table.wrong("spectra", "wavelength_nm", say("pigment-file.accepted.rising"))
    return FormSpectrum(form, tuple(map(float, nm)), tuple(map(float, height)))


def _float(cell: str) -> object:
    try:
        return float(cell)
    except ValueError:
        return cell
