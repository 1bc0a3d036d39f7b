"""Writes chemistry_buffers.csv: published buffer recipes as totals, with the pH printed for them.

Run ``python tests/reference/build_buffers.py``; it needs nothing but this repository.

The recipes are volumes of molar solutions, the engine wants moles per kilogram of water. One litre
of a mixed solution holds ``density of water x (1 - sum of c V)`` kilograms of water, with V the
partial molar volume of each solute at 25 °C. A molar volume that is wrong by 10 cm3/mol moves the
molality by 0.1 % at 0.1 mol/L and the pH by less than 0.001.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from reference_csv import write_csv

WATER_KG_L = 0.99705
"""Density of water at 25 °C."""

SOLUTES: Mapping[str, tuple[float, Mapping[str, float]]] = {
    "KH phthalate": (125.0, {"K": 1, "phthalate": 1}),
    "KH2PO4": (38.0, {"K": 1, "phosphate": 1}),
    "Na2HPO4": (8.0, {"Na": 2, "phosphate": 1}),
    "NaOH": (-5.0, {"Na": 1}),
    "citric acid": (113.0, {"citrate": 1}),
    "trisodium citrate": (70.0, {"Na": 3, "citrate": 1}),
}
"""Partial molar volume at 25 °C [cm3/mol] (handbook, from memory, rounded) and content."""

# Printed pH: mL of 0.1 M NaOH added to 50 mL of 0.1 M salt, then made up to 100 mL.
PHTHALATE = """4.1 1.3  4.2 3.0  4.3 4.7  4.4 6.6  4.5 8.7  4.6 11.1  4.7 13.6  4.8 16.5  4.9 19.4
5.0 22.6  5.1 25.5  5.2 28.8  5.3 31.6  5.4 34.1  5.5 36.6  5.6 38.8  5.7 40.6  5.8 42.3
5.9 43.7"""
PHOSPHATE = """5.8 3.6  5.9 4.6  6.0 5.6  6.1 6.8  6.2 8.1  6.3 9.7  6.4 11.6  6.5 13.9  6.6 16.4
6.7 19.3  6.8 22.4  6.9 25.9  7.0 29.1  7.1 32.1  7.2 34.7  7.3 37.0  7.4 39.1  7.5 41.1  7.6 42.8
7.7 44.2  7.8 45.3  7.9 46.1  8.0 46.7"""
# Printed pH: mL of 0.1 M citric acid and of 0.1 M trisodium citrate, 100 mL in all.
CITRATE = """3.0 82 18  3.2 77.5 22.5  3.4 73 27  3.6 68.5 31.5  3.8 63.5 36.5  4.0 59 41
4.2 54 46  4.4 49.5 50.5  4.6 44.5 55.5  4.8 40 60  5.0 35 65  5.2 30.5 69.5  5.4 25.5 74.5
5.6 21 79  5.8 16 84  6.0 11.5 88.5  6.2 8 92"""
# Printed pH: mL of 0.2 M Na2HPO4 and of 0.1 M citric acid, 20 mL in all.
CITRATE_PHOSPHATE = """2.2 0.40 19.60  2.4 1.24 18.76  2.6 2.18 17.82  2.8 3.17 16.83
3.0 4.11 15.89  3.2 4.94 15.06  3.4 5.70 14.30  3.6 6.44 13.56  3.8 7.10 12.90  4.0 7.71 12.29
4.2 8.28 11.72  4.4 8.82 11.18  4.6 9.35 10.65  4.8 9.86 10.14  5.0 10.30 9.70  5.2 10.72 9.28
5.4 11.15 8.85  5.6 11.60 8.40  5.8 12.09 7.91  6.0 12.63 7.37  6.2 13.22 6.78  6.4 13.85 6.15
6.6 14.55 5.45  6.8 15.45 4.55  7.0 16.47 3.53  7.2 17.39 2.61  7.4 18.17 1.83  7.6 18.73 1.27
7.8 19.15 0.85  8.0 19.45 0.55"""

BOWER_BATES = (
    "Bower and Bates 1955, J. Res. NBS 55:197; Bates and Bower 1956, Anal. Chem. 28:1322"
    " (from memory, unverified)"
)
MCILVAINE = "McIlvaine 1921, J. Biol. Chem. 49:183, doi 10.1016/S0021-9258(18)86000-8"
COMPONENTS = ("Na", "K", "phosphate", "citrate", "phthalate")


def numbers(text: str, width: int) -> Iterator[tuple[float, ...]]:
    """A printed table as rows of ``width`` numbers."""
    flat = [float(word) for word in text.split()]
    for start in range(0, len(flat), width):
        yield tuple(flat[start : start + width])


def row(
    table: str,
    printed_ph: float,
    scale_shift: float,
    molarity: Mapping[str, float],
    tolerance: float,
    why: str,
    source: str,
    confidence: str,
) -> dict[str, object]:
    """One buffer as totals in mol/kg water; ``molarity`` is in mol per litre of solution."""
    taken = sum(c * SOLUTES[solute][0] / 1000.0 for solute, c in molarity.items())
    water = WATER_KG_L * (1.0 - taken)
    totals = dict.fromkeys(COMPONENTS, 0.0)
    for solute, c in molarity.items():
        for component, count in SOLUTES[solute][1].items():
            totals[component] += count * c / water
    return {
        "table": table,
        "temperature_c": 25,
        **{name: f"{total:.6g}" for name, total in totals.items()},
        "printed_ph": printed_ph,
        "ph": round(printed_ph + scale_shift, 3),
        "tolerance": tolerance,
        "why": why,
        "source": source,
        "place": f"pH {printed_ph}",
        "confidence": confidence,
    }


def buffer_rows() -> Iterator[dict[str, object]]:
    """Every buffer of the four tables."""
    gate = "acceptance gate"
    for name, text, salt in (
        ("phthalate", PHTHALATE, "KH phthalate"),
        ("phosphate", PHOSPHATE, "KH2PO4"),
    ):
        for ph, base in numbers(text, 2):
            mixed = {salt: 0.05, "NaOH": 0.1 * base / 100.0}
            yield row(name, ph, 0.0, mixed, 0.035, gate, BOWER_BATES, "MEMORY")
    for ph, acid, salt_ml in numbers(CITRATE, 3):
        mixed = {"citric acid": acid / 1000.0, "trisodium citrate": salt_ml / 1000.0}
        known = ph == 5.4
        source = "0.1 M citric acid and trisodium citrate, suppliers' buffer reference"
        source += "" if known else " (from memory, unverified)"
        confidence = "SEEN" if known else "MEMORY"
        yield row("citrate", ph, 0.0, mixed, 0.09, gate, source, confidence)
    for ph, phosphate, acid in numbers(CITRATE_PHOSPHATE, 3):
        mixed = {"Na2HPO4": 0.2 * phosphate / 20.0, "citric acid": 0.1 * acid / 20.0}
        why = f"{gate} where I <= 0.3; reported above"
        yield row("citrate-phosphate", ph, 0.04, mixed, 0.15, why, MCILVAINE, "SEEN")


VOLUMES = ", ".join(f"{solute} {volume:g}" for solute, (volume, _) in SOLUTES.items())
COMMENT = f"""\
Published buffer recipes as totals [mol per kg of water], and the pH printed for them.
Written by build_buffers.py.  Recipes are in mol/L; one litre holds {WATER_KG_L} (1 - sum c V) kg
of water, V in cm3/mol: {VOLUMES} (handbook, from memory, rounded).
ph: on the activity scale of the pH standards.  citrate-phosphate (1921) is printed on Sorensen's
old scale, which reads about 0.04 lower (Bates 1973, Determination of pH; from memory, unverified),
so ph = printed_ph + 0.04; its temperature is not printed in the copies seen, a later copy says
25 C.  The other tables: 25 C (citrate: room temperature).
Left out, with the reason: citric acid and trisodium citrate after Gomori 1955 (0.15 to 0.38 off
any thermodynamic model, and one row does not add up to its volume); bicarbonate with NaOH and
borax with HCl of Bates and Bower (no copy seen, and what is remembered disagrees with the pH
standards by 0.07 to 0.08); bicarbonate-carbonate of Delory and King 1945 (no copy seen, uneven
steps of up to 0.3)."""


def main() -> None:
    """Write the file."""
    write_csv("chemistry_buffers.csv", COMMENT.splitlines(), list(buffer_rows()))


if __name__ == "__main__":
    main()
