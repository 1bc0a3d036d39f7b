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
    """To what shall happen, for whom, the shelf, the water, the tub and the foam bath."""
    colour: str = ""
    """Lines for each of the recipe's colours."""


_GUEST = ("alkalinity 95 ppm, hardness 6 dH by drop kit", "120 L, 25 cm deep", "30 mL")
_PEA = "butterfly pea, citric acid"
_KEPT = "preserved = true"
WALKS = (
    Walk("nothing-known", (UNKNOWN,) * 6),
    Walk(
        "foot-bath-very-hard",
        ("blue to purple", "adult", UNKNOWN, "alkalinity 300 ppm by drop kit, hardness 20 dH",
         "foot bath, full", "none"),
    ),
    Walk("child", ("teal to blue", "child, 6 years", _PEA, *_GUEST)),
    Walk(
        "gallons-and-spoons",
        ("blue to violet", "two adults", UNKNOWN, "alkalinity 7 gpg, hardness 9 gpg by strip",
         "40 gal", "2 tbsp"),
    ),
    Walk("softened", (UNKNOWN, "me", _PEA, "softened water", "usual, half full", "40 mL")),
    Walk("hardness-only", ("teal to blue", "adult", _PEA, "hardness 8 dH", "150 x 60 x 25 cm",
                           "none")),
    Walk("gift", (UNKNOWN, "me, a gift", _PEA, *_GUEST), _KEPT),
    Walk("sale-us", (UNKNOWN, "me, for sale in the US", _PEA, *_GUEST), _KEPT),
    Walk("sale-eu", ("green to orange", "me, for sale in the EU", UNKNOWN, *_GUEST), _KEPT),
    Walk("sale-uk", ("blue to pink", "me, for sale in the UK", UNKNOWN, *_GUEST), _KEPT),
)  # fmt: skip


def finished(recipe: str, walk: Walk) -> str:
    """The recipe of `new`, with the lines of the walk in their tables."""
    return recipe.replace("[[colour]]", f"[[colour]]\n{walk.colour}") if walk.colour else recipe


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
