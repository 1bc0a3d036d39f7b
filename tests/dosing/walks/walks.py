"""Ten walks from six answers to a plan; run as a script, it writes what the terminal showed.

What is written is read by a person before it is committed. All inputs are invented.
"""

from __future__ import annotations

import os
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path

HERE = Path(__file__).resolve().parent
UNKNOWN = "don't know"


@dataclass(frozen=True)
class Walk:
    """One walk: the answers, and what is added to the recipe by hand afterwards."""

    name: str
    answers: tuple[str, str, str, str, str, str]
    wish: str = ""
    """Lines for the recipe's wish that nobody is asked for."""
    colour: str = ""
    """Lines for the recipe's colour."""


_GUEST = (
    "120 L",
    "25 cm",
    "alkalinity 95 ppm, hardness 6 dH by drop kit",
    "30 mL",
    "300 mL of 2 %",
)
WALKS = (
    Walk("nothing-known", (UNKNOWN,) * 6),
    Walk(
        "foot-bath-very-hard",
        ("foot bath", "full", "alkalinity 300 ppm by drop kit, hardness 20 dH", "none",
         "40 mL of 2 %", "adult"),
    ),
    Walk("child", (*_GUEST, "child, 6 years")),
    Walk(
        "gallons-and-spoons",
        ("40 gal", "10 in", "alkalinity 7 gpg, hardness 9 gpg by strip", "2 tbsp", "6 g petals",
         "two adults"),
    ),
    Walk("softened", ("usual", "half", "softened water", "40 mL", "250 mL of 2 %", "me")),
    Walk("hardness-only", ("150 x 60 cm", "25 cm", "hardness 8 dH", "none", "8 g", "adult")),
    Walk("gift", (*_GUEST, "adult"), wish='purpose = "gift"', colour="preserved = true"),
    Walk("sale-us", (*_GUEST, "adult"), wish='purpose = "sale"\nmarket = "US"',
         colour="preserved = true"),
    Walk("sale-eu", (*_GUEST, "adult"), wish='purpose = "sale"\nmarket = "EU"',
         colour="preserved = true"),
    Walk("sale-uk", (*_GUEST, "adult"), wish='purpose = "sale"\nmarket = "UK"',
         colour="preserved = true"),
)  # fmt: skip


def finished(recipe: str, walk: Walk) -> str:
    """The recipe of `new`, with the lines of the walk in their tables."""
    for heading, lines in (("[wish]", walk.wish), ("[[colour]]", walk.colour)):
        if lines:
            assert heading in recipe
            recipe = recipe.replace(heading, f"{heading}\n{lines}")
    return recipe


def write_all() -> None:
    """Write what every walk shows in a window of 60 columns."""
    environment = {**os.environ, "COLUMNS": "60", "NO_COLOR": "1"}
    command = [sys.executable, "-c", "from dosing.cli import main; main()"]
    for walk in WALKS:
        recipe = HERE / f"{walk.name}.toml"
        recipe.unlink(missing_ok=True)
        subprocess.run(
            [*command, "new", recipe.name, "--json"], input="\n".join(walk.answers) + "\n",
            text=True, capture_output=True, env=environment, cwd=HERE,
        )  # fmt: skip
        recipe.write_text(finished(recipe.read_text(encoding="utf-8"), walk), encoding="utf-8")
        done = subprocess.run(
            [*command, "plan", recipe.name], text=True, capture_output=True, env=environment,
            cwd=HERE,
        )  # fmt: skip
        (HERE / f"{walk.name}.txt").write_text(done.stdout, encoding="utf-8")
        print(f"{walk.name}: {done.returncode} {done.stderr}")


if __name__ == "__main__":
    write_all()
