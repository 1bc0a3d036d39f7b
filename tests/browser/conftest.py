"""Pages in Debian's chromium: one browser a worker, one context a test, every request counted."""

from __future__ import annotations

import base64
import hashlib
import json
import shutil
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from jinja2 import Environment
from playwright.sync_api import Browser, sync_playwright

from indicator.tables import read_text, read_toml


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
    """The page of a card's data."""

    def sha(text: str) -> str:
        return "sha256-" + base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()

    def page(data: dict[str, Any]) -> str:
        css, js = read_text("page/card.css"), read_text("page/card.js")
        table = [
            {
                "bather": who,
                "columns": [mark["name"] for mark in data["marks"]],
                "rows": [
                    {"label": f"{pad['label']} ppm", "cells": ["14 g"] * len(data["marks"])}
                    for pad in data["readings"]["strip"]
                ],
            }
            for who in data["bathers"]
        ]
        words = read_toml(f"text/{data['language']}/card.toml")
        template = Environment(autoescape=True).from_string(read_text("page/card.html"))
        csp = {"style": sha(css), "script": sha(js)}
        return template.render(data=data, words=words, css=css, js=js, csp=csp, table=table)

    return page
