"""The dose card as one HTML file that needs nothing else: no network, no storage.

A Content-Security-Policy forbids both; styles and script are let in by their hashes. Every word of
the maker is passed as text, never as markup.
"""

from __future__ import annotations

import base64
import hashlib
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache
from typing import Any

from jinja2 import Environment, FunctionLoader, StrictUndefined

from dosing.ingredients.powders import scale_floor_g
from dosing.page.records import SACHET, Card
from dosing.words.documents import document
from indicator.tables import read_text, read_toml

FOLDER = "page"
NOTHING, TIMES = "–", " × "


@dataclass(frozen=True)
class StaticRow:
    """One pad of the strip, with the amount at every mark."""

    label: str
    cells: tuple[str, ...]


@dataclass(frozen=True)
class StaticTable:
    """The table of a bather: what a page without script, and paper, show."""

    bather: str
    columns: tuple[str, ...]
    """Names of the marks, the least full first."""
    rows: tuple[StaticRow, ...]


def page_words(language: str, page: str = "card") -> dict[str, str]:
    """Words of a page in a language, by their keys.

    Parameters
    ----------
    language : str
        Of `dosing.page.words.LANGUAGES`.
    page : str
        ``"card"`` or ``"board"``.

    Returns
    -------
    dict of str to str
    """
    words: dict[str, str] = read_toml(f"text/{language}/{page}.toml")
    return words


def card_page(card: Card) -> str:
    """Text of the file.

    Parameters
    ----------
    card : Card
        Of `dosing.page.card.dose_card`.

    Returns
    -------
    str
        HTML.
    """
    tables = static_tables(card)
    return rendered(
        "card",
        ("card.css",),
        data=document(card),
        words=page_words(card.language),
        table=tables,
        in_portions=in_portions(tables),
        table_none=dash(card),
    )


def rendered(name: str, styles: Iterable[str], **filled: Any) -> str:
    """One page that needs nothing else, with the hashes that let its styles and script in.

    Parameters
    ----------
    name : str
        Of its template and its script.
    styles : iterable of str
        Files of its styles, in their order.
    **filled
        What else the template takes.

    Returns
    -------
    str
        HTML.
    """
    css = "".join(read_text(f"{FOLDER}/{style}") for style in styles)
    js = read_text(f"{FOLDER}/{name}.js")
    hashes = {"style": _hash(css), "script": _hash(js)}
    return _templates().get_template(f"{name}.html").render(css=css, js=js, csp=hashes, **filled)


def static_tables(card: Card) -> tuple[StaticTable, ...]:
    """Pads of the strip by marks of the tub, for each bather.

    Parameters
    ----------
    card : Card
        Of `dosing.page.card.dose_card`.

    Returns
    -------
    tuple of StaticTable
    """
    words = page_words(card.language)
    places = [card.litres.index(mark.litres) for mark in card.marks]
    return tuple(
        StaticTable(
            who,
            tuple(mark.name for mark in card.marks),
            tuple(
                StaticRow(
                    words["read_strip"].format(ppm=pad.label),
                    tuple(_amount(card, words, who, pad.row, place) for place in places),
                )
                for pad in card.readings.strip
            ),
        )
        for who in card.bathers
    )


def in_portions(tables: Iterable[StaticTable]) -> bool:
    """Whether some amount goes in portions."""
    return any(TIMES in cell for part in tables for row in part.rows for cell in row.cells)


@dataclass(frozen=True)
class SachetFit:
    """Fit of a sachet to the places of the static tables."""

    places: int
    """That could have a dose."""
    too_much: int
    """Of those: where one whole sachet is more."""
    smaller_g: float
    """Content that fits in nine of ten places [g]; 0 where none that a scale shows does."""
    fits: int
    """Places in which that fits, at least."""


def sachet_fit(card: Card) -> SachetFit | None:
    """Fit of a card's sachet to its tables; None without one, or where it always fits."""
    if card.sachet_g is None:
        return None
    marks = [card.litres.index(mark.litres) for mark in card.marks]
    cells = [
        (
            card.why[who][pad.row][place],
            min(of[who][pad.row][place] for of in (card.dose, card.limit)),
        )
        for who in card.bathers
        for pad in card.readings.strip
        for place in marks
    ]
    doses = sorted(grams for _, grams in cells if grams > 0.0)
    # Larger than a portion of a plan that goes in steps: what would fit is not worked out there.
    unknown = sum(why == SACHET for why, _ in cells)
    too_much = unknown + sum(grams < card.sachet_g for grams in doses)
    if not too_much:
        return None
    smaller_g = _down(doses[len(doses) // 10]) if doses else 0.0
    # One that is hardly smaller is no advice.
    smaller_g = smaller_g if smaller_g < card.sachet_g else 0.0
    fits = sum(grams >= smaller_g for grams in doses)
    return SachetFit(len(doses) + unknown, too_much, smaller_g, fits)


def dash(card: Card) -> str:
    """Key of the words on a dash in the tables."""
    return "table_none" if sachet_fit(card) is None else "table_none_sachet"


def _amount(card: Card, words: dict[str, str], who: str, row: int, place: int) -> str:
    """Grams or sachets at one place, rounded down; a dash where nothing is poured."""
    grams = min(card.dose[who][row][place], card.limit[who][row][place])
    one_by_one = card.portions[who][row][place] > 1
    if card.sachet_g is not None:
        count = int(grams / card.sachet_g + 1e-9)
        sachet = words["sachet"].format(n=1)
        if one_by_one and count > 1:
            return f"{count}{TIMES}{sachet}"
        return words["sachets"].format(n=count) if count > 1 else sachet if count else NOTHING
    portion = _down(card.first[who][row][place] if one_by_one else grams)
    if portion <= 0.0:
        return NOTHING
    count = int(_down(grams) / portion + 1e-9)
    written = f"{portion:.0f}" if portion >= 5.0 else f"{portion:.1f}"
    number = written if card.language == "en" else written.replace(".", ",")
    return f"{count}{TIMES}" * (count > 1) + words["grams"].format(n=number)


def _down(grams: float) -> float:
    """Mass that a kitchen scale shows, never more [g]."""
    return scale_floor_g(grams, 1.0 if grams >= 5.0 else 0.1)


def _hash(text: str) -> str:
    return "sha256-" + base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()


@cache
def _templates() -> Environment:
    environment = Environment(
        loader=FunctionLoader(lambda name: read_text(f"{FOLDER}/{name}")),
        undefined=StrictUndefined,
        autoescape=True,
    )
    compact: dict[str, Any] = {"separators": (",", ":")}
    environment.policies["json.dumps_kwargs"] = compact
    return environment
