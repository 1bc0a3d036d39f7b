"""The command line: arguments in, words or JSON out.

Commands import what they need when they run, so that ``huedose --help`` is instant.
"""

from __future__ import annotations

import os

ONE_THREAD = ("OPENBLAS_NUM_THREADS", "1")
"""Products of small matrices are faster on one thread, several times so on a busy machine."""


def main() -> None:
    """Run the command line and leave with its exit code."""
    # Read when numpy is loaded, which nothing has done yet.
    os.environ.setdefault(*ONE_THREAD)
    from dosing.cli.app import run

    raise SystemExit(run())
