"""Any recipe that can be written is answered by every command that takes one."""

import random
import re
from collections.abc import Callable
from pathlib import Path

import pytest

Run = Callable[..., tuple[int, str, str]]

LITRES = (2, 8, 30, 90, 150, 250, 600)
ALKALINITIES = (None, 0, 0.2, 0.8, 2, 4, 6, 8)
READ = ("", 'instrument = "meter"', 'instrument = "drop-kit"', "ph = 7.1", 'hardness = "3 mmol/L"')
PIGMENTS = ("butterfly-pea", "red-cabbage", "black-carrot", "roselle", "turmeric", "beet")
POWDERS = ("citric-acid", "cream-of-tartar", "malic-acid", "epsom-salt", "baking-soda", "soda-ash")
BATHERS = (
    'bathers = "adult"',
    'bathers = "child"\nchild_age = "6 years"',
    'bathers = "child"\nchild_age = "18 months"',
    'bathers = "nobody"',
    "",
)
WISHES = ("", 'purpose = "gift"', 'purpose = "sale"\nmarket = "EU"', 'view = "jar"')
TARGETS = ("", 'target = "5.6"', 'target = "pink"', 'target = "#8060A0"')
COMMANDS = (
    ("plan", "--more", "--cautions"),
    ("plan", "--dose", "9 g"),
    ("plan", "--homes"),
    ("soak", "--more"),
    ("soak", "--steps", "6.2, violet, back"),
    ("brew", "--more"),
    ("jar", "--instructions", "--more"),
)


def written(seed: int) -> str:
    """A recipe drawn at random."""
    draw = random.Random(seed)
    lines = [f'[tub]\nvolume = "{draw.choice(LITRES)} L"']
    if (alkalinity := draw.choice(ALKALINITIES)) is not None:
        lines += [f'[water]\nalkalinity = "{alkalinity} meq/L"', draw.choice(READ)]
    lines += [f'[foam_bath]\namount = "{draw.choice(("1 tsp", "40 mL", "1 cup"))}"']
    for pigment in draw.sample(PIGMENTS, draw.choice((0, 1, 1, 2))):
        amount = draw.choice(("20 mL", "300 mL", "900 mL"))
        lines += [f'[[colour]]\npigment = "{pigment}"\namount = "{amount}"\nstrength = "2 %"']
    parts = ", ".join(f"{powder} = 1" for powder in draw.sample(POWDERS, draw.choice((1, 1, 2))))
    lines += [f"[activator]\nparts = {{ {parts} }}", draw.choice(("", 'pouring = "dry"'))]
    lines += ["[wish]", draw.choice(BATHERS), draw.choice(WISHES), draw.choice(TARGETS)]
    return "\n".join(lines)


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(12))
def test_any_recipe_is_answered_in_plain_numbers(seed: int, huedose: Run, tmp_path: Path) -> None:
    recipe = tmp_path / "any.toml"
    recipe.write_text(written(seed), encoding="utf-8")
    for command, *options in COMMANDS:
        code, out, err = huedose(command, recipe, *options)
        assert code in (0, 2, 3)
        assert (err == "") is (code != 2)
        # No number that nobody can read, nor any that is none.
        assert not re.search(r"\bnan\b|\binf\b|None|\de[+-]\d|\{", out), out
        # What forbids and a dose to pour stand together only where giving or selling is forbidden.
        assert code == 3 or not ("POUR" in out and "X stop" in out), out
        assert "Do not pour" not in out or "POUR" not in out, out
