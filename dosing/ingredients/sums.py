"""Sums by key: what several things bring together."""

from __future__ import annotations

from collections.abc import Hashable, Iterable, Mapping
from typing import Any, TypeVar

Key = TypeVar("Key", bound=Hashable)


def added(parts: Iterable[Mapping[Key, Any]]) -> dict[Key, Any]:
    """Sum of each key over several mappings, in the order in which the keys come.

    Parameters
    ----------
    parts : iterable of mapping
        Numbers or arrays that broadcast.

    Returns
    -------
    dict
    """
    total: dict[Key, Any] = {}
    for part in parts:
        for key, amount in part.items():
            total[key] = total[key] + amount if key in total else amount
    return total
