"""Files of pictures, and the printed sheet: an answer as on the terminal, under its picture.

What is written is passed as data, so that a name is never read as markup. The type shrinks until
all of it is on the page, to 7.5 points in two columns; what is longer goes on over the page.
"""

from __future__ import annotations

import io
import json
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

from dosing.pictures.paper import INK
from dosing.words.marks import SWATCH, Paragraph, paragraphs
from indicator.files import whole_file
from indicator.notes import say
from indicator.tables import read_text

if TYPE_CHECKING:
    from matplotlib.figure import Figure

ENDINGS = (".png", ".jpg", ".webp", ".svg", ".pdf")
PAPERS = {"A4": "a4", "Letter": "us-letter"}


def write_picture(figure: Figure, path: Path) -> None:
    """Save a picture; the same picture gives the same bytes, whenever it is written.

    Parameters
    ----------
    figure : matplotlib.figure.Figure
        What is drawn.
    path : Path
        Ending in one of `ENDINGS`; a .pdf is a page of A4 paper.

    Raises
    ------
    ValueError
        If the ending is another one.
    OSError
        If the folder cannot be written to.
    """
    from matplotlib import rc_context

    ending = path.suffix.lower()
    if ending not in ENDINGS:
        raise ValueError(say("picture.ending", {"file": repr(str(path))}))
    dated: dict[str, Any] = {".png": {"Software": None}, ".svg": {"Date": None}}
    with rc_context({"svg.hashsalt": "huedose"}), whole_file(path) as draft:
        if ending == ".pdf":
            draft.write_bytes(typeset("", figure))
            return
        figure.savefig(
            draft,
            format=ending[1:],
            dpi=figure.dpi,
            facecolor=figure.get_facecolor(),
            metadata=dated.get(ending),
        )


def write_sheet(text: str, figure: Figure | None, path: Path, paper: str = "A4") -> None:
    """Typeset an answer with its picture as a page to print.

    Parameters
    ----------
    text : str
        The answer in the markup of `dosing.words.marks`; a bold first line is the title.
    figure : matplotlib.figure.Figure, optional
        What stands above it; best a wide one, as of `dosing.pictures.ribbon`.
    path : Path
        Where the .pdf is written.
    paper : str
        ``"A4"`` or ``"Letter"``.

    Raises
    ------
    ValueError
        If there is no such paper, or the file is no .pdf.
    OSError
        If the folder cannot be written to.
    """
    if paper not in PAPERS:
        raise ValueError(
            say("picture.paper", {"value": repr(paper), "accepted": ", ".join(PAPERS)})
        )
    if path.suffix.lower() != ".pdf":
        raise ValueError(say("picture.sheet-ending", {"file": repr(str(path))}))
    with whole_file(path) as draft:
        draft.write_bytes(typeset(text, figure, paper))


def typeset(text: str, figure: Figure | None, paper: str = "A4") -> bytes:
    """The sheet as the bytes of a file.

    Parameters
    ----------
    text, figure, paper
        As for `write_sheet`.

    Returns
    -------
    bytes
        Of a .pdf.
    """
    return compiled(*sheet_source(text, figure, paper))


def compiled(
    source: bytes,
    inputs: dict[str, str],
    form: Literal["pdf", "png"] = "pdf",
    ppi: float = 144.0,
    standard: Literal["ua-1"] | None = None,
) -> bytes:
    """A template with its data as the bytes of a file.

    Parameters
    ----------
    source : bytes
        Of the template.
    inputs : dict of str to str
        Its ``sys.inputs``.
    form : {"pdf", "png"}
        A picture has one page.
    ppi : float
        Pixels of a picture in 25.4 mm.
    standard : {"ua-1"}, optional
        That the file keeps to: ISO 14289-1, for readers who do not see it.

    Returns
    -------
    bytes
    """
    import matplotlib
    import typst

    # DejaVu Sans, as it comes with the drawing library.
    folder = str(Path(matplotlib.get_data_path()) / "fonts" / "ttf")
    fonts = typst.Fonts(include_system_fonts=False, font_paths=[folder])
    return typst.compile(
        source,
        format=form,
        ppi=ppi,
        font_paths=fonts,
        sys_inputs=inputs,
        pdf_standards=[standard] if standard else [],
    )


def sheet_source(text: str, figure: Figure | None, paper: str) -> tuple[bytes, dict[str, str]]:
    """The sheet's template, and the data that it is filled with.

    Parameters
    ----------
    text, figure, paper
        As for `write_sheet`.

    Returns
    -------
    tuple
        Source of the template, and its ``sys.inputs``.
    """
    lines = [_line(part) for part in paragraphs(text)] if text else []
    titled = bool(lines) and lines[0]["bold"]
    sheet = {
        "paper": PAPERS[paper],
        "ink": INK,
        "title": "".join(lines.pop(0)["parts"][::2]) if titled else "",
        "lines": lines,
        "picture": "" if figure is None else as_svg(figure),
    }
    return read_text("text/sheet.typ").encode(), {"sheet": json.dumps(sheet)}


def _line(part: Paragraph) -> dict[str, Any]:
    """A paragraph with its parts: words, and between them the colours of a swatch."""
    pieces = SWATCH.split(part.text)
    parts = [piece.split("/") if place % 2 else piece for place, piece in enumerate(pieces)]
    return {"parts": parts, "indent": part.indent, "bold": part.bold, "whole": part.whole}


def as_svg(figure: Figure) -> str:
    """A figure as vectors, on the bare paper."""
    from matplotlib import rc_context

    held = io.BytesIO()
    with rc_context({"svg.hashsalt": "huedose"}):
        figure.savefig(held, format="svg", metadata={"Date": None}, facecolor="none")
    return held.getvalue().decode()
