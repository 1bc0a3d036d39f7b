"""``mat``: the photo mat to print, and kitchen solutions of known pH."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

from dosing.cli import options


def mat(
    output: Annotated[
        Path | None, options.usual("mat-output", "-o", "--output", metavar="FILE")
    ] = None,
    paper: Annotated[str, options.usual("paper")] = "A4",
    one: Annotated[bool, options.usual("mat-one", "--one")] = False,
    as_json: options.Json = False,
) -> None:
    """A photo mat to print."""
    from dosing.bottle.kitchen import kitchen_solutions
    from dosing.cli.given import check_picture
    from dosing.cli.output import answer
    from dosing.pictures.mat import mat_source
    from dosing.pictures.sheets import PAPERS, compiled
    from dosing.words.templates import render
    from indicator.accepted import spelled
    from indicator.files import whole_file
    from indicator.mat import SINGLE, SIX, photo_mat

    check_picture(output, (".pdf",), "output")
    paper = spelled("paper", paper, tuple(PAPERS))
    kitchen = kitchen_solutions()
    if output is not None:
        sheet = photo_mat(SINGLE if one else SIX)
        pages = compiled(*mat_source(sheet, None if one else kitchen, paper))
        with whole_file(output) as draft:
            draft.write_bytes(pages)
    told = {"kitchen": kitchen, "one": one, "written": output is not None, "on_paper": False}
    answer(kitchen, lambda: render("mat", **told), as_json=as_json, written=(output,))


COMMAND = options.Command(mat, "help.mat")
