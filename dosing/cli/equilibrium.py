"""``equilibrium``: a table of solutions in, the same table with pH and species out."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

from dosing.cli import options
from indicator.notes import say


def equilibrium(
    cases: Annotated[Path | None, options.argument("cases")] = None,
    output: Annotated[Path | None, options.usual("output", "-o", "--output")] = None,
    open_air: Annotated[bool, options.usual("open-air", "--open-air")] = False,
    pco2_ppm: Annotated[float | None, options.usual("pco2", "--pco2")] = None,
    species: Annotated[bool, options.usual("species", "--species")] = False,
    list_species: Annotated[bool, options.usual("list-species", "--list-species")] = False,
    as_json: options.Json = False,
) -> None:
    """PH and species of any number of solutions."""
    from dosing.cli import solutions
    from dosing.cli.session import check_free
    from dosing.recipe.quantities import InputError

    if list_species:
        return solutions.show_species(as_json=as_json)
    if cases is None:
        raise InputError(say("cli.no-cases"), "cases")
    if pco2_ppm is not None and not (open_air and 0 <= pco2_ppm <= 1e6):
        code = "cli.pco2-range" if open_air else "cli.pco2-alone"
        raise InputError(say(code, {"value": pco2_ppm}), "pco2", pco2_ppm)
    if output is not None:
        if not output.parent.is_dir():
            raise InputError(say("cli.output-folder", {"file": str(output)}), "output")
        check_free(output, "output")
    table, warnings = solutions.solved(
        solutions.read(cases), open_air=open_air, pco2_ppm=pco2_ppm, species=species
    )
    return solutions.show(table, warnings, output, as_json=as_json)


COMMAND = options.Command(equilibrium, "help.equilibrium")
