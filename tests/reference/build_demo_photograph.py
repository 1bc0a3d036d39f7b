"""Writes data/demo/computed_jars.jpg and .csv: jars as a telephone would show them, all computed.

Run ``python tests/reference/build_demo_photograph.py``. No camera was there: the colours are those
of a brew within the library's spreads (`phone_pictures`), whose truth the table's header tells.
"""

from __future__ import annotations

from pathlib import Path

from phone_pictures import PETALS, PH, THINNED, picture, world
from PIL import Image

from indicator.cie import light_power, observer_functions

FOLDER = Path(__file__).resolve().parents[2] / "data" / "demo"
SEED, CAMERA = 5, 7
LAMP, BALANCED = "LED-B3", 0.8
TURN = 1
"""Place of the constant of the turn from violet to blue."""
HEADER = """\
# Where the jars stand in computed_jars.jpg [pixels]. Nobody photographed them: they are computed
# by tests/reference/build_demo_photograph.py. White paper: {white}.
# Thinned {thinned:g} times. True of these jars: strength {strength:.2f} /cm of the brew
# ({petals:g} % of petals), turn at pH {turn:.2f}.
"""


def main() -> None:
    truth, power = world(SEED), light_power(LAMP)
    assert power is not None
    pixels, white, jars = picture(truth.absorbance, power, observer_functions(2), BALANCED, CAMERA)
    image = Image.fromarray(pixels)
    image.save(FOLDER / "computed_jars.jpg", quality=90, comment="Computed, not a photograph")
    header = HEADER.format(
        white=" and ".join(map(str, white)),
        thinned=THINNED,
        strength=truth.strength,
        petals=PETALS,
        turn=truth.pka[TURN],
    )
    rows = [f"{ph:g},{jar}" for ph, jar in zip(PH, jars, strict=True)]
    table = "\n".join(["ph,x,y,width,height", *rows, ""])
    (FOLDER / "computed_jars.csv").write_text(header + table, encoding="utf-8")


if __name__ == "__main__":
    main()
