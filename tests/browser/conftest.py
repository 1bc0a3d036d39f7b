"""Pages in Debian's chromium: one browser a worker, one context a test, every request counted."""

from __future__ import annotations

import json
import shutil
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser, sync_playwright
from pydantic import TypeAdapter

from dosing.page.html import card_page
from dosing.page.records import Card


@pytest.fixture(scope="session")
def chromium() -> Iterator[Browser]:
    """Debian's own browser; a machine without it fails rather than skips."""
    path = shutil.which("chromium")
    assert path, "no chromium on this machine: apt-get install chromium"
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=path, args=["--no-sandbox"])
        yield browser
        browser.close()


@pytest.fixture(scope="session")
def card() -> dict[str, Any]:
    """Data of a card."""
    path = Path(__file__).resolve().parents[1] / "reference/card_example.json"
    return json.loads(path.read_text(encoding="utf-8"))


@pytest.fixture(scope="session")
def page_of() -> Callable[[dict[str, Any]], str]:
    """The page of a card's data, as the command writes it."""
    record = TypeAdapter(Card)

    def page(data: dict[str, Any]) -> str:
        return card_page(record.validate_python(data))

    return page
