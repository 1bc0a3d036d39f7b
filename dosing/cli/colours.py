"""``pigments``: every pigment and dye with its colours along the pH and how far to trust them."""

from __future__ import annotations

from typing import Any

import numpy as np

from dosing.cli.output import Page, to_json
from dosing.cli.own_files import known_pigments
from dosing.cli.swatches import shown_strength, view_of
from dosing.plan.cautions import permissions
from indicator.absorbance import mixture_absorbance
from indicator.appearance import SeenColour, seen
from indicator.notes import Value, say
from indicator.optics import View
from indicator.pigments import Colourant, trust
from indicator.swatch import view_phrase
from indicator.tables import citation

PH_STEPS = np.round(np.arange(1.0, 12.001, 0.1), 1)
RIBBON_EVERY = 4
"""Of the steps, one in so many is a block of the terminal's ribbon."""


def run_pigments(
    *, view_name: str, depth: str | None, light: str | None, observer: str | None, as_json: bool
) -> None:
    """List every colourant, the shipped ones first and then the maker's own."""
    view = view_of(view_name.strip().lower(), depth, light, observer)
    known = known_pigments()
    listed = [(which, _colours(which, view)) for which in known.every]
    if as_json:
        to_json(
            {
                "view": view.kind,
                "path_cm": view.path_cm,
                "light": view.light,
                "observer_deg": view.observer_deg,
                "pigments": [_document(*one, view) for one in listed],
                "warnings": [
                    {"code": "pigments.file", "message": message, "field": ""}
                    for message in known.refused
                ],
            }
        )
        return
    page = Page()
    page.line(say("pigments.seen", {"view": view_phrase(view)}))
    for which, colours in listed:
        _show(which, colours, page)
    page.line()
    for message in known.refused:
        page.line(message)
    page.line(say("pigments.note"))


def _colours(which: Colourant, view: View) -> SeenColour:
    strength = {which: shown_strength(which, view)}
    return seen(mixture_absorbance(strength, PH_STEPS), view).steady()


def word_spans(words: list[str]) -> list[tuple[str, float, float]]:
    """Runs of equal words along the pH: (word, from pH, to pH)."""
    spans: list[tuple[str, float, float]] = []
    for word, ph in zip(words, PH_STEPS, strict=True):
        if spans and spans[-1][0] == word:
            spans[-1] = (word, spans[-1][1], float(ph))
        else:
            spans.append((word, float(ph), float(ph)))
    return spans


def _show(which: Colourant, colours: SeenColour, page: Page) -> None:
    page.heading(say("pigments.name", {"name": which.name, "kind": say(f"pigments.{which.kind}")}))
    page.blocks([str(one) for one in colours.hex[::RIBBON_EVERY]])
    spans = word_spans([str(word) for word in colours.word])
    if len(spans) == 1:
        page.line(say("pigments.one", {"word": spans[0][0]}), indent=2, hang=2)
    else:
        parts = [_span(span, last=span == spans[-1]) for span in spans]
        page.line(say("plan.comma").join(parts), indent=2, hang=2)
    values: dict[str, Value] = {
        "trust": say(f"pigments.trust.{trust(which)}"),
        "stains": say(f"pigments.stains.{which.stains}"),
    }
    page.line(say("pigments.remark", values), indent=2, hang=2)


def _span(span: tuple[str, float, float], *, last: bool) -> str:
    word, start, end = span
    values: dict[str, Value] = {"word": word, "start": start, "end": end}
    return say("pigments.last" if last else "pigments.span", values)


def _document(which: Colourant, colours: SeenColour, view: View) -> dict[str, Any]:
    sources = dict.fromkeys(row.source for row in (*which.forms,))
    sources |= dict.fromkeys(row.source for row in which.bands)
    return {
        "name": which.name,
        "kind": which.kind,
        "label": which.label,
        "trust": trust(which),
        # What stands behind a file of one's own is told there, in words of one's own.
        "sources": list(sources) if which.own else [citation(key) for key in sources],
        "strength": shown_strength(which, view),
        "strength_per_percent": None if which.per_percent is None else vars(which.per_percent),
        "strength_sd": which.strength_sd,
        "stains": which.stains,
        "markets": [
            {"market": market, "listed": listed, "remark": remark, "source": source}
            for market, listed, remark, source in permissions(which)
        ],
        "words": [
            {"word": word, "from_ph": start, "to_ph": end}
            for word, start, end in word_spans([str(word) for word in colours.word])
        ],
        "ribbon": [
            {"ph": float(ph), "hex": str(one)}
            for ph, one in zip(PH_STEPS, colours.hex, strict=True)
        ],
    }
