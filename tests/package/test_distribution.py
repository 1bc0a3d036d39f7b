"""The three ways to install, each in a clean environment and run from another folder."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import tarfile
import venv
import zipfile
from pathlib import Path

import pytest

pytestmark = pytest.mark.package

ROOT = Path(__file__).resolve().parents[2]
PROBE = (
    "import indicator.tables as t, dosing, pathlib;"
    "assert t.data_root().joinpath('text', 'en.toml').is_file();"
    "print(pathlib.Path(dosing.__file__).resolve().parent)"
)


def run(*command: str | Path, cwd: Path) -> str:
    environment = {k: v for k, v in os.environ.items() if not k.startswith("PYTHON")}
    done = subprocess.run(
        [str(part) for part in command],
        cwd=cwd,
        env=environment,
        capture_output=True,
        text=True,
        check=False,
        timeout=900,
    )
    assert done.returncode == 0, f"{command}\n{done.stdout}\n{done.stderr}"
    return done.stdout


@pytest.fixture(scope="module")
def built(tmp_path_factory: pytest.TempPathFactory) -> Path:
    out = tmp_path_factory.mktemp("dist")
    run(sys.executable, "-m", "build", "--no-isolation", "--outdir", out, ROOT, cwd=out)
    return out


def only(folder: Path, pattern: str) -> Path:
    (found,) = folder.glob(pattern)
    return found


def test_wheel_carries_data_types_and_licence(built: Path) -> None:
    names = zipfile.ZipFile(only(built, "*.whl")).namelist()
    assert "indicator/data/text/en.toml" in names
    assert "indicator/data/equilibrium/acids.csv" in names
    assert "indicator/py.typed" in names
    assert "dosing/py.typed" in names
    assert any(name.endswith("licenses/LICENSE") for name in names)
    assert not any(name.startswith(("tests/", "data/")) for name in names)


def test_sdist_can_run_its_own_tests(built: Path) -> None:
    with tarfile.open(only(built, "*.tar.gz")) as archive:
        names = archive.getnames()
    for wanted in ("data/text/en.toml", "tests/package/test_distribution.py", "README.md"):
        assert any(name.endswith(wanted) for name in names), wanted


@pytest.mark.parametrize("way", ["wheel", "sdist", "editable"])
def test_installed_command_runs_from_another_folder(way: str, built: Path, tmp_path: Path) -> None:
    venv.create(tmp_path / "env", with_pip=True)
    python = tmp_path / "env" / "bin" / "python"
    targets: dict[str, list[str | Path]] = {
        "wheel": [only(built, "*.whl")],
        "sdist": [only(built, "*.tar.gz")],
        "editable": ["--editable", ROOT],
    }
    target = targets[way]
    run(python, "-m", "pip", "install", "-q", *target, cwd=tmp_path)
    elsewhere = tmp_path / "elsewhere"
    elsewhere.mkdir()
    run(python, "-c", PROBE, cwd=elsewhere)
    plan = json.loads(run(python.parent / "huedose", "plan", "--json", cwd=elsewhere))
    assert plan["reached"] is True
    assert plan["dose_g"]["best"] > 0
