"""Lines of an answer: paragraphs, headings, bullets and swatches, before any terminal has them."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from indicator.notes import Note, say, sentence


@dataclass(frozen=True)
class Line:
    """One paragraph."""

    text: str = ""
    indent: int = 0
    hang: int = 0
    """How much further in its later lines begin."""
    bold: bool = False
    whole: bool = False
    """Whether it is there to be copied, and never broken."""
    hexes: tuple[str, ...] = ()
    """Colours beside it: one, or two side by side; without a text a strip of any number."""
    beside: bool = False
    """Whether it begins where the text beside a swatch does."""


def titled(*texts: str) -> Iterator[Line]:
    """Bold lines."""
    return (Line(text, bold=True) for text in texts)


def under(texts: Iterable[str], heading: str = "", hang: int = 2, indent: int = 2) -> list[Line]:
    """Indented paragraphs, under a heading if there is one; nothing where there are none.

    Parameters
    ----------
    texts : iterable of str
        The paragraphs.
    heading : str
        Key of its sentence in the catalogue.
    hang, indent : int
        Of each.

    Returns
    -------
    list of Line
        Heading and paragraphs.
    """
    lines = [Line(text, indent, hang) for text in texts]
    return [*(headed(say(heading)) if heading and lines else ()), *lines]


def headed(text: str) -> tuple[Line, Line]:
    """A heading with space above it."""
    return Line(), Line(text, bold=True)


def bullets(texts: Iterable[str | Note], heading: str = "") -> list[Line]:
    """Paragraphs with bullets, as `under`; notes as their sentences.

    Parameters
    ----------
    texts : iterable of str or Note
        The paragraphs.
    heading : str
        Key of its sentence in the catalogue.

    Returns
    -------
    list of Line
    """
    told = (sentence(text) if isinstance(text, Note) else text for text in texts)
    return under([say("plan.bullet", {"text": text}) for text in told], heading)


def swatch(hex_colour: object, text: str, indent: int = 2) -> Line:
    """A block of colour with words beside it.

    Parameters
    ----------
    hex_colour : object
        ``#rrggbb``.
    text : str
        The words.
    indent : int
        Columns before the block.

    Returns
    -------
    Line
    """
    return Line(text, indent, hexes=(str(hex_colour),))
