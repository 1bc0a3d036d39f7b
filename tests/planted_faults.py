"""Plant faults in a copy of the code, one at a time, and see whether the unmarked tests notice.

Run by hand, from the root of a clean checkout with the tests installed:

    python tests/planted_faults.py [NUMBER ...]

Each row of ``tests/reference/planted_faults.csv`` is one fault: a file, text that stands in it
once, what it becomes, and the tests that are tried first, which must pass without it. Where they
let it pass, all unmarked tests are run. The exit code is 1 if a fault gets through, or no longer
fits the code.
"""

from __future__ import annotations

import csv
import os
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
FAULTS = ROOT / "tests" / "reference" / "planted_faults.csv"
FEW_FILES = 2


def main(chosen: list[int]) -> int:
    """Try the chosen faults, or all; returns the exit code."""
    with FAULTS.open(encoding="utf-8", newline="") as file:
        faults = list(csv.DictReader(line for line in file if not line.startswith("#")))
    through = []
    with tempfile.TemporaryDirectory() as folder:
        copy = Path(folder) / "checkout"
        subprocess.run(["git", "clone", "-q", str(ROOT), str(copy)], check=True)
        tried = {k: fault for k, fault in enumerate(faults, 1) if not chosen or k in chosen}
        # A test that fails without any fault would seem to catch them all.
        if not _passes(copy, sorted({one for row in tried.values() for one in _first(row)})):
            raise SystemExit("the first tests fail without a fault")
        for number, fault in tried.items():
            caught = _caught(copy, fault)
            print(f"{number:3} {caught:12} {fault['file']}: {fault['what']}", flush=True)
            if caught in ("THROUGH", "MISFIT"):
                through.append(number)
    print(f"{len(through)} of {len(tried)} not caught: {through}")
    return 1 if through else 0


def _first(fault: dict[str, str]) -> list[str]:
    return fault["tests"].split()


def _caught(copy: Path, fault: dict[str, str]) -> str:
    path = copy / fault["file"]
    sound = path.read_text(encoding="utf-8")
    if sound.count(fault["before"]) != 1:
        return "MISFIT"
    path.write_text(sound.replace(fault["before"], fault["after"]), encoding="utf-8")
    try:
        if not _passes(copy, _first(fault)):
            return "first tests"
        return "THROUGH" if _passes(copy, []) else "all tests"
    finally:
        path.write_text(sound, encoding="utf-8")
        for cache in copy.rglob("__pycache__"):
            shutil.rmtree(cache, ignore_errors=True)


def _passes(copy: Path, tests: list[str]) -> bool:
    # Workers that import everything anew cost more than a few files of tests.
    command = [sys.executable, "-m", "pytest", "-q", "-x", "-p", "no:cacheprovider"]
    command += ["-n", "0", *tests] if 0 < len(tests) <= FEW_FILES else tests
    environment = {**os.environ, "PYTHONPATH": str(copy), "PYTHONDONTWRITEBYTECODE": "1"}
    done = subprocess.run(command, cwd=copy, env=environment, capture_output=True)
    if done.returncode not in (0, 1):
        raise SystemExit(done.stdout.decode() + done.stderr.decode())
    return done.returncode == 0


if __name__ == "__main__":
    raise SystemExit(main([int(number) for number in sys.argv[1:]]))
