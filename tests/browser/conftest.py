"""Pages in Debian's chromium: one browser a worker, one context a test, every request counted."""

from __future__ import annotations

import json
import shutil
from collections.abc import Callable, Iterator
from datetime import date, datetime
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser, Page, sync_playwright
from pydantic import TypeAdapter

from dosing.page.html import card_page
from dosing.page.records import Card

WATCH = """
window.touched = [];
const note = (owner, names) => names.forEach((name) => {
  const own = owner && owner[name];
  if (own) owner[name] = function (...all) {
    window.touched.push(name);
    return own.apply(this, all);
  };
});
note(Storage.prototype, ['getItem', 'setItem', 'removeItem', 'clear', 'key']);
note(IDBFactory.prototype, ['open', 'deleteDatabase']);
note(CacheStorage.prototype, ['open', 'match', 'has']);
note(window, ['fetch', 'XMLHttpRequest', 'WebSocket', 'EventSource', 'open']);
note(Navigator.prototype, ['sendBeacon']);
const cookie = Object.getOwnPropertyDescriptor(Document.prototype, 'cookie');
Object.defineProperty(document, 'cookie', {
  get() { window.touched.push('cookie'); return cookie.get.call(document); },
  set() { window.touched.push('cookie'); },
});
"""


@pytest.fixture(scope="session")
def chromium() -> Iterator[Browser]:
    """Debian's own browser; a machine without it fails rather than skips."""
    path = shutil.which("chromium")
    assert path, "no chromium on this machine: apt-get install chromium"
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=path, args=["--no-sandbox"])
        yield browser
        browser.close()


@pytest.fixture
def served(chromium: Browser) -> Iterator[Callable[..., Page]]:
    """Open a text of HTML at an address; the page has its requests in `page.asked`."""
    contexts = []

    def at(html: str, address: str, now: date, **settings: Any) -> Page:
        context = chromium.new_context(**settings)
        contexts.append(context)
        asked: list[str] = []

        def serve(route: Any) -> None:
            asked.append(route.request.url)
            if route.request.url == address.split("#")[0]:
                route.fulfill(body=html, content_type="text/html; charset=utf-8")
            else:
                route.abort()

        context.route("**/*", serve)
        context.add_init_script(WATCH)
        page = context.new_page()
        page.clock.set_fixed_time(datetime(now.year, now.month, now.day, 12))
        page.goto(address)
        page.asked = asked  # type: ignore[attr-defined]
        return page

    yield at
    for context in contexts:
        context.close()


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
