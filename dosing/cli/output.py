"""Writing to the terminal: what it can show, and plain letters where it cannot."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import TextIO

from rich.console import Console
from rich.text import Text

from dosing.words.documents import write_json
from dosing.words.letters import in_letters_of
from dosing.words.marks import STAND_IN, Paragraph, paragraphs
from indicator.notes import say

BLOCK = " " * 6
NARROWEST = 24
WIDEST = 96
"""Lines longer than this are hard to read, however wide the window."""


class Page:
    """Lines of an answer on their way to the terminal."""

    def __init__(self, stream: TextIO | None = None) -> None:
        self.stream: TextIO = sys.stdout if stream is None else stream
        self.console = Console(file=self.stream, highlight=False, emoji=False, markup=False)
        self.console.width = max(self.console.width, NARROWEST)
        self.width = min(self.console.width, WIDEST)

    @property
    def coloured(self) -> bool:
        """Whether the terminal shows true colours."""
        return self.console.color_system in ("truecolor", "256") and not self.console.no_color

    def fit(self, text: str) -> str:
        """The text in letters that the stream can write."""
        return in_letters_of(self.stream.encoding or "ascii", printable(text))

    def line(self, text: str = "", indent: int = 0, hang: int = 0) -> None:
        """One paragraph, wrapped to the width.

        Parameters
        ----------
        text : str
            The paragraph; none for an empty line.
        indent : int
            Columns before it.
        hang : int
            Further columns before its later lines.
        """
        for part in Paragraph(self.fit(text), indent, hang=hang).lines(self.width):
            self._print(Text(part))

    def answer(self, rendered: str) -> None:
        """An answer as its template gives it."""
        for paragraph in paragraphs("\n".join(map(self.fit, rendered.split("\n")))):
            self._paragraph(paragraph)

    def _paragraph(self, paragraph: Paragraph) -> None:
        block = len(BLOCK) if self.coloured else 0
        swatches = iter(paragraph.swatches)
        for line in paragraph.lines(self.width, block):
            row = Text(line, style="bold" if paragraph.bold else "")
            start = line.find(STAND_IN * block) if block else -1
            while start >= 0:
                for hex_colour, width in _shares(next(swatches), block):
                    row.stylize(f"on {hex_colour}", start, start + width)
                    start += width
                start = line.find(STAND_IN * block, start)
            self._print(row)

    def _print(self, line: Text) -> None:
        self.console.print(line, soft_wrap=True)


def _shares(hexes: list[str], block: int) -> list[tuple[str, int]]:
    """Colours of a swatch with the columns of each."""
    ends = [round(block * (k + 1) / len(hexes)) for k in range(len(hexes))]
    starts = [0, *ends]
    return [
        (colour, end - starts[k]) for k, (colour, end) in enumerate(zip(hexes, ends, strict=True))
    ]


def printable(text: str) -> str:
    """The text without characters that steer a terminal; they are shown as their escapes."""
    return "".join(c if c.isprintable() else c.encode("unicode_escape").decode() for c in text)


def to_error(message: str) -> None:
    """One sentence on the error stream."""
    page = Page(sys.stderr)
    page.console.print(Text(page.fit(message)), soft_wrap=True)


def answer(
    record: object, text: Callable[[], str], *, as_json: bool, written: Iterable[Path | None] = ()
) -> None:
    """Show an answer: as one JSON document, or as the text of its template.

    Parameters
    ----------
    record : dataclass instance
        The answer, for `dosing.words.documents`.
    text : callable
        That renders the template; called only where no JSON was asked for.
    as_json : bool
        Whether JSON was asked for.
    written : iterable of Path
        Files that were written beside it; None for those that were not asked for.
    """
    if as_json:
        write_json(record)
        return
    page = Page()
    page.answer(text())
    for file in filter(None, written):
        page.line(say("cli.picture-written", {"file": str(file)}))
