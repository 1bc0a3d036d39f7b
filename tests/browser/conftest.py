"""Pages in Debian's chromium: one browser a worker, one context a test, every request counted."""

from __future__ import annotations

import shutil
from collections.abc import Iterator

import pytest
from playwright.sync_api import Browser, sync_playwright


@pytest.fixture(scope="session")
def chromium() -> Iterator[Browser]:
    """Debian's own browser; a machine without it fails rather than skips."""
    path = shutil.which("chromium")
    assert path, "no chromium on this machine: apt-get install chromium"
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=path, args=["--no-sandbox"])
        yield browser
        browser.close()
