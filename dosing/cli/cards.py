"""A dose card asked for, written and shown."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from dosing.bath.inputs import RecipeInputs
from dosing.cli.given import check_picture
from dosing.cli.output import answer, to_error
from dosing.cli.session import NOT_MET
from dosing.page.card import NoCardError, dose_card
from dosing.page.words import LANGUAGES
from indicator.accepted import one_of
from indicator.files import whole_file
from indicator.notes import say

if TYPE_CHECKING:
    from dosing.workshop import ProductFile


@dataclass(frozen=True)
class CardFiles:
    """Files of a card; refused if they cannot be written."""

    page: Path | None = None
    paper: Path | None = None
    image: Path | None = None
    board: Path | None = None

    @property
    def only_board(self) -> bool:
        """Whether nothing of the card itself is asked for."""
        return self.board is not None and not any((self.page, self.paper, self.image))

    def __post_init__(self) -> None:
        check_picture(self.page, (".html",), "output")
        check_picture(self.paper, (".pdf",), "paper-card")
        check_picture(self.image, (".png",), "image")
        check_picture(self.board, (".html",), "board")


def refused(product: ProductFile) -> int:
    """Say why a product has no card where its cautions forbid it; the exit code, 0 where not."""
    from dosing.workshop import assess

    answer_on = assess(product)
    stops = [each for each in answer_on.cautions if each.level == "stop"]
    if answer_on.verdicts.of(product.purpose).level != "stop" or not stops:
        return 0
    to_error(say("no-card.forbidden", {"reason": stops[0].message}))
    return NOT_MET


def show_card(
    inputs: RecipeInputs, files: CardFiles, language: str | None, *, as_json: bool
) -> int:
    """Make the card of a recipe, write it, and show its table.

    Parameters
    ----------
    inputs : RecipeInputs
        The recipe in core units.
    files : CardFiles
        What is written.
    language : str or None
        Of the card; the recipe's if not given.
    as_json : bool
        Whether the data of the card are printed.

    Returns
    -------
    int
        Exit code: 0, or `NOT_MET` where no card is made.
    """
    inputs = _in_language(inputs, language)
    try:
        card = dose_card(inputs)
    except NoCardError as error:
        to_error(str(error))
        return NOT_MET
    if files.page is not None:
        from dosing.page.html import card_page

        _write(files.page, card_page(card).encode())
    if files.paper is not None or files.image is not None:
        from dosing.page.paper import image_card, paper_card

        for file, made_by in ((files.paper, paper_card), (files.image, image_card)):
            if file is not None:
                _write(file, made_by(card))

    def text() -> str:
        from dosing.page.html import dash, page_words, sachet_fit, static_tables
        from dosing.words.templates import render

        words = page_words(card.language)
        notes = {"table_none": dash(card), "fit": sachet_fit(card)}
        told = render("card", card=card, words=words, tables=static_tables(card), **notes)
        return told.replace("\N{NO-BREAK SPACE}", " ")

    answer(card, text, as_json=as_json, written=(files.page, files.paper, files.image, files.board))
    return 0


def write_board(
    inputs: RecipeInputs, tables: Mapping[str, Any], file: Path, language: str | None
) -> None:
    """Write the maker's board of a recipe.

    Parameters
    ----------
    inputs : RecipeInputs
        The recipe in core units.
    tables : mapping
        The same as written.
    file : Path
        What is written.
    language : str or None
        Of the board; the recipe's if not given.
    """
    from dosing.page.board import board_of, board_page

    _write(file, board_page(board_of(_in_language(inputs, language), tables)).encode())


def _write(file: Path, made: bytes) -> None:
    with whole_file(file) as draft:
        draft.write_bytes(made)


def _in_language(inputs: RecipeInputs, language: str | None) -> RecipeInputs:
    if language is None:
        return inputs
    one_of("language", language, LANGUAGES)
    return replace(inputs, card=replace(inputs.card, language=language))
