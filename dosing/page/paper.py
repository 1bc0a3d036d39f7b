"""The dose card on paper: A6 with a QR code, and as a picture 1080 pixels wide."""

from __future__ import annotations

import io
import json
from collections.abc import Mapping
from itertools import groupby
from urllib.parse import quote

import numpy as np

from dosing.page.html import dash, in_portions, page_words, static_tables
from dosing.page.records import Card
from dosing.page.words import CardWords
from dosing.pictures.paper import INK, Paper, Shape
from dosing.pictures.sheets import as_svg, compiled
from indicator.tables import read_text

A6_MM = (105.0, 148.0)
IMAGE_PX = (1080, 1440)
QR_MM = 19.0
SIZES_PT = (8.0, 7.5, 7.0, 6.6, 6.2, 5.8, 5.4, 5.0, 4.6)
"""Of the type, the largest that fits is taken."""


def paper_card(card: Card) -> bytes:
    """The card as a page of A6, black on white.

    Parameters
    ----------
    card : Card
        Of `dosing.page.card.dose_card`.

    Returns
    -------
    bytes
        Of a .pdf of one page.
    """
    return compiled(*card_source(card, A6_MM))


def image_card(card: Card) -> bytes:
    """The card as a picture of `IMAGE_PX`.

    Parameters
    ----------
    card : Card
        Of `dosing.page.card.dose_card`.

    Returns
    -------
    bytes
        Of a .png.
    """
    height = A6_MM[0] * IMAGE_PX[1] / IMAGE_PX[0]
    ppi = 25.4 * IMAGE_PX[0] / A6_MM[0]
    source = card_source(card, (A6_MM[0], height), waters=before_and_after(card))
    return compiled(*source, form="png", ppi=ppi)


def before_and_after(card: Card) -> str:
    """Vessel with the water before and after a dose, as vectors.

    Parameters
    ----------
    card : Card
        Of whose doses that of the surest tub is shown.

    Returns
    -------
    str
        SVG.
    """
    who = card.bathers[0]
    chance = np.array(card.chance[who])
    row, place = np.unravel_index(int(np.argmax(chance)), chance.shape)
    share = card.dose[who][row][place] / card.litres[place]
    ph = np.interp([0.0, share], card.ph.grams_per_litre[row], card.ph.rows[row][place])
    middle = len(card.colour.strength_depth) // 2
    waters = [
        card.colour.hex[int(np.argmin(np.abs(np.array(card.colour.ph) - at)))][middle] for at in ph
    ]
    paper = Paper(600.0, 300.0)
    paper.vessel(waters, (30.0, 60.0, 570.0, 270.0), Shape(90.0, 30.0), 8.0)
    return as_svg(paper.figure)


def card_source(
    card: Card, size_mm: tuple[float, float], waters: str = ""
) -> tuple[bytes, dict[str, str]]:
    """Template of the card with its data, for `dosing.pictures.sheets.compiled`.

    Parameters
    ----------
    card : Card
        Of `dosing.page.card.dose_card`.
    size_mm : tuple of float
        Width and height [mm].
    waters : str
        Picture beside the title, as vectors; none if empty.

    Returns
    -------
    tuple
        Source, and its ``sys.inputs``.
    """
    told, words = CardWords(card.language), page_words(card.language)
    tables = static_tables(card)
    marks = [{"share": mark.share, "litres": f"{mark.litres:.0f} L"} for mark in card.marks]
    page = {
        "width": size_mm[0],
        "height": size_mm[1],
        "ink": INK,
        "ground": "#ffffff",
        "accent": card.accent,
        "language": card.language,
        "title": card.title,
        "about": " · ".join(_about(card, told)),
        "waters": waters,
        "strip": told.say("paper.strip"),
        "glass": told.say("paper.glass", litres=f"{card.marks[-1].litres:.0f}"),
        "tables": [
            {
                "bather": told.say(f"paper.{table.bather}"),
                "marks": marks,
                "rows": [[row.label, *row.cells] for row in table.rows],
            }
            for table in tables
        ],
        "notes": [words[dash(card)], *([words["table_portions"]] if in_portions(tables) else [])],
        "how": told.say(
            "paper.how",
            first_in=", ".join(card.first_in),
            stir=card.stir_min,
            wait=card.wait_min,
        ),
        "directions": list(card.directions),
        "cautions": _cautions(card, words),
        "url": card.url or "",
        "page": told.say("paper.page"),
        "code": QR_MM,
        "qr": "" if card.url is None else qr_svg(address(card)),
        "sizes": SIZES_PT,
    }
    return read_text("page/card.typ").encode(), {"card": json.dumps(page)}


def address(card: Card) -> str:
    """Address of the maker's page, with lot and edition in its fragment; mail has none.

    Parameters
    ----------
    card : Card
        That has an address.
    """
    url = str(card.url)
    told = {"lot": card.lot, "edition": card.edition}
    fragment = "&".join(f"{key}={quote(value, safe='')}" for key, value in told.items() if value)
    if not fragment or url.startswith("mailto:"):
        return url
    return f"{url.split('#')[0]}#{fragment}"


def qr_svg(text: str) -> str:
    """QR code of a text as vectors, black on white with its quiet zone."""
    import segno

    held = io.BytesIO()
    segno.make(text, micro=False, error="m").save(held, kind="svg", border=4, light="#ffffff")
    return held.getvalue().decode()


def _about(card: Card, told: CardWords) -> list[str]:
    """Lot, edition and last day, as far as they are known."""
    lines = {"lot": card.lot, "edition": card.edition}
    about = [told.say(f"paper.{key}", **{key: value}) for key, value in lines.items() if value]
    return [*about, *([told.say("paper.use-by", date=card.use_by)] if card.use_by else [])]


def _cautions(card: Card, words: Mapping[str, str]) -> list[dict[str, str]]:
    """Cautions of each level, the heaviest first."""
    return [
        {"level": words[f"level_{level}"], "text": " ".join(each.text for each in same)}
        for level, same in groupby(card.cautions, key=lambda caution: caution.level)
    ]
