"""Papers of a product asked for, written into a folder and listed."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path

from dosing.cli.output import answer
from dosing.cli.session import NOT_MET, check_free
from dosing.pictures.papers import PAPER_NAMES, paper_pdf, told
from dosing.pictures.sheets import PAPERS
from dosing.plan.cautions import Caution
from dosing.recipe import quantities as q
from dosing.workshop import ProductFile, assess
from dosing.workshop.maker_sheets import Refused, papers
from dosing.workshop.papers import PaperSheet
from indicator.accepted import one_of
from indicator.colourants import Colourant
from indicator.files import whole_file
from indicator.notes import Note, say

CLASS = "class"
KINDS = ("label", "directions", "assessor", "weigh", "keeping", CLASS)
CLASS_JARS = 12


@dataclass(frozen=True)
class Printed:
    """Wish for papers: which, on what, and where to."""

    folder: Path | None
    """None: papers are listed and not written."""
    kinds: tuple[str, ...]
    paper: str
    bottles: int
    """Of the batch on the weigh sheet."""
    start: date
    """First day of the keeping test."""

    @classmethod
    def of(
        cls, folder: Path | None, only: str | None, paper: str, bottles: int, start: str | None
    ) -> Printed:
        """Wish as it was typed; raises ValueError for what cannot be used.

        Parameters
        ----------
        folder : Path or None
            Where the files go.
        only : str or None
            Kinds of papers between commas; None for all.
        paper : str
            One of `PAPER_NAMES`.
        bottles : int
            Of the batch on the weigh sheet.
        start : str or None
            A date; None for today.

        Returns
        -------
        Printed
        """
        one_of("paper", paper, PAPER_NAMES)
        kinds = KINDS if only is None else tuple(kind.strip() for kind in only.split(","))
        for kind in kinds:
            one_of("only", kind, KINDS)
        if folder is not None and folder.is_file():
            raise q.InputError(
                say("cli.no-folder", {"option": "output", "file": str(folder)}), "output"
            )
        if folder is not None and not folder.is_dir() and not folder.parent.is_dir():
            values = {"option": "output", "file": str(folder)}
            raise q.InputError(say("cli.picture-folder", values), "output")
        return cls(folder, kinds, paper, bottles, _day(start))

    def wants(self, name: str) -> bool:
        """Whether a paper is asked for."""
        return name.split("-")[0] in self.kinds


def _day(text: str | None) -> date:
    if text is None:
        return date.today()
    try:
        return date.fromisoformat(text.strip())
    except ValueError:
        raise q.refuse("error.unreadable", "start", text, '"2026-12-01"') from None


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


def show_papers(product: ProductFile, asked: Printed, whose: str, *, as_json: bool) -> int:
    """Write the papers of a product, and list them.

    Parameters
    ----------
    product : ProductFile
        In core units.
    asked : Printed
        What is printed.
    whose : str
        What names the product in the command that writes them.
    as_json : bool
        Whether one document is printed.

    Returns
    -------
    int
        Exit code: 0, or `NOT_MET` where a caution stops the product.
    """
    made = papers(assess(product), asked.bottles, asked.start)
    sheets = {sheet.file_name: sheet for sheet in made.sheets if asked.wants(sheet.name)}
    listed = [_told(sheet) for sheet in sheets.values()]
    in_class = _pigments(product) if made.sold and asked.wants(CLASS) else ()
    listed += [PaperTold(CLASS, "", f"{CLASS}.pdf", 0, 0)] if in_class else []
    if asked.folder is not None:
        for one in listed:
            check_free(asked.folder / one.file, "output")
        foot = told(Note("foot", {"date": date.today().isoformat()}))
        files = {name: paper_pdf(each, foot, asked.paper) for name, each in sheets.items()}
        files |= {CLASS: _class_sheet(product, in_class, asked.paper)} if in_class else {}
        _write(asked.folder, files)
    folder = None if asked.folder is None else str(asked.folder)
    document = PapersDocument(product.name, folder, tuple(listed), made.refused, made.stops)

    def text() -> str:
        from dosing.words.templates import render

        return render("papers", answer=document, whose=whose)

    answer(document, text, as_json=as_json)
    return NOT_MET if made.refused else 0


def _told(sheet: PaperSheet) -> PaperTold:
    blanks = sheet.to_check, sheet.to_fill_in
    return PaperTold(sheet.name, sheet.market, f"{sheet.file_name}.pdf", *blanks)


def _write(folder: Path, files: Mapping[str, bytes]) -> None:
    folder.mkdir(exist_ok=True)
    for name, pdf in files.items():
        with whole_file(folder / f"{name}.pdf") as draft:
            draft.write_bytes(pdf)


def _pigments(product: ProductFile) -> tuple[Colourant, ...]:
    known = dict.fromkeys(colour.colourant for colour in product.recipe.colours)
    return tuple(which for which in known if which.kind == "pigment")


def _class_sheet(product: ProductFile, pigments: Sequence[Colourant], paper: str) -> bytes:
    """The sheet of a row of jars for a class or a show table, of the product's own colours."""
    from dosing.bottle.rainbow import rainbow
    from dosing.pictures.ladder import draw_jar_rows
    from dosing.pictures.sheets import typeset
    from dosing.words.colours import ColoursDocument
    from dosing.words.templates import render
    from indicator.ladders import shown_strength
    from indicator.optics import small_view

    view = small_view("jar")
    strengths = {which: shown_strength(which, view) for which in pigments}
    row = rainbow(product.recipe, strengths, CLASS_JARS, view)
    document = ColoursDocument((row.ladder,), row, listed=False, spectrum=False, warnings=())
    text = render("colours", answer=document, more=True, own_water=True)
    return typeset(text, draw_jar_rows(row), paper if paper in PAPERS else "A4")
