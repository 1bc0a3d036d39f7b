"""The list of pigments and dyes."""

from __future__ import annotations

import json
from collections.abc import Callable

import pytest

from indicator.pigments import colourant_names

Run = Callable[..., tuple[int, str, str]]


@pytest.mark.parametrize("view", ["jar", "tub", "bottle"])
def test_every_colourant_is_listed_with_its_words(huedose: Run, view: str) -> None:
    code, out, err = huedose("pigments", "--view", view, "--json")
    listed = json.loads(out)["pigments"]
    assert (code, err) == (0, "")
    assert [one["name"] for one in listed] == list(colourant_names())
    for one in listed:
        assert one["trust"] in ("published", "recalled", "estimated")
        assert one["sources"]
        spans = one["words"]
        assert spans[0]["from_ph"] == 1.0
        assert spans[-1]["to_ph"] == 12.0
        assert len(one["ribbon"]) == 111
        if one["kind"] == "dye":
            assert len(spans) == 1


def test_the_list_is_readable_in_a_narrow_window(huedose: Run) -> None:
    code, out, err = huedose("pigments", COLUMNS="60", encoding="cp1252")
    assert (code, err) == (0, "")
    assert max(len(line) for line in out.splitlines()) <= 60
    for name in colourant_names():
        assert name in out
    assert "partly our own estimate" in " ".join(out.split())


def test_a_market_is_told_with_its_source(huedose: Run) -> None:
    _, out, _ = huedose("pigments", "--json")
    turmeric = next(one for one in json.loads(out)["pigments"] if one["name"] == "turmeric")
    markets = {one["market"]: one for one in turmeric["markets"]}
    assert markets["EU"]["listed"] == "yes"
    assert markets["US"]["listed"] == "no"
    assert "unverified" in markets["US"]["source"]
