"""The lines of ``pigments``, ``swatch`` and ``spectrum``: liquids along the pH and the waves."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence

from dosing.words.lines import Line, headed, swatch, titled, under
from indicator.colourants import Colourant, ColourantLike, trust
from indicator.ladders import Ladder, Swatch, WordSpan
from indicator.notes import Note, Value, say, sentence
from indicator.optics import View, usual_observer
from indicator.pigments import colourant
from indicator.words import threshold

RIBBON_EVERY = 4
"""Of the steps of the pH, one in so many is a block of the terminal's ribbon."""


def view_phrase(view: View) -> str:
    """Phrase for what is looked at; with the observer where it is not the vessel's usual one."""
    text = say(f"view.{view.kind}", {"path_cm": view.path_cm})
    if view.observer_deg == usual_observer(view.kind):
        return text
    return say("view.by-observer", {"view": text, "degrees": view.observer_deg})


def colours_phrase(colours: Iterable[ColourantLike]) -> str:
    """Labels of the colourants of a liquid, joined by +."""
    return " + ".join(colourant(which).label for which in colours)


def amount_phrase(which: Colourant, strength: float) -> str:
    """Phrase for how much of a colourant is in the liquid.

    Parameters
    ----------
    which : Colourant
        Pigment or dye.
    strength : float
        PH-1 absorbance per cm [1/cm], or molarity of a dye [mol/L].

    Returns
    -------
    str
    """
    if which.molar_mass is None:
        return say("view.pigment", {"label": which.label, "strength": strength})
    return say("view.dye", {"label": which.label, "mg_l": 1000.0 * strength * which.molar_mass})


def pigments_lines(
    listed: Sequence[Ladder],
    view: View,
    refused: Sequence[str],
) -> Iterator[Line]:
    """Lines of ``pigments``: every pigment and dye with its colours and how far to trust them.

    Parameters
    ----------
    listed : sequence of Ladder
        The colours of each along the pH.
    view : View
        How they are looked at.
    refused : sequence of str
        What is wrong with files that could not be read.

    Yields
    ------
    Line
        In the order in which they are read.
    """
    yield Line(say("pigments.seen", {"view": view_phrase(view)}))
    for ladder in listed:
        (which,) = ladder.strengths
        kind = say(f"pigments.{which.kind}")
        yield from headed(say("pigments.name", {"name": which.name, "kind": kind}))
        yield Line("", 2, hexes=tuple(map(str, ladder.colours.hex[::RIBBON_EVERY])))
        remark: dict[str, Value] = {
            "trust": say(f"pigments.trust.{trust(which)}"),
            "stains": say(f"pigments.stains.{which.stains}"),
        }
        yield from under([_spans(ladder.words), say("pigments.remark", remark)])
    yield Line()
    yield from map(Line, refused)
    yield Line(say("pigments.note"))


def _spans(spans: Sequence[WordSpan]) -> str:
    if len(spans) == 1:
        return say("pigments.one", {"word": spans[0].word})
    codes = ["pigments.span"] * (len(spans) - 1) + ["pigments.last"]
    return say("plan.comma").join(
        say(code, {"word": span.word, "start": span.from_ph, "end": span.to_ph})
        for code, span in zip(codes, spans, strict=True)
    )


def swatch_lines(ladders: Sequence[Ladder], warnings: Sequence[Note]) -> Iterator[Line]:
    """Lines of ``swatch``: ladders of colours, one under the other.

    Parameters
    ----------
    ladders : sequence of Ladder
        One or more.
    warnings : sequence of Note
        Of them all.

    Yields
    ------
    Line
        In the order in which they are read.
    """
    for number, ladder in enumerate(ladders):
        if number > 0:
            yield Line()
        yield from _liquid(ladder.strengths, ladder.looked)
        for rung in ladder.swatches:
            yield swatch(rung.hex, _rung(rung))
    if not all(rung.in_gamut for ladder in ladders for rung in ladder.swatches):
        yield Line(say("cli.out-of-gamut-note"))
    yield from (Line(sentence(note)) for note in warnings)
    most = max(ladder.spread_delta_e.max() for ladder in ladders)
    if most >= threshold("hardly_visible"):
        yield Line(say("cli.spread", {"most": most}))


def _rung(rung: Swatch) -> str:
    mark = "" if rung.in_gamut else say("cli.out-of-gamut-mark")
    values: dict[str, Value] = {"ph": rung.ph, "phrase": rung.phrase, "hex": rung.hex}
    return say("cli.rung", {**values, "mark": mark}).rstrip()


def spectrum_lines(ladder: Ladder) -> Iterator[Line]:
    """Lines of ``spectrum``: maxima of a liquid's spectra with the colours seen.

    Parameters
    ----------
    ladder : Ladder
        The liquid at each pH.

    Yields
    ------
    Line
        In the order in which they are read.
    """
    yield from _liquid(ladder.strengths, ladder.looked)
    for spectrum in ladder.swatches:
        # The first maximum stands beside the colour and the others below that one.
        peaks = [
            say("spectrum.peak", {"nm": nm, "absorbance": high}) for nm, high in spectrum.maxima
        ]
        first, *others = peaks or [say("spectrum.no-peak")]
        mark = "" if spectrum.in_gamut else say("cli.out-of-gamut-mark")
        beside = say("spectrum.row", {"ph": spectrum.ph, "phrase": f"{spectrum.phrase}{mark}"})
        yield swatch(spectrum.hex, f"{beside}{first}")
        yield from (Line(peak, 2 + len(beside), beside=True) for peak in others)
    yield Line(say("spectrum.note"))
    if not all(spectrum.in_gamut for spectrum in ladder.swatches):
        yield Line(say("cli.out-of-gamut-note"))


def _liquid(strengths: Mapping[Colourant, float], view: View) -> Iterator[Line]:
    """Name, view and, of a mixture, the parts."""
    yield from titled(colours_phrase(strengths))
    yield Line(view_phrase(view))
    if len(strengths) > 1:
        parts = [amount_phrase(which, value) for which, value in strengths.items()]
        yield Line(say("plan.comma").join(parts))
