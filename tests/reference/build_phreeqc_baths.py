"""Writes chemistry_phreeqc_baths.csv and chemistry_phreeqc_doses.csv: baths solved by PHREEQC.

Run ``python tests/reference/build_phreeqc_baths.py``; it needs the PyPI package ``phreeqc``.
"""

from __future__ import annotations

from typing import Any

import compositions
import numpy as np
import phreeqc_runs as phreeqc
from reference_csv import write_csv

BATHS, BATH_SEED = 480, 20260
DOSES_DRAWN, DOSE_SEED = 720, 20261
DOSED_KINDS = ("water", "epsom", "bicarbonate")
"""Baths that hold no acid yet: the ones that a first dose is planned for."""
PH = '-LA("H+")'
NOTHING = 1e-50
"""PHREEQC writes 1e-99 for the molality of a species that cannot form."""

SHARES = {
    "citrate_with_alkali": ("Na(Citrate)-2", "Na2(Citrate)-", "NaH(Citrate)-", "K(Citrate)-2"),
    "citrate_with_hardness": (
        "Ca(Citrate)-",
        "CaH(Citrate)",
        "CaH2(Citrate)+",
        "Mg(Citrate)-",
        "MgH(Citrate)",
        "MgH2(Citrate)+",
    ),
    "tartrate_with_alkali": ("Na(Tartarate)-", "NaH(Tartarate)", "K(Tartarate)-"),
    "tartrate_with_hardness": (
        "Ca(Tartarate)",
        "CaH(Tartarate)+",
        "Mg(Tartarate)",
        "MgH(Tartarate)+",
    ),
    "carbon_with_alkali": ("NaCO3-", "NaHCO3"),
    "carbon_with_hardness": ("CaCO3", "CaHCO3+", "MgCO3", "MgHCO3+"),
}
"""Molalities reported [mol/kg], by the names of minteq.v4.dat."""


def databases() -> dict[str, str]:
    """Column name and database text of each variant."""
    shipped = phreeqc.database_text("minteq.v4.dat")
    davies = phreeqc.with_davies_throughout(shipped)
    unpaired = phreeqc.without_species(davies, phreeqc.is_alkali_pair)
    carbonate = carbonate_functions()
    return {
        "ph_phreeqc": davies,
        "ph_without_alkali_pairs": unpaired,
        "ph_carbonate_functions": phreeqc.with_more(davies, carbonate),
        "ph_both": phreeqc.with_more(unpaired, carbonate),
        "ph_all": phreeqc.with_more(unpaired, carbonate + complexes_measured_since()),
        "ph_as_shipped": shipped,
    }


def carbonate_functions() -> str:
    """The two carbonic acid constants as functions of temperature, taken from phreeqc.dat.

    They are those of Plummer and Busenberg 1982; minteq.v4.dat has an enthalpy only, which is
    0.04 too low in pK1 at 45 °C.
    """
    source = phreeqc.database_text("phreeqc.dat")
    k2 = phreeqc.analytic(source, "CO3-2 + H+ = HCO3-")
    k1k2 = phreeqc.analytic(source, "CO3-2 + 2 H+ = CO2 + H2O")
    return (
        "SOLUTION_SPECIES\n"
        f"H+ + CO3-2 = HCO3-\n -analytic {k2}\n"
        f"2 H+ + CO3-2 = H2CO3\n -analytic {k1k2}\n -gamma 0 0\n"
    )


def complexes_measured_since() -> str:
    """Three complexes of minteq.v4.dat as measured since, or as phreeqc.dat has them.

    MgPO4- is 6.589 in phreeqc.dat, beside its own MgHPO4. CaCit- hardly moves from 18 to 45 °C
    (Singh et al. 1991); from HCit, CaHCit takes -22 kJ/mol
    (J. Food Drug Anal. 26:330, 2018), to which the database's own 3.36 kJ/mol of HCit is added.
    """
    return (
        "Mg+2 + PO4-3 = MgPO4-\n log_k 6.589\n delta_h 12.97 kJ\n"
        "Ca+2 + Citrate-3 = Ca(Citrate)-\n log_k 4.87\n delta_h 0 kJ\n"
        "Ca+2 + Citrate-3 + H+ = CaH(Citrate)\n log_k 9.26\n delta_h -18.64 kJ\n -gamma 0 0\n"
    )


def comment(what: str) -> list[str]:
    """Header of both files."""
    return [
        what,
        f"PHREEQC {phreeqc.version()} (PyPI phreeqc), closed to air, no precipitation, pH by charge"
        " balance on H+; written by build_phreeqc_baths.py.",
        phreeqc.DAVIES_NOTE,
        "ph_phreeqc: minteq.v4+Davies.  ph_without_alkali_pairs: the same without the pairs of Na+"
        " and K+ with anything but sulfate.  ph_carbonate_functions: ph_phreeqc with the carbonic"
        " acid constants of Plummer and Busenberg 1982 (as in phreeqc.dat) in place of an enthalpy."
        "  ph_both: both changes.  ph_all: also MgPO4- of phreeqc.dat and measured enthalpies of"
        " CaCit- and CaHCit (Singh et al. 1991; J. Food Drug Anal. 26:330, 2018)."
        "  ph_as_shipped: minteq.v4.dat unchanged.",
        "kind: what was tipped into the tap water (compositions.py).  Totals in mol per kg water.",
    ]


def inputs(totals: dict[str, compositions.Array], row: int) -> dict[str, float]:
    """Totals of one row by PHREEQC's names."""
    return {phreeqc.MINTEQ_NAMES[name]: float(values[row]) for name, values in totals.items()}


def rounded(
    totals: dict[str, compositions.Array], temperature_c: compositions.Array
) -> tuple[dict[str, compositions.Array], compositions.Array]:
    """Compositions as the CSV will hold them, so that both programs read the same digits."""
    return {
        name: np.array([float(f"{v:.6e}") for v in values]) for name, values in totals.items()
    }, np.round(temperature_c, 2)


def bath_rows() -> list[dict[str, object]]:
    """One row per bath."""
    totals, temperature_c = rounded(*compositions.composition_rows(BATHS, BATH_SEED))
    kinds = compositions.kind_rows(BATHS)
    solutions = [
        phreeqc.solution(row + 1, inputs(totals, row), float(temperature_c[row]))
        for row in range(BATHS)
    ]
    molalities = {
        name: "+".join(f'MOL("{species}")' for species in members)
        for name, members in SHARES.items()
    }
    solved: dict[str, list[dict[str, Any]]] = {
        column: phreeqc.run(text, solutions, {"ph": PH, "ionic_strength": "MU", **molalities})
        for column, text in databases().items()
    }
    rows: list[dict[str, object]] = []
    for row in range(BATHS):
        main = solved["ph_phreeqc"][row]
        rows.append(
            {
                "kind": compositions.KINDS[kinds[row]][0],
                "temperature_c": float(temperature_c[row]),
                **{name: f"{values[row]:.6e}" for name, values in totals.items()},
                **{column: f"{results[row]['ph']:.5f}" for column, results in solved.items()},
                "ionic_strength": f"{main['ionic_strength']:.5e}",
                **{
                    f"m_{name}": f"{main[name] if main[name] > NOTHING else 0.0:.3e}"
                    for name in SHARES
                },
            }
        )
    return rows


def dose_rows() -> list[dict[str, object]]:
    """One row per water and wished pH: the citric acid that brings it there.

    PHREEQC keeps the wished pH and finds the total of citrate that makes the charges balance.
    """
    names = [name for name, _ in compositions.KINDS]
    drawn, drawn_c = compositions.composition_rows(DOSES_DRAWN, DOSE_SEED)
    kinds = compositions.kind_rows(DOSES_DRAWN)
    taken = np.flatnonzero(np.isin(kinds, [names.index(kind) for kind in DOSED_KINDS]))
    totals, temperature_c = rounded(
        {name: values[taken] for name, values in drawn.items()}, drawn_c[taken]
    )
    wished = np.round(np.random.default_rng(DOSE_SEED).uniform(4.0, 6.5, len(taken)), 2)
    variants = databases()
    plain = [
        phreeqc.solution(row + 1, inputs(totals, row), float(temperature_c[row]))
        for row in range(len(taken))
    ]
    before = [result["ph"] for result in phreeqc.run(variants["ph_phreeqc"], plain, {"ph": PH})]
    # A dose below 0.3 pH is a pinch whose relative error says nothing.
    rows = [row for row in range(len(taken)) if before[row] > wished[row] + 0.3]
    dosed = [
        phreeqc.solution(
            row + 1,
            inputs(totals, row),
            float(temperature_c[row]),
            ph=repr(float(wished[row])),
            extra=" Citrate 1e-3 charge",
        )
        for row in rows
    ]
    solved = {
        column.replace("ph_", "citric_"): phreeqc.run(text, dosed, {"citric": 'TOT("Citrate")'})
        for column, text in variants.items()
    }
    return [
        {
            "kind": names[kinds[taken[row]]],
            "temperature_c": float(temperature_c[row]),
            **{
                name: f"{values[row]:.6e}"
                for name, values in totals.items()
                if name not in ("citrate", "tartrate")
            },
            "ph_before": f"{before[row]:.5f}",
            "ph_wished": float(wished[row]),
            **{column: f"{results[n]['citric']:.6e}" for column, results in solved.items()},
        }
        for n, row in enumerate(rows)
    ]


def main() -> None:
    """Write both files."""
    write_csv(
        "chemistry_phreeqc_baths.csv",
        [
            *comment("pH of bath-like solutions."),
            "m_...: molality of citrate, tartrate or inorganic carbon held in pairs with Na+ and K+"
            " (alkali) or Ca and Mg (hardness) in minteq.v4+Davies [mol/kg].",
        ],
        bath_rows(),
    )
    write_csv(
        "chemistry_phreeqc_doses.csv",
        [
            *comment("Citric acid that brings a water to a wished pH [mol/kg water]."),
            "citric_...: the dose by the databases named above.",
        ],
        dose_rows(),
    )


if __name__ == "__main__":
    main()
