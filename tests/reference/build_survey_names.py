"""Writes data/colour/survey_names.csv: what a crowd called colours on their screens.

Run ``python tests/reference/build_survey_names.py``; it needs matplotlib, which ships the names.
"""

from __future__ import annotations

import csv
from pathlib import Path

from matplotlib.colors import XKCD_COLORS

TABLE = Path(__file__).resolve().parents[2] / "data" / "colour" / "survey_names.csv"
COMMENT = """\
# What some 200,000 people called colours on their screens: the commonest names, each with the sRGB
# colour that it stood for. Licence: CC0 1.0. Written by tests/reference/build_survey_names.py from
# the copy that ships with matplotlib (matplotlib.colors.XKCD_COLORS); gray is spelt grey. Which
# plain word a name votes for stands in words.csv.
"""


def main() -> None:
    names = {name[5:].replace("gray", "grey"): value for name, value in XKCD_COLORS.items()}
    with TABLE.open("w", encoding="utf-8", newline="") as file:
        file.write(COMMENT)
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(["name", "hex", "source", "confidence"])
        writer.writerows(
            (name, str(value).upper(), "colour-survey-2010", "SEEN")
            for name, value in names.items()
        )
    print(f"{TABLE.name}: {len(names)} names")


if __name__ == "__main__":
    main()
