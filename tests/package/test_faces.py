"""The packages' faces: short, complete, and light to import."""

from __future__ import annotations

import subprocess
import sys

import pytest

import dosing
import indicator

HEAVY = (
    "colour",
    "matplotlib",
    "cv2",
    "segno",
    "pint",
    "pydantic",
    "scipy.optimize",
    "scipy.stats",
)


@pytest.mark.parametrize("package", [dosing, indicator])
def test_every_name_of_the_face_exists(package: object) -> None:
    names = package.__all__  # type: ignore[attr-defined]  # a module
    assert 8 <= len(names) <= 16
    for name in names:
        assert getattr(package, name) is not None
    with pytest.raises(AttributeError, match="has no name 'nothing'"):
        package.nothing  # type: ignore[attr-defined]  # noqa: B018  # the lookup is the test


@pytest.mark.parametrize(
    ("code", "banned"),
    [
        ("import indicator, dosing", HEAVY),
        ("import dosing.plan.answer, dosing.equilibrium, indicator.appearance", HEAVY),
        (
            "import sys; sys.argv = ['huedose', 'plan', '--json']; from dosing.cli import main\n"
            "try: main()\nexcept SystemExit: pass",
            ("colour", "matplotlib", "cv2", "scipy.special", "scipy.linalg"),
        ),
        (
            "import sys; sys.argv = ['huedose', '--help']; from dosing.cli import main\n"
            "try: main()\nexcept SystemExit: pass",
            (*HEAVY, "numpy"),
        ),
    ],
    ids=["import", "core", "plan", "help"],
)
def test_heavy_modules_stay_out(code: str, banned: tuple[str, ...]) -> None:
    probe = f"{code}\nimport sys\nprint('LOADED', *(m for m in {banned!r} if m in sys.modules))"
    done = subprocess.run(
        [sys.executable, "-c", probe], capture_output=True, text=True, check=True, timeout=60
    )
    assert done.stdout.rstrip().splitlines()[-1].strip() == "LOADED"
