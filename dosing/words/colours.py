"""The lines of ``pigments``, ``swatch`` and ``spectrum``: liquids along the pH and the waves."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from itertools import groupby

from dosing.words.lines import Line, headed, swatch, titled, under
from indicator.appearance import SeenColour
from indicator.notes import Note, Value, say, sentence
from indicator.optics import View
from indicator.pigments import Colourant, trust
from indicator.spectra import Spectrum
from indicator.swatch import Ladder, Swatch, amount_phrase, colours_phrase, view_phrase
from indicator.words import threshold

RIBBON_EVERY = 4
"""Of the steps of the pH, one in so many is a block of the terminal's ribbon."""


def word_spans(words: Sequence[str], ph: Sequence[float]) -> list[tuple[str, float, float]]:
    """Runs of equal words along the pH: (word, from pH, to pH).

    Parameters
    ----------
    words, ph : sequence
        Of each step, rising.

    Returns
    -------
    list of tuple
        Word, first and last pH of each run.
    """
    runs = [[*run] for _, run in groupby(zip(words, ph, strict=True), key=lambda step: step[0])]
    return [(run[0][0], float(run[0][1]), float(run[-1][1])) for run in runs]


def pigments_lines(
    listed: Sequence[tuple[Colourant, SeenColour]],
    ph: Sequence[float],
    view: View,
    refused: Sequence[str],
) -> Iterator[Line]:
    """Lines of ``pigments``: every pigment and dye with its colours and how far to trust them.

    Parameters
    ----------
    listed : sequence of (Colourant, SeenColour)
        The colours along `ph`.
    ph : sequence of float
        The steps.
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
    for which, colours in listed:
        kind = say(f"pigments.{which.kind}")
        yield from headed(say("pigments.name", {"name": which.name, "kind": kind}))
        yield Line("", 2, hexes=tuple(map(str, colours.hex[::RIBBON_EVERY])))
        spans = word_spans(list(map(str, colours.word)), ph)
        remark: dict[str, Value] = {
            "trust": say(f"pigments.trust.{trust(which)}"),
            "stains": say(f"pigments.stains.{which.stains}"),
        }
        yield from under([_spans(spans), say("pigments.remark", remark)])
    yield Line()
    yield from map(Line, refused)
    yield Line(say("pigments.note"))


def _spans(spans: Sequence[tuple[str, float, float]]) -> str:
    if len(spans) == 1:
        return say("pigments.one", {"word": spans[0][0]})
    codes = ["pigments.span"] * (len(spans) - 1) + ["pigments.last"]
    return say("plan.comma").join(
        say(code, {"word": word, "start": start, "end": end})
        for code, (word, start, end) in zip(codes, spans, strict=True)
    )


def swatch_lines(
    ladders: Sequence[Ladder], spreads: Sequence[Sequence[float]], warnings: Sequence[Note]
) -> Iterator[Line]:
    """Lines of ``swatch``: ladders of colours, one under the other.

    Parameters
    ----------
    ladders : sequence of Ladder
        One or more.
    spreads : sequence of sequence of float
        How far each colour of each may be off [CIEDE2000].
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
        yield from _liquid(ladder.strengths, ladder.view)
        for rung in ladder.swatches:
            yield swatch(rung.hex, _rung(rung))
    if not all(rung.in_gamut for ladder in ladders for rung in ladder.swatches):
        yield Line(say("cli.out-of-gamut-note"))
    yield from (Line(sentence(note)) for note in warnings)
    most = max(map(max, spreads))
    if most >= threshold("hardly_visible"):
        yield Line(say("cli.spread", {"most": most}))


def _rung(rung: Swatch) -> str:
    mark = "" if rung.in_gamut else say("cli.out-of-gamut-mark")
    values: dict[str, Value] = {"ph": rung.ph, "phrase": rung.phrase, "hex": rung.hex}
    return say("cli.rung", {**values, "mark": mark}).rstrip()


def spectrum_lines(
    strengths: Mapping[Colourant, float], view: View, shown: Sequence[Spectrum]
) -> Iterator[Line]:
    """Lines of ``spectrum``: maxima of a liquid's spectra with the colours seen.

    Parameters
    ----------
    strengths : mapping of Colourant to float
        Of each colourant in the liquid [1/cm or mol/L].
    view : View
        How it is looked at.
    shown : sequence of Spectrum
        One for each pH.

    Yields
    ------
    Line
        In the order in which they are read.
    """
    yield from _liquid(strengths, view)
    for spectrum in shown:
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
    if not all(spectrum.in_gamut for spectrum in shown):
        yield Line(say("cli.out-of-gamut-note"))


def _liquid(strengths: Mapping[Colourant, float], view: View) -> Iterator[Line]:
    """Name, view and, of a mixture, the parts."""
    yield from titled(colours_phrase(strengths))
    yield Line(view_phrase(view))
    if len(strengths) > 1:
        parts = [amount_phrase(which, value) for which, value in strengths.items()]
        yield Line(say("plan.comma").join(parts))
