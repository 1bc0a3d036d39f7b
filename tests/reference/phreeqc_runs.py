"""Asks PHREEQC (PyPI package ``phreeqc``) for the pH of solutions; used by the build scripts.

PHREEQC, Parkhurst and Appelo 2013, USGS Techniques and Methods 6-A43, is a public-domain program
of the US Geological Survey. It is needed only to write the CSV files again, never by the tests.
"""

from __future__ import annotations

import importlib.resources
import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import Any

from phreeqc import Phreeqc

MINTEQ_NAMES = {
    "Na": "Na",
    "K": "K",
    "Ca": "Ca",
    "Mg": "Mg",
    "Cl": "Cl",
    "F": "F",
    "NO3": "N(5)",
    "SO4": "S(6)",
    "C": "C(4)",
    "phosphate": "P",
    "borate": "B",
    "citrate": "Citrate",
    "tartrate": "Tartarate",
    "phthalate": "Phthalate",
}
"""Our components as minteq.v4.dat calls them (it spells tartrate "Tartarate")."""

DAVIES_NOTE = (
    "minteq.v4+Davies: the constants of minteq.v4.dat with every -gamma line removed, so that all"
    " ions follow the Davies equation (0.3 I), and -gamma 0 0 given to uncharged species, so that"
    " their activity coefficient is 1 (PHREEQC would otherwise take log gamma = 0.1 I). As shipped"
    " the organic species carry -gamma 0 0, which for an ion is the limiting law."
)


def version() -> str:
    """Of PHREEQC, as it calls itself."""
    return str(Phreeqc.GetVersionString())


def database_text(name: str) -> str:
    """Text of a database that comes with the package."""
    folder = importlib.resources.files("phreeqc") / "databases"
    return (folder / name).read_text(encoding="latin-1")


def _equation(line: str) -> str | None:
    """A dissolved species' equation, stripped, or None for any other line."""
    text = line.split("#")[0].strip()
    if " = " not in text or text.startswith("-"):
        return None
    return text


def _defined_species(equation: str) -> str:
    """The species that an equation defines: the first on its right-hand side."""
    return equation.split(" = ")[1].split(" + ")[0].split()[-1]


def _blocks(text: str) -> Iterable[list[str]]:
    """Lines of a database, an equation together with the lines that belong to it.

    Only the part before PHASES (dissolved species) is cut at equations; the rest is one block.
    """
    block: list[str] = []
    lines = text.splitlines()
    end = next((i for i, line in enumerate(lines) if line.strip() == "PHASES"), len(lines))
    for line in lines[:end]:
        keyword = re.fullmatch(r"[A-Z_]{4,}", line.strip()) is not None
        if (_equation(line) or keyword) and block:
            yield block
            block = []
        block.append(line)
    yield block
    yield lines[end:]


def with_davies_throughout(text: str) -> str:
    """The same database with the Davies equation for every ion and γ = 1 for the uncharged."""
    out: list[str] = []
    for block in _blocks(text):
        equation = _equation(block[0])
        if equation is None:
            out += block
            continue
        out += [line for line in block if not line.strip().startswith("-gamma")]
        species = _defined_species(equation)
        if species not in ("H2O", "e-") and not re.search(r"[+-]\d*$", species):
            out.append("\t-gamma 0 0")
    return "\n".join(out) + "\n"


def without_species(text: str, drop: Callable[[str], bool]) -> str:
    """The same database without the species whose equation ``drop`` picks out."""
    out: list[str] = []
    for block in _blocks(text):
        equation = _equation(block[0])
        if equation is None or not drop(equation):
            out += block
    return "\n".join(out) + "\n"


def with_more(text: str, definitions: str) -> str:
    """The same database with further definitions, which replace those of the same species.

    They go before the solids: PHREEQC reads no further than the END of a database.
    """
    return text.replace("\nPHASES\n", f"\n{definitions}PHASES\n", 1)


def is_alkali_pair(equation: str) -> bool:
    """Whether the species pairs Na+ or K+ with anything but sulfate."""
    left, _ = equation.split(" = ")
    reactants = {re.sub(r"^\d+ ", "", term.strip()) for term in left.split(" + ")}
    return bool(reactants & {"Na+", "K+"}) and len(reactants) > 1 and "SO4-2" not in reactants


def analytic(text: str, equation: str) -> str:
    """Coefficients of log K(T) that a database gives for an equation, as they stand there."""
    for block in _blocks(text):
        if _equation(block[0]) == equation:
            for line in block:
                if match := re.match(r"\s*-analytic\s+([^#]*)", line):
                    return match[1].strip()
    raise ValueError(f"equation is {equation!r}; the database has no -analytic for it")


def solution(
    number: int,
    totals: Mapping[str, float],
    temperature_c: float,
    *,
    ph: str = "7 charge",
    extra: str = "",
) -> str:
    """Input of one solution; totals by the database's own element names [mol/kg water]."""
    lines = [f"SOLUTION {number}", " units mol/kgw", f" temp {temperature_c!r}", f" pH {ph}"]
    lines += [f" {element} {total!r}" for element, total in totals.items() if total > 0]
    return "\n".join([*lines, extra]) + "\n"


def run(database: str, solutions: Sequence[str], punch: Mapping[str, str]) -> list[dict[str, Any]]:
    """Solve solutions and report Basic expressions.

    Parameters
    ----------
    database : str
        Text of the database.
    solutions : sequence of str
        From `solution`.
    punch : mapping of str to str
        Heading and Basic expression of each quantity reported, for instance
        ``{"ph": '-LA("H+")'}``.

    Raises
    ------
    RuntimeError
        With PHREEQC's own message if a database or a solution does not run.
    """
    program = Phreeqc()
    program.SetErrorStringOn(True)
    if program.LoadDatabaseString(database):
        raise RuntimeError(program.GetErrorString())
    basic = "\n".join(f" {10 * (n + 1)} PUNCH {e}" for n, e in enumerate(punch.values()))
    settings = (
        "KNOBS\n -convergence_tolerance 1e-12\n -iterations 400\n"
        "SELECTED_OUTPUT\n -reset false\n -high_precision true\n"
        f"USER_PUNCH\n -headings {' '.join(punch)}\n -start\n{basic}\n -end\n"
    )
    if program.RunString(settings + "".join(solutions) + "END\n"):
        raise RuntimeError(program.GetErrorString())
    table = program.GetSelectedOutput()
    return [dict(zip(table, row, strict=True)) for row in zip(*table.values(), strict=True)]
