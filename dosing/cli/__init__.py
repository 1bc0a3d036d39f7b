"""The command line: arguments in, words or JSON out.

Commands import what they need when they run, so that ``huedose --help`` is instant.
"""

from __future__ import annotations


def main() -> None:
    """Run the command line and leave with its exit code."""
    from dosing.cli.app import run

    raise SystemExit(run())
