"""Commands about waters, one or many."""

from __future__ import annotations

from dosing.cli import sachet, water

ABOUT = "water"
COMMANDS = (water.COMMAND, sachet.COMMAND)
