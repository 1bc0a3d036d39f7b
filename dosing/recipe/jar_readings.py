"""A maker's series of jars: from a table or a photograph to plain numbers."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from dosing.bottle.kitchen import Kitchen
from dosing.ingredients.trade_values import NINE_IN_TEN
from dosing.recipe.csv_rows import csv_columns
from dosing.recipe.quantities import InputError, colour_strength, length_cm
from dosing.recipe.quantities import ph as typed_ph
from indicator.appearance import lab_from_hex
from indicator.colourants import Colourant
from indicator.jar_model import Series, Unread
from indicator.mat_photograph import draw_read, find_mat, mat_colours
from indicator.micelles import surfactant_kinds
from indicator.notes import Value, say
from indicator.optics import View, jar_view, mat_view
from indicator.photograph import Patch, PatchColours, parse_patch, patch_colours, read_picture

Array = NDArray[np.float64]
Cells = Mapping[str, Sequence[str]]
"""Texts of the jars by column."""

PH_BY = ("meter", "buffer", "drop-kit")
LEAST_DILUTION, MOST_DILUTION = 0.1, 1e5
G_PER_L = 10.0
"""Of one per cent."""
LARGEST_BYTES = 2_000_000
MOST_JARS = 200
LAB = ("L", "a", "b")
PATCH = ("x", "y", "width", "height")
PLACE = "place"
NO_GLASS = ("-", "–", "")
"""For a place on the mat where no glass stands."""
DAYLIGHT = "D65"
NAMES = ("ph", "jar", "dilution", *LAB, "hex", *PATCH)
ABSORBANCE_AT = r"[aA]\d{3}(\.\d+)?"
"""A column of absorbances by its wavelength [nm]."""
NM = (380.0, 780.0)
RANGES = {
    "ph": (0.0, 14.0),
    "dilution": (0.1, 1e5),
    **dict.fromkeys(LAB, (-200.0, 200.0)),
    **dict.fromkeys(PATCH, (0.0, 1e6)),
}
"""Of the numbers in a column."""
ABSORBANCE = (-0.05, 3.0)
"""Of a cell as it is read: noise may take it a little below nothing; a photometer tells nothing of
more."""


@dataclass(frozen=True)
class JarReadings:
    """A maker's jars as they were written down or photographed."""

    table: Path | None
    """A CSV file with a row for each jar."""
    photo: Path | None
    """A picture of the jars."""
    white: Sequence[str]
    """Rectangles of something white in it, ``"x,y,width,height"``."""
    jars: Sequence[str]
    """``"pH: x,y,width,height"`` of jars that stand in no table."""
    path: str | None
    """Inner width of the jars, or of the cell of a photometer, with its unit."""
    light: str | None
    """None where nobody said; then daylight, and on the photo mat any."""
    diluted: float
    """How many times the jars were thinned where the table does not say."""
    ph_by: str
    """What told their pH, one of `PH_BY`."""
    kitchen: Kitchen | None = None
    """Solutions that the jars are of; where a pH would stand, stands the place of each."""
    ph: str | None = None
    """PH of the glasses on a photo mat by their numbers, ``"2.1, 3, -, 5"``."""
    annotated: Path | None = None
    """Picture to write of what was read on the mat; beside the photograph if None."""

    def series(self) -> Series:
        """The jars as plain numbers.

        Returns
        -------
        Series

        Raises
        ------
        InputError, ValueError
            If something in it cannot be used; one sentence says what.
        """
        path_cm = None if self.path is None else length_cm(self.path, "path")
        ph_by = self._ph_by()
        if not LEAST_DILUTION <= self.diluted <= MOST_DILUTION:
            values = {"value": self.diluted, "low": LEAST_DILUTION, "high": MOST_DILUTION}
            raise InputError(say("calibrate.diluted", values), "diluted", self.diluted)
        if self.photo is None and (self.white or self.jars):
            raise InputError(say("calibrate.no-photo"), "photo")
        white = [parse_patch(text) for text in self.white]
        cells = self._cells()
        ph, ph_sd = _numbers(cells, ["ph"])[:, 0], None
        if len(ph) > MOST_JARS:
            raise InputError(say("calibrate.many", {"count": len(ph), "most": MOST_JARS}), "series")
        if self.kitchen is not None:
            ph, ph_sd = _of_kitchen(self.kitchen, ph)
        nothing = ("",) * len(ph)
        names = zip(cells.get("jar", nothing), ph, strict=True)
        labels = [
            name[:40] or say("calibrate.jar-at", {"ph": float(value)}) for name, value in names
        ]
        thinned = [cell or f"{self.diluted:g}" for cell in cells.get("dilution", nothing)]
        dilution = 1.0 / _numbers({"dilution": thinned}, ["dilution"])[:, 0]
        kind, values_read, nm = self._readings(cells, 1.0 if path_cm is None else path_cm, white)
        more: dict[str, Any] = {}
        why = nothing
        if isinstance(values_read, PatchColours):
            why, more["white"] = values_read.unread, values_read.white
            more["curve"] = values_read.curve
            values_read = values_read.lab
        read = np.array([not reason for reason in why])
        unread = tuple(
            Unread(label, float(at), reason)
            for label, at, reason in zip(labels, ph, why, strict=True)
            if reason
        )
        if not read.any():
            first: dict[str, Value] = {"jar": unread[0].label, "why": unread[0].reason}
            raise InputError(say("calibrate.none-read", first), "photo")
        return Series(
            ph=ph[read],
            values=values_read[read],
            dilution=dilution[read],
            kind=kind,
            ph_by=ph_by,
            ph_sd=None if ph_sd is None else ph_sd[read],
            labels=tuple(label for label, told in zip(labels, read, strict=True) if told),
            wavelength_nm=nm,
            view=self._view(path_cm, more.get("curve") is not None) if nm is None else None,
            light_known=self.light is not None,
            path_measured=path_cm is not None,
            unread=unread,
            **more,
        )

    @property
    def shown(self) -> Path | None:
        """Picture that is written of what is read on the mat."""
        if self.photo is None or self.annotated is not None:
            return self.annotated
        return self.photo.with_name(f"{self.photo.stem}-read.png")

    def _view(self, path_cm: float | None, on_mat: bool) -> View:
        """How the jars were looked at: from above where they stand on the photo mat."""
        return (mat_view if on_mat else jar_view)(path_cm, self.light or DAYLIGHT)

    def _ph_by(self) -> str:
        ph_by = self.ph_by.strip().lower().replace(" ", "-")
        if ph_by not in PH_BY:
            code = "calibrate.strip" if ph_by == "strip" else "calibrate.ph-by"
            values = {"value": self.ph_by, "accepted": say("plan.comma").join(PH_BY)}
            raise InputError(say(code, values), "ph-by")
        return ph_by

    def _cells(self) -> Cells:
        """What was written about the jars, before their colours are known."""
        if self.ph is not None:
            return self._listed(self.ph)
        if self.kitchen is not None and self.photo is not None and not (self.table or self.jars):
            places = [str(glass.mixture.place) for glass in self.kitchen.glasses]
            return {"ph": places, PLACE: places}
        if self.table is None:
            return self._typed()
        if self.jars:
            raise InputError(say("calibrate.jar-and-table"), "jar")
        cells = csv_columns(self.table, "series", LARGEST_BYTES, NAMES, _spelled, ABSORBANCE_AT)
        if "ph" not in cells:
            raise InputError(say("calibrate.no-ph", {"file": str(self.table)}), "series")
        return cells

    def _listed(self, listed: str) -> Cells:
        """Glasses on the photo mat by their numbers."""
        if self.table is not None or self.jars:
            raise InputError(say("calibrate.ph-and"), "ph")
        if self.photo is None:
            raise InputError(say("calibrate.no-photo"), "photo")
        texts = {str(k): text.strip() for k, text in enumerate(listed.split(","), start=1)}
        standing = {number: text for number, text in texts.items() if text not in NO_GLASS}
        if not standing:
            raise InputError(say("calibrate.ph-list", {"value": listed[:60]}), "ph", listed)
        ph = [str(typed_ph(text, "ph")) for text in standing.values()]
        return {"ph": ph, PLACE: list(standing)}

    def _typed(self) -> Cells:
        """Jars of a photograph as they were typed."""
        if not self.jars:
            raise InputError(say("calibrate.nothing"), "series")
        rows = []
        for text in self.jars:
            start, colon, rectangle = text.partition(":")
            if not colon:
                raise InputError(say("calibrate.jar", {"value": text}), "jar", text)
            ph, patch = typed_ph(start.strip(), "jar"), parse_patch(rectangle)
            rows.append([str(value) for value in (ph, patch.x, patch.y, patch.width, patch.height)])
        return dict(zip(("ph", *PATCH), zip(*rows, strict=True), strict=True))

    def _readings(
        self, cells: Cells, path_cm: float, white: Sequence[Patch]
    ) -> tuple[str, Array | PatchColours, Array | None]:
        """Kind of the readings, values of shape (jars, values), wavelengths if there are any.

        Colours of a photograph come with what could not be read.
        """
        for whole in (LAB, PATCH):
            missing = [name for name in whole if name not in cells]
            if missing and len(missing) < len(whole):
                values = {"columns": say("plan.comma").join(whole), "missing": missing[0]}
                raise InputError(say("calibrate.part", values), "series")
        absorbances = [name for name in cells if re.fullmatch(ABSORBANCE_AT, name)]
        kinds: dict[str, Callable[[], Array | PatchColours]] = {}
        if absorbances:
            kinds["absorbance"] = lambda: _numbers(cells, absorbances, ABSORBANCE) / path_cm
        if "L" in cells:
            kinds["lab"] = lambda: _numbers(cells, LAB)
        if "hex" in cells:
            kinds["hex"] = lambda: _hex(cells["hex"])
        if "x" in cells:
            kinds["photograph"] = lambda: self._photographed(cells, white)
        if self.photo is not None and not kinds and not white:
            kinds["photograph"] = lambda: self._on_mat(cells)
        if self.photo is not None and "photograph" not in kinds:
            raise InputError(say("calibrate.no-patches"), "photo")
        if len(kinds) != 1:
            several = say("plan.comma").join(kinds) or say("calibrate.none")
            raise InputError(say("calibrate.kinds", {"found": several}), "series")
        nm = np.array([float(name[1:]) for name in absorbances]) if absorbances else None
        if nm is not None and (nm.min() < NM[0] or nm.max() > NM[1]):
            raise InputError(say("calibrate.wavelength", {"low": NM[0], "high": NM[1]}), "series")
        ((kind, read),) = kinds.items()
        return kind, read(), nm

    def _photographed(self, cells: Cells, white: Sequence[Patch]) -> PatchColours:
        if self.photo is None:
            raise InputError(say("calibrate.no-photo"), "series")
        patches = [Patch(*map(int, row)) for row in _numbers(cells, PATCH)]
        return patch_colours(read_picture(self.photo), white, patches)

    def _on_mat(self, cells: Cells) -> PatchColours:
        """Glasses on the photo mat, in the order of their places."""
        assert self.photo is not None
        assert self.shown is not None
        numbers = cells.get(PLACE) or [str(k + 1) for k in range(len(cells["ph"]))]
        places = [int(number) - 1 for number in numbers]
        pixels = read_picture(self.photo)
        found = find_mat(pixels)
        read = mat_colours(found, places)
        draw_read(pixels, found, places, read, self.shown)
        return read


def _of_kitchen(kitchen: Kitchen, places: Array) -> tuple[Array, Array]:
    """PH of the glasses at some places of the photo mat, and their standard deviations."""
    by_place = {glass.mixture.place: glass.ph for glass in kitchen.glasses}
    for place in places:
        if place not in by_place:
            values: dict[str, Value] = {"value": float(place), "last": max(by_place)}
            raise InputError(say("calibrate.kitchen-place", values), "jar", place)
    low, best, high = np.array(
        [(ph.low, ph.best, ph.high) for ph in (by_place[place] for place in places)]
    ).T
    return best, (high - low) / NINE_IN_TEN


def brewed_percent(text: str, which: Colourant) -> float:
    """Dried petals in an infusion, from text such as ``"2 %"`` [% w/v].

    Parameters
    ----------
    text : str
        As typed.
    which : Colourant
        A pigment; a dye has no petals.

    Returns
    -------
    float
        [% w/v].

    Raises
    ------
    InputError
        If it is no such thing.
    """
    strength = colour_strength(text, "petals")
    if strength.kind != "percent" or strength.value <= 0 or which.kind == "dye":
        raise InputError(say("calibrate.petals", {"value": text}), "petals", text)
    return strength.value


def active_matter(text: str) -> dict[str, float]:
    """Surfactants by kind from ``"9 % anionic, 3 % amphoteric"`` [g/L]; anionic if not said.

    Raises
    ------
    InputError
        If it is no such thing.
    """
    grams: dict[str, float] = {}
    for part in text.split(","):
        match = re.fullmatch(r"\s*(\d+(?:\.\d+)?\s*%)\s*([a-z-]*)\s*", part.casefold())
        kind = match[2] or "anionic" if match else ""
        if match is None or kind not in surfactant_kinds():
            raise InputError(say("calibrate.active", {"value": text}), "in-foam-bath", text)
        grams[kind] = grams.get(kind, 0.0) + G_PER_L * colour_strength(match[1], "x").value
    return grams


def _spelled(name: str) -> str:
    """Columns by the names of this room, whatever their capitals."""
    for known in NAMES:
        if name.casefold() in (known.casefold(), f"{known.casefold()}*"):
            return known
    return name


def _hex(cells: Sequence[str]) -> Array:
    labs = []
    for row, cell in enumerate(cells, start=1):
        try:
            labs.append(lab_from_hex(cell))
        except ValueError:
            values: dict[str, Value] = {"row": row, "value": cell[:40]}
            raise InputError(say("calibrate.hex", values), "series", cell) from None
    return np.stack(labs)


def _numbers(
    cells: Cells, columns: Sequence[str], limits: tuple[float, float] | None = None
) -> Array:
    """Numbers of columns within their limits, shape (jars, columns)."""
    numbers = []
    for column in columns:
        low, high = limits or RANGES[column]
        for row, cell in enumerate(cells[column], start=1):
            try:
                number = math.nan if "_" in cell else float(cell)
            except ValueError:
                number = math.nan
            if not low <= number <= high:
                values: dict[str, Value] = {"column": column, "row": row, "value": cell[:40]}
                told = say("cli.bad-cell", values | {"low": low, "high": high})
                raise InputError(told, "series", cell)
            numbers.append(number)
    return np.array(numbers).reshape(len(columns), -1).T
