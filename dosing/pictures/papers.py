"""A maker's papers set in type: label drafts at their true size, directions, sheets, calendar.

Every page is tagged for a screen reader (PDF/UA-1) and has its type embedded. It is black on white
but for the computed water, beside which its word stands: a grey print says the same.
"""

from __future__ import annotations

import json
import re
from textwrap import wrap
from typing import Any

from dosing.pictures.paper import FAINT, INK
from dosing.pictures.sheets import PAPERS, compiled
from dosing.words.templates import in_basin
from dosing.workshop.label_rules import LabelRule
from dosing.workshop.papers import (
    PAPERS as CATALOGUE,
)
from dosing.workshop.papers import LabelDraft, PaperLine, PaperPart, PaperSheet, TideMark, Words
from indicator.notes import Note, say
from indicator.tables import read_text

TRUE_SIZE = "label"
"""In place of a paper: a label alone, on a page of its own size."""
PAPER_NAMES = (*PAPERS, TRUE_SIZE)
SIZES_PT = (11.5, 11.0, 10.5, 10.0, 9.5, 9.0, 8.5, 8.0, 7.5, 7.0, 6.6)
"""Of the type of a page: the largest is taken that leaves nothing over."""
LABEL_SIZES_PT = (10.0, 9.5, 9.0, 8.5, 8.0, 7.5, 7.0, 6.5)
X_HEIGHT = 1120 / 2048
"""Of small letters over the size of the type, of DejaVu Sans and its bold."""
ZERO_WIDTH_SPACE = "\u200b"
_LONG_WORD = re.compile(r"\S{25,}")
"""In which a line may break after every fourth letter, so that none leaves the page."""
PT_MM = 25.4 / 72.0


def paper_pdf(sheet: PaperSheet, foot: str, paper: str = "A4") -> bytes:
    """A paper as a file to print.

    Parameters
    ----------
    sheet : PaperSheet
        What it says.
    foot : str
        Line at the foot of the page.
    paper : str
        ``"A4"``, ``"Letter"``, or `TRUE_SIZE` for a label alone.

    Returns
    -------
    bytes
        Of a .pdf.
    """
    return compiled(*paper_source(sheet, foot, paper), standard="ua-1")


def paper_source(sheet: PaperSheet, foot: str, paper: str) -> tuple[bytes, dict[str, str]]:
    """The template of papers and the data that it is filled with, for `sheets.compiled`.

    Parameters
    ----------
    sheet, foot, paper
        As for `paper_pdf`.

    Returns
    -------
    tuple
        Source of the template, and its ``sys.inputs``.
    """
    rules, label = sheet.rules, sheet.label
    page = {
        "ink": INK,
        "faint": FAINT,
        "paper": PAPERS.get(paper),
        "flipped": sheet.across,
        "title": sheet.title,
        "heading": told(sheet.title),
        "name": told(Note(f"name.{sheet.name}")),
        "about": [told(each) for each in sheet.about],
        "foot": foot,
        "sizes": SIZES_PT,
        "check": told(Note("check")),
        "tide": None if sheet.tide is None else _tide(sheet.tide),
        "parts": [_part(part, ()) for part in sheet.parts],
        "label": None if label is None else _label(label, rules if PAPERS.get(paper) else ()),
    }
    if sheet.basin:
        page = _of_basin(page, sheet.title)
    return read_text("text/papers.typ").encode(), {"paper": json.dumps(page)}


def _of_basin(words: Any, name: str) -> Any:
    """The same with every text on a basin, at whatever depth; the product keeps its name."""
    if isinstance(words, dict):
        return {key: _of_basin(value, name) for key, value in words.items()}
    if isinstance(words, list):
        return [_of_basin(each, name) for each in words]
    return in_basin(words, name) if isinstance(words, str) else words


def told(words: str | Note) -> str:
    """Words as they are printed; a sentence of the papers by its code."""
    text = words if isinstance(words, str) else say(words.code, words.values, CATALOGUE)
    return _LONG_WORD.sub(lambda word: ZERO_WIDTH_SPACE.join(wrap(word[0], 4)), text)


def _tide(mark: TideMark) -> dict[str, Any]:
    return {"colours": mark.colours, "start": told(mark.start), "end": told(mark.end)}


def _label(label: LabelDraft, rules: tuple[LabelRule, ...]) -> dict[str, Any]:
    size = label.size
    # Type is set in steps; the last is just as high as the rule asks.
    least = label.least_letter_mm / PT_MM / X_HEIGHT
    told_size = {"width": size.width_mm, "letter": label.least_letter_mm}
    return {
        "width": size.width_mm,
        "height": size.height_mm,
        "sizes": [*(pt for pt in LABEL_SIZES_PT if pt > least), least],
        "size": told(Note("about.label-size", told_size)),
        "tide": _tide(label.tide),
        "panels": [[_part(part, rules) for part in panel] for panel in label.panels],
    }


def _part(part: PaperPart, rules: tuple[LabelRule, ...]) -> dict[str, Any]:
    return {
        "kind": part.kind,
        "heading": told(part.heading),
        "lines": [_line(line, rules) for line in part.lines],
        "columns": [_line(head, rules) for head in part.columns],
        "rows": [[_line(cell, rules) for cell in row] for row in part.rows],
        "align": part.align,
        "widths": part.widths,
        "room": part.room,
    }


def _line(line: Words, rules: tuple[LabelRule, ...]) -> str | dict[str, Any]:
    if not isinstance(line, PaperLine):
        return told(line)
    return {
        "text": told(line.text),
        "check": line.to_check,
        "colour": line.colour,
        "bold": line.bold,
        "note": told(line.note),
        "box": line.box,
        "key": str(rules.index(line.rule) + 1) if line.rule in rules else "",
    }
