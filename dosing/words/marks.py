"""Marks in the text of an answer: bold lines, swatches of colour, and what is there to be copied.

A template yields one paragraph a line: ``# `` begins a bold one, ``$ `` one that is never broken,
spaces indent, and ``[#204060]`` or ``[#204060/#804060]`` is water of one colour or of two.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from textwrap import wrap

SWATCH = re.compile(r"\[(#[0-9A-Fa-f]{6}(?:/#[0-9A-Fa-f]{6})*)\] ?")
STAND_IN = "\N{NO-BREAK SPACE}"
"""Holds the place of a swatch while lines are broken; never written by a template."""
HANG = 2


@dataclass(frozen=True)
class Paragraph:
    """One line of a rendered template."""

    text: str
    """With its swatches as a template has them."""
    indent: int = 0
    bold: bool = False
    whole: bool = False
    """Whether it is there to be copied, and never broken."""
    hang: int = HANG
    """Columns by which its later lines are indented further."""

    @property
    def swatches(self) -> list[list[str]]:
        """Colours of each swatch in it, from left to right."""
        return [colours.split("/") for colours in SWATCH.findall(self.text)]

    def lines(self, width: int, block: int = 0) -> list[str]:
        """Lines of at most a width; each swatch is a run of `STAND_IN`.

        Parameters
        ----------
        width : int
            Columns.
        block : int
            Columns of a swatch; 0 leaves them out.

        Returns
        -------
        list of str
            At least one.
        """
        stand_in = STAND_IN * block + " " if block else ""
        text, margin = SWATCH.sub(stand_in, self.text), " " * self.indent
        if self.whole:
            return [margin + text]
        return wrap(
            text,
            width=width,
            initial_indent=margin,
            subsequent_indent=margin + " " * self.hang,
            break_long_words=False,
            break_on_hyphens=False,
        ) or [""]


def paragraphs(rendered: str) -> Iterator[Paragraph]:
    """Paragraphs of a rendered template; an empty line shows above a bold one alone."""
    parted = False
    for number, line in enumerate(rendered.strip().split("\n")):
        text = line.strip()
        if not text:
            parted = number > 0
            continue
        indent, bold = len(line) - len(line.lstrip()), text.startswith("# ")
        if bold and parted:
            yield Paragraph("")
        parted = False
        if text.startswith("$ "):
            yield Paragraph(text[2:], indent or HANG, whole=True)
        else:
            yield Paragraph(text.removeprefix("# "), indent, bold)


def plain(rendered: str, width: int = 80) -> str:
    r"""A rendered template without colours and bold letters.

    Parameters
    ----------
    rendered : str
        Text of `dosing.words.templates.render`.
    width : int
        Columns.

    Returns
    -------
    str

    Examples
    --------
    >>> plain("# Tub\n[#204060] blue")
    'Tub\nblue'
    """
    return "\n".join(line for part in paragraphs(rendered) for line in part.lines(width))
