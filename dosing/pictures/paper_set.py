"""All papers of a product: which there are, and each as a file to print."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from dosing.bottle.rainbow import rainbow
from dosing.pictures.ladder import draw_jar_rows
from dosing.pictures.papers import paper_pdf, told
from dosing.pictures.sheets import PAPERS, typeset
from dosing.plan.cautions import Caution
from dosing.words.colours import ColoursDocument
from dosing.words.templates import render
from dosing.workshop import ProductFile, assess
from dosing.workshop.maker_sheets import Refused, papers
from dosing.workshop.papers import PaperSheet
from indicator.colourants import Colourant
from indicator.ladders import shown_strength
from indicator.notes import Note
from indicator.optics import small_view

CLASS = "class"
KINDS = ("label", "directions", "assessor", "weigh", "keeping", CLASS)
CLASS_JARS = 12


@dataclass(frozen=True)
class PaperTold:
    """A paper in the list of those that there are."""

    name: str
    """``label-bottle``, ``directions`` ..."""
    market: str
    """Of a label; else empty."""
    file: str
    """Its name in the folder."""
    to_check: int
    """Rules that nobody read in full: the maker looks them up."""
    to_fill_in: int
    """Lines that the product file says nothing of."""

    @property
    def title(self) -> str:
        """Name of the paper for people."""
        return told(Note(f"name.{self.name}"))


@dataclass(frozen=True)
class PapersDocument:
    """Answer of ``papers``."""

    product: str
    folder: str | None
    """Where they were written; None where they were only listed."""
    papers: tuple[PaperTold, ...]
    refused: tuple[Refused, ...]
    """Markets that nothing is printed for."""
    stops: tuple[Caution, ...]
    """Cautions that stop it there; where all are refused only the maker's own are printed."""
    purpose: str
    """``"own"``, ``"gift"`` or ``"sale"``."""
    weighed: bool
    """Whether a batch of it may be weighed; if not there is no weigh sheet."""


@dataclass(frozen=True)
class PaperSet:
    """The papers of a product that are asked for."""

    product: ProductFile
    sheets: tuple[PaperSheet, ...]
    in_class: tuple[Colourant, ...]
    """Pigments on the sheet for a class; none where there is no such sheet."""
    refused: tuple[Refused, ...]
    stops: tuple[Caution, ...]
    weighed: bool

    @classmethod
    def of(cls, product: ProductFile, kinds: Sequence[str], bottles: int, start: date) -> PaperSet:
        """The papers of those kinds.

        Parameters
        ----------
        product : ProductFile
            In core units.
        kinds : sequence of str
            Some of `KINDS`.
        bottles : int
            Of the batch on the weigh sheet.
        start : date
            First day of the keeping test.

        Returns
        -------
        PaperSet
        """
        made = papers(assess(product), bottles, start)
        sheets = tuple(sheet for sheet in made.sheets if sheet.name.split("-")[0] in kinds)
        in_class = _pigments(product) if made.sold and CLASS in kinds else ()
        return cls(product, sheets, in_class, made.refused, made.stops, made.weighed)

    def listed(self, folder: str | None) -> PapersDocument:
        """The list of the papers; `folder` is where they were written, if anywhere."""
        told_papers = [_told(sheet) for sheet in self.sheets]
        if self.in_class:
            told_papers.append(PaperTold(CLASS, "", f"{CLASS}.pdf", 0, 0))
        file, weighed = self.product, self.weighed
        listed = tuple(told_papers)
        return PapersDocument(
            file.name, folder, listed, self.refused, self.stops, file.purpose, weighed
        )

    def files(self, paper: str) -> dict[str, bytes]:
        """Name of each file to the file, as PDF on a paper of `PAPER_NAMES`."""
        foot = told(Note("foot", {"date": date.today().isoformat()}))
        files = {f"{sheet.file_name}.pdf": paper_pdf(sheet, foot, paper) for sheet in self.sheets}
        if self.in_class:
            files[f"{CLASS}.pdf"] = _class_sheet(self.product, self.in_class, paper)
        return files


def _told(sheet: PaperSheet) -> PaperTold:
    blanks = sheet.to_check, sheet.to_fill_in
    return PaperTold(sheet.name, sheet.market, f"{sheet.file_name}.pdf", *blanks)


def _pigments(product: ProductFile) -> tuple[Colourant, ...]:
    known = dict.fromkeys(colour.colourant for colour in product.recipe.colours)
    return tuple(which for which in known if which.kind == "pigment")


def _class_sheet(product: ProductFile, pigments: Sequence[Colourant], paper: str) -> bytes:
    """The sheet of a row of jars for a class or a show table, of the product's own colours."""
    view = small_view("jar")
    strengths = {which: shown_strength(which, view) for which in pigments}
    row = rainbow(product.recipe, strengths, CLASS_JARS, view)
    document = ColoursDocument((row.ladder,), row, listed=False, spectrum=False, warnings=())
    text = render("colours", answer=document, more=True, own_water=True)
    return typeset(text, draw_jar_rows(row), paper if paper in PAPERS else "A4")
