"""A maker's papers as records: what each one says, before anybody sets it in type.

Sentences stand in ``data/text/en/papers.toml``; here are their codes and values. Whatever a maker
wrote goes through as text.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from dosing.plan.cautions import Caution
from dosing.plan.records import Plan, Sight
from dosing.workshop.label_rules import LabelRule, LabelSize
from dosing.workshop.product_file import ProductFile
from indicator.notes import Note, Value, say

PAPERS = "text/en/papers.toml"
"""Catalogue of the papers' sentences."""


@dataclass(frozen=True)
class PaperLine:
    """One line or cell of a paper."""

    text: str | Note
    """As the maker wrote it, or a sentence of the papers."""
    rule: LabelRule | None = None
    """That it follows; where nobody read it the line says "check this"."""
    colour: str = ""
    """Colour of the water beside it, ``#rrggbb``."""
    bold: bool = False
    check: bool = False
    """Whether the maker has to look it up, beside what the rule says."""
    note: str | Note = ""
    """What stands below it."""
    box: bool = False
    """Whether a box to tick stands before it."""

    @property
    def to_check(self) -> bool:
        """Whether it says "check this"."""
        return self.check or (self.rule is not None and self.rule.to_check)


Words = str | Note | PaperLine


@dataclass(frozen=True)
class PaperPart:
    """A part of a paper under a heading."""

    kind: str
    """``title``, ``lines``, ``facts`` (lines in two columns), ``steps``, ``ticks``, ``table``,
    ``writing``, ``sign`` (lines to write on), ``caution``; of a label ``foot``, ``tide``."""
    heading: str | Note = ""
    lines: tuple[Words, ...] = ()
    columns: tuple[Words, ...] = ()
    """Heads of a table."""
    rows: tuple[tuple[Words, ...], ...] = ()
    align: str = ""
    """Of each column: ``l``, ``r``, or ``c`` with a line before it."""
    widths: tuple[float, ...] = ()
    """Shares of the room; 0 for as wide as its words."""
    room: float = 0.4
    """Above and below the words of a cell, in heights of the type."""


@dataclass(frozen=True)
class TideMark:
    """Colours along the dose, with what the water is called at both ends."""

    colours: tuple[str, ...]
    start: Note
    end: Note


@dataclass(frozen=True)
class LabelDraft:
    """A label at its true size: panels side by side."""

    size: LabelSize
    panels: tuple[tuple[PaperPart, ...], ...]
    least_letter_mm: float
    """Small letters are never lower than that [mm]."""
    tide: TideMark


@dataclass(frozen=True)
class PaperSheet:
    """One paper."""

    name: str
    """``label-bottle``, ``label-sachet``, ``label-colour``, ``label-outer``, ``directions``,
    ``assessor``, ``weigh`` or ``keeping``."""
    title: str
    parts: tuple[PaperPart, ...]
    market: str = ""
    """Of a label; else empty."""
    number: int = 1
    """Of a label among those of one name and market."""
    about: tuple[str | Note, ...] = ()
    tide: TideMark | None = None
    label: LabelDraft | None = None
    across: bool = False
    """Whether the page lies on its long side."""
    basin: bool = False
    """Whether its bath is that of a foot basin."""

    @property
    def file_name(self) -> str:
        """Name of its file without ending."""
        name = f"{self.name}-{self.number}" if self.number > 1 else self.name
        return f"{name}-{self.market.lower()}" if self.market else name

    @property
    def lines(self) -> list[Words]:
        """All that is written on it but the cells of tables."""
        parts = [part for panel in self.label.panels for part in panel] if self.label else []
        return [line for part in (*parts, *self.parts) for line in part.lines]

    @property
    def to_check(self) -> int:
        """Rules that nobody read in full, and what else the maker has to look up."""
        cells = (cell for part in self.parts for row in part.rows for cell in row)
        return sum(isinstance(each, PaperLine) and each.check for each in (*self.lines, *cells))

    @property
    def to_fill_in(self) -> int:
        """Lines that the product file says nothing of."""
        texts = (line.text if isinstance(line, PaperLine) else line for line in self.lines)
        return sum(isinstance(text, Note) and text.code.startswith("fill-in") for text in texts)

    @property
    def rules(self) -> tuple[LabelRule, ...]:
        """Rules that its lines follow, in the order in which they are met."""
        rules = (line.rule for line in self.lines if isinstance(line, PaperLine) and line.rule)
        return tuple(dict.fromkeys(rules))


def stopped(sheet: PaperSheet, cautions: Sequence[Caution]) -> PaperSheet:
    """A paper for the maker alone, of a product that must not be given or sold.

    Parameters
    ----------
    sheet : PaperSheet
        As it would be.
    cautions : sequence of Caution
        That forbid it.

    Returns
    -------
    PaperSheet
        With those above all else.
    """
    lines = tuple(PaperLine(marked(each), bold=True) for each in cautions)
    warning = PaperPart("caution", Note("about.stopped"), lines)
    return replace(sheet, parts=(warning, *sheet.parts))


def marked(caution: Caution) -> Note:
    """A caution with the mark and the word of its level."""
    return Note(f"about.mark-{caution.level}", {"message": caution.message})


def tide_mark(plan: Plan) -> TideMark:
    """Colours from the tub before to the tub after the dose, of a plan's ribbon."""
    ribbon, dose = plan.ribbon, plan.dose_g.best
    upto = zip(ribbon.colours.hex, ribbon.grams, strict=True)
    colours = tuple(str(colour) for colour, grams in upto if grams <= dose)
    return TideMark(colours, _end(plan.before), _end(plan.after))


def _end(sight: Sight) -> Note:
    return Note("about.end", {"colour": str(sight.colour.phrase), "ph": sight.ph})


def tub_l(product: ProductFile, plan: Plan) -> float:
    """Water to run before anything goes in.

    Parameters
    ----------
    product : ProductFile
        Whose tub it is.
    plan : Plan
        Of one bath of it, whose tub is that of the file or a usual one.

    Returns
    -------
    float
        [L]
    """
    told = product.recipe.tub.volume_l
    return plan.volume_l if told is None else told


def told_of(product: ProductFile, plan: Plan) -> tuple[str | Note, ...]:
    """Line under a title: edition, lot, tub and bathers, as far as they are known.

    Parameters
    ----------
    product : ProductFile
        That the paper is of.
    plan : Plan
        Of one bath of it.

    Returns
    -------
    tuple of str and Note
    """
    known = {"edition": product.edition, "lot": product.recipe.card.lot}
    told = [Note(f"about.{key}", {key: value}) for key, value in known.items() if value]
    return *told, Note("about.tub", {"volume": tub_l(product, plan)}), Note(f"about.{plan.bathers}")


def of_gift(product: ProductFile) -> tuple[Note, ...]:
    """Line on the face of a gift's paper: that it is not for sale."""
    return (Note("about.gift"),) if product.purpose == "gift" else ()


def phrase(code: str, **values: Value) -> str:
    """Words that stand inside a sentence of the papers.

    Parameters
    ----------
    code : str
        Key in `PAPERS`.
    **values
        What they quote.

    Returns
    -------
    str
    """
    return say(code, values, PAPERS)
