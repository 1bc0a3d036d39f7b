"""The worked stories in ``notebooks/``: each runs, has no logic, and no outputs."""

from __future__ import annotations

import ast
import json
import os
import re
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path
from time import monotonic
from typing import Any

import pytest

from dosing.pictures.paper import GROUND, INK

FOLDER = Path(__file__).resolve().parents[1] / "notebooks"
NOTEBOOKS = sorted(FOLDER.glob("*.ipynb"))
LONGEST_S = 60.0
LARGEST_BYTES = 20_000
LOGIC = (
    ast.FunctionDef, ast.AsyncFunctionDef, ast.ClassDef, ast.Lambda, ast.While, ast.If, ast.IfExp,
    ast.Try, ast.Match, ast.Assert,
)  # fmt: skip


def cells(path: Path) -> list[dict[str, Any]]:
    written = json.loads(path.read_text(encoding="utf-8"))
    assert (written["nbformat"], written["nbformat_minor"]) == (4, 5)
    whole: list[dict[str, Any]] = written["cells"]
    return whole


def text(cell: dict[str, Any]) -> str:
    source = cell["source"]
    return source if isinstance(source, str) else "".join(source)


def code(path: Path) -> ast.Module:
    """Code of a notebook without what only the notebook's own shell reads."""
    sources = [text(cell) for cell in cells(path) if cell["cell_type"] == "code"]
    lines = "\n".join(sources).splitlines()
    return ast.parse("\n".join(line for line in lines if not line.startswith("%")))


each = pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda path: path.stem)


def test_there_are_the_eight_stories() -> None:
    assert [path.stem[0] for path in NOTEBOOKS] == list("12345678")


@each
def test_no_outputs_are_committed(path: Path) -> None:
    run = [cell for cell in cells(path) if cell["cell_type"] == "code"]
    assert all(cell["outputs"] == [] and cell["execution_count"] is None for cell in run)
    assert path.stat().st_size <= LARGEST_BYTES


@each
def test_a_story_has_a_title_and_a_closing_sentence(path: Path) -> None:
    first, *_, last = cells(path)
    assert first["cell_type"] == last["cell_type"] == "markdown"
    assert re.match(r"# [A-Z][^\n]+\n\n", text(first))
    assert re.fullmatch(r"\*\*In one sentence:\*\* [^.]+\.", text(last))


@each
def test_a_story_has_no_logic_of_its_own(path: Path) -> None:
    own = [node for node in ast.walk(code(path)) if isinstance(node, LOGIC)]
    assert [ast.unparse(node) for node in own] == []


def test_figures_of_stories_are_drawn_on_the_paper_of_all_pictures() -> None:
    from matplotlib import rc_params_from_file

    style = rc_params_from_file(FOLDER / "calm.mplstyle", use_default_template=False)
    for ground in ("figure.facecolor", "axes.facecolor", "savefig.facecolor"):
        assert style[ground] == GROUND
    for ink in ("text.color", "axes.edgecolor", "axes.labelcolor", "xtick.color", "ytick.color"):
        assert style[ink] == INK


@pytest.fixture
def kernels(monkeypatch: pytest.MonkeyPatch) -> Iterator[Any]:
    """Maker of kernels of the interpreter that runs the tests; none need be installed."""
    from jupyter_client.kernelspec import KernelSpecManager
    from jupyter_client.manager import AsyncKernelManager

    # Names of sockets are short, so the usual folder of a test is too deep.
    with tempfile.TemporaryDirectory(prefix="nb") as home:
        for name in ("JUPYTER_RUNTIME_DIR", "JUPYTER_CONFIG_DIR", "IPYTHONDIR", "HUEDOSE_HOME"):
            monkeypatch.setenv(name, str(Path(home) / name[:4]))
        folder = Path(home) / "kernels"
        (folder / "here").mkdir(parents=True)
        start = [sys.executable, "-m", "ipykernel_launcher", "-f", "{connection_file}"]
        spec = {"argv": start, "display_name": "here", "language": "python"}
        (folder / "here" / "kernel.json").write_text(json.dumps(spec), encoding="utf-8")
        known = KernelSpecManager(kernel_dirs=[str(folder)])
        # Files for sockets where there are such: no two kernels meet at one port.
        sockets = {"transport": "ipc", "ip": f"{home}/at"} if os.name == "posix" else {}
        yield AsyncKernelManager(kernel_name="here", kernel_spec_manager=known, **sockets)


@pytest.mark.slow
@each
def test_a_story_runs(path: Path, kernels: Any) -> None:
    from nbclient import NotebookClient
    from nbformat import reads

    end = monotonic() + LONGEST_S
    story: Any = reads(path.read_text(encoding="utf-8"), 4)  # type: ignore[no-untyped-call]
    client = NotebookClient(
        story,
        km=kernels,
        timeout_func=lambda cell: max(int(end - monotonic()), 1),
        resources={"metadata": {"path": str(FOLDER)}},
    )
    # A cell that fails, or takes longer than is left, raises what it printed.
    client.execute(cleanup_kc=True)
    outputs = [part for cell in story.cells for part in cell.get("outputs", [])]
    assert not [part for part in outputs if part.output_type == "error"]
    assert not [part.text for part in outputs if part.get("name") == "stderr"]
    assert any("image/png" in part.get("data", {}) for part in outputs)
