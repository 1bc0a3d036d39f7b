"""Commands about one bath, from the first questions to the jar beside it, and their options."""

from __future__ import annotations

from dosing.cli import design, jar, new, plan, recipe, soak

ABOUT = "bath"
COMMANDS = (
    new.COMMAND,
    plan.COMMAND,
    design.COMMAND,
    soak.COMMAND,
    jar.COMMAND,
    recipe.COMMAND,
)
