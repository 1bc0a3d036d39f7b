"""The picture of the dose card in the README: its first question and its answer, side by side.

Run by hand (``python tests/reference/build_card_picture.py``) where Debian's chromium is installed.
The card is that of ``card_example.json``; all its inputs are invented.
"""

from __future__ import annotations

import json
import shutil
from io import BytesIO
from pathlib import Path
from tempfile import TemporaryDirectory

from PIL import Image
from playwright.sync_api import Page, sync_playwright
from pydantic import TypeAdapter

from dosing.page.html import card_page
from dosing.page.records import Card

HERE = Path(__file__).resolve().parent
PICTURE = HERE.parents[1] / "data/demo/card.png"
WIDTH, HEIGHT, GAP = 360, 660, 24
ANSWERS = ("120", "half", "Only adults")


def shot(page: Page) -> Image.Image:
    """The top of the page as a phone shows it."""
    return Image.open(BytesIO(page.screenshot())).convert("RGB")


def build() -> None:
    """Write the picture."""
    data = TypeAdapter(Card).validate_python(json.loads((HERE / "card_example.json").read_text()))
    with TemporaryDirectory() as folder, sync_playwright() as playwright:
        file = Path(folder) / "card.html"
        file.write_text(card_page(data), encoding="utf-8")
        browser = playwright.chromium.launch(
            executable_path=shutil.which("chromium"), args=["--no-sandbox"]
        )
        page = browser.new_page(
            viewport={"width": WIDTH, "height": HEIGHT}, reduced_motion="reduce"
        )
        page.goto(file.as_uri())
        shots = [shot(page)]
        for answer in ANSWERS:
            page.get_by_text(answer, exact=True).first.click()
        shots.append(shot(page))
        browser.close()
    board = Image.new("RGB", (2 * WIDTH + 3 * GAP, HEIGHT + 2 * GAP), "#dddad2")
    for place, picture in enumerate(shots):
        board.paste(picture, (GAP + place * (WIDTH + GAP), GAP))
    board.quantize(128).save(PICTURE, optimize=True)


if __name__ == "__main__":
    build()
