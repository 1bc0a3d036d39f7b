"""Readings of a batch's pH as a person writes them, checked against each other."""

from __future__ import annotations

import re
from collections.abc import Sequence
from itertools import pairwise
from typing import NoReturn

from dosing.ingredients.trade_values import typical
from dosing.recipe.quantities import InputError, Reader, days
from dosing.workshop.adjust import AdjustAsked, BatchReading
from dosing.workshop.adjusters import Adjuster
from indicator.accepted import one_of
from indicator.notes import Value, say

_WRITTEN = re.compile(
    r"(?P<grams>\d+(?:[.,]\d+)?)\s*g?\s*=\s*(?P<ph>\d+(?:[.,]\d+)?)\s*(?:@\s*(?P<after>.+))?"
)
MOST_GRAMS = 50.0
"""In 100 g of batch."""
_batch_g = Reader("batch", "batch")


def asked(
    written: Sequence[str],
    *,
    wished_ph: float,
    given: Adjuster,
    next_in: Adjuster,
    batch: str,
    read_with: str = "meter",
    dyed: bool = False,
) -> AdjustAsked:
    """Readings of a batch and the wish, from text.

    Parameters
    ----------
    written : sequence of str
        Readings: grams per 100 g of batch in all so far, the pH, and when, as ``0.2=7.74@24h``.
    wished_ph : float
        The wish.
    given, next_in : Adjuster
        What was stirred in, and what goes in next.
    batch : str
        How much batch there is.
    read_with : {"meter", "strip"}
        What the pH was read with.
    dyed : bool
        Whether a plant infusion is in it.

    Returns
    -------
    AdjustAsked

    Raises
    ------
    InputError
        If a reading cannot be one, or the readings contradict what was stirred in.
    """
    one_of("read-with", read_with, ("meter", "strip"))
    if dyed and read_with == "strip":
        _refuse("dyed-strip", "read-with", read_with)
    if not written:
        raise InputError(say("adjust.no-readings"), "readings")
    readings = sorted(map(_reading, written), key=lambda reading: (reading.grams, reading.days))
    _within(wished_ph, "bottle_ph", "wished", "to")
    _check_course(readings, given)
    way = -1.0 if next_in.reaction == "acid" else 1.0
    last = readings[-1]
    if way * (wished_ph - last.ph) < -typical("same_ph").value:
        told: dict[str, Value] = {"ph": last.ph, "wished": wished_ph, "stock": next_in.label}
        _refuse("away", "to", wished_ph, **told)
    return AdjustAsked(tuple(readings), wished_ph, given, next_in, _batch_g(batch), read_with, dyed)


def _reading(written: str) -> BatchReading:
    match = _WRITTEN.fullmatch(written.strip())
    if match is None:
        _refuse("reading", "readings", written)
    after = 0.0 if match["after"] is None else days(match["after"], "readings")
    grams, ph = (float(match[name].replace(",", ".")) for name in ("grams", "ph"))
    _within(ph, "base_ph", "read", "readings")
    if grams > MOST_GRAMS:
        _refuse("grams", "readings", grams, most=MOST_GRAMS)
    return BatchReading(grams, ph, after)


def _within(ph: float, limits: str, code: str, field: str) -> None:
    low, high = (typical(f"{limits}_{end}").value for end in ("lowest", "highest"))
    if not low <= ph <= high:
        _refuse(code, field, ph, low=low, high=high)


def _check_course(readings: Sequence[BatchReading], given: Adjuster) -> None:
    """Refuse two readings of one moment, and a pH that goes against what was stirred in."""
    for before, after in pairwise(readings):
        if before.grams == after.grams and before.days == after.days:
            _refuse("twice", "readings", None, grams=after.grams)
    latest = list({reading.grams: reading for reading in readings}.values())
    way = 1.0 if given.reaction == "acid" else -1.0
    for before, after in pairwise(latest):
        if way * (after.ph - before.ph) > typical("same_ph").value:
            told: dict[str, Value] = {"before": before.ph, "after": after.ph, "stock": given.label}
            _refuse("against", "readings", None, **told)


def _refuse(code: str, field: str, value: object, **told: Value) -> NoReturn:
    quoted = value if isinstance(value, str | float | int) else ""
    raise InputError(say(f"adjust.error.{code}", {"field": field, "value": quoted, **told}), field)
