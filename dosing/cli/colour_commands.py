"""Commands about colour, from the petal to the ladder of hues, and their options."""

from __future__ import annotations

from dosing.cli import brew, calibrate, colours

ABOUT = "colour"
COMMANDS = (
    brew.COMMAND,
    colours.COMMAND,
    calibrate.COMMAND,
)
