"""The command line: arguments in, words or JSON out.

Commands import what they need when they run, so that ``huedose --help`` is instant.
"""

from __future__ import annotations

import logging
import os
import signal
import sys
import warnings
from collections.abc import Callable
from types import FrameType

from dosing.cli.session import ENDED, INTERRUPTED


def main() -> None:
    """Run the command line and leave with its exit code."""
    # Libraries that are half loaded turn an interrupt into errors of their own; nothing has been
    # written yet that would have to be cleared away.
    for number in (signal.SIGINT, signal.SIGTERM):
        _on(number, _leave_at_once)
    _quieten_libraries()
    from dosing.cli.app import run

    try:
        _on(signal.SIGTERM, _end)
        _on(signal.SIGINT, signal.default_int_handler)
        code = run()
    except KeyboardInterrupt:
        code = INTERRUPTED
    raise SystemExit(code)


def _on(number: signal.Signals, action: Callable[[int, FrameType | None], object]) -> None:
    # A shell has a job in the background ignore what is meant for the one in front.
    if signal.getsignal(number) is not signal.SIG_IGN:
        signal.signal(number, action)


def _leave_at_once(number: int, _: FrameType | None) -> None:
    os._exit(INTERRUPTED if number == signal.SIGINT else ENDED)


def _end(*_: object) -> None:
    """Leave as at any error, so that drafts of files are cleared away."""
    raise SystemExit(ENDED)


def _quieten_libraries() -> None:
    """Keep what libraries say of themselves off the error stream, which holds our sentences."""
    logging.getLogger().addHandler(logging.NullHandler())
    if not sys.warnoptions:
        warnings.simplefilter("ignore")
