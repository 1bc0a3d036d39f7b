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
    import sys

    from dosing.cli.output import to_error
    from dosing.cli.session import check_free
    from dosing.equilibrium import species_names
    from dosing.recipe import solutions
    from dosing.recipe.quantities import InputError
    from dosing.words.documents import write_json
    from indicator.files import whole_file
    from indicator.notes import sentence

    if list_species:
        names = tuple(f"{name}_mol_kg" for name in species_names())
        if as_json:
            return write_json(solutions.SpeciesDocument(names))
        sys.stdout.write("".join(f"{name}\n" for name in names))
        return None
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
    if output is not None:
        with whole_file(output) as draft, draft.open("w", encoding="utf-8", newline="") as stream:
            solutions.write(stream, table)
    if as_json:
        return write_json(solutions.document(table, warnings))
    if output is None:
        solutions.write(sys.stdout, table)
    for warning in warnings:
        to_error(sentence(warning))
    return None


COMMAND = options.Command(equilibrium, "help.equilibrium")
