"""Pigments calibrated from simulated pictures of the photo mat, and how near the truth they come.

Run ``python tests/reference/mat_pictures.py`` to write mat_coverage.csv anew (some ten minutes on
two cores); the tests read that file and count a few pictures themselves. Worlds, pictures and their
errors are those of `camera`; pH is read with a meter, and the light is not named but for a candle.
"""

from __future__ import annotations

from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from functools import partial

import numpy as np
from camera import (
    ADVISED_PH,
    ADVISED_TIMES,
    CAMERAS,
    CANDLE,
    DEPTH_CM,
    LIGHTS,
    PETALS,
    PH,
    Shot,
    advised_world,
    picture,
    world,
)

from indicator.calibration import Series, calibrate
from indicator.mat_photograph import find_mat, mat_colours
from indicator.optics import mat_view
from indicator.pigments import colourant

SEED, PICTURES, FEWER, PROCESSES = 20_000, 200, 20, 2
TURNS = ("neutral base", "anionic base")
"""Forms whose constants lie among the pH values of the glasses: what is told of them is counted."""
BAYER, LAYERED = CAMERAS[:2], CAMERAS[2:]
"""Cameras whose pixels see one colour each, as all telephones' do; and one with three layers.

None of them is among those of which the model's pictures are made (``camera.csv``)."""


@dataclass(frozen=True)
class Outcome:
    """What came of a picture; without a mat, or with too few glasses, all else is empty."""

    found: bool
    strength_off: float | None = None
    """Logarithm of what was found over the truth."""
    glass_off: float | None = None
    """The same over what stood in the glasses, depth and thinning being off."""
    held: bool = False
    turns_off: tuple[float, ...] = ()
    """Of the constants of `TURNS` that were fitted [pH]."""
    turns_held: tuple[bool, ...] = ()


def calibrated(
    seed: int, cameras: Sequence[str], lights: Sequence[str] = LIGHTS, advised: bool = True
) -> Outcome:
    """A world, its picture, and the calibration from it.

    `advised` as `huedose mat` tells, or glasses of one strength from pH 2.1 to 7.
    """
    random = np.random.default_rng([seed, 1])
    truth = advised_world(seed) if advised else world(seed)
    ph, times = (ADVISED_PH, ADVISED_TIMES) if advised else (PH, np.ones(len(PH)))
    which = colourant("butterfly-pea")
    light = lights[int(random.integers(len(lights)))]
    shot = Shot(light, cameras[int(random.integers(len(cameras)))], int(random.integers(2**31)))
    try:
        found = find_mat(picture(truth.absorbance, shot))
    except ValueError:
        return Outcome(False)
    try:
        colours = mat_colours(found, range(len(ph)))
    except ValueError:
        return Outcome(True)
    read = np.array([not why for why in colours.unread])
    if read.sum() < 3:
        return Outcome(True)
    candle = light == CANDLE
    series = Series(
        ph=ph[read],
        values=colours.lab[read],
        dilution=1.0 / (truth.thinned * times[read]),
        kind="photograph",
        ph_by="meter",
        labels=tuple(map(str, np.flatnonzero(read))),
        view=mat_view(DEPTH_CM, CANDLE if candle else "D65"),
        white=colours.white,
        curve=colours.curve,
        light_known=candle,
    )
    fit = calibrate(which, series, petals_percent=PETALS)
    forms = [form.form for form in which.forms]
    turns = [each for each in fit.numbers if each.what == "pka" and each.form in TURNS]
    pka = [float(truth.pka[forms.index(each.form)]) for each in turns]
    off = float(np.log(fit.strength.best / truth.strength))
    return Outcome(
        True,
        off,
        off - float(np.log(truth.off)),
        fit.strength.low <= truth.strength <= fit.strength.high,
        tuple(each.best - true for each, true in zip(turns, pka, strict=True)),
        tuple(each.low <= true <= each.high for each, true in zip(turns, pka, strict=True)),
    )


def counted(name: str, outcomes: Sequence[Outcome]) -> dict[str, object]:
    """A row of the table."""
    told = [each for each in outcomes if each.strength_off is not None]
    off, glass = (
        np.abs([getattr(each, what) for each in told]) for what in ("strength_off", "glass_off")
    )
    first = np.array([each.turns_off[0] for each in told if each.turns_off])
    second = np.array([each.turns_off[1] for each in told if len(each.turns_off) > 1])
    turns_held = [hit for each in told for hit in each.turns_held]
    numbers = {
        "mat_found": np.mean([each.found for each in outcomes]),
        "strength_within_10": np.mean(off < np.log(1.1)),
        "strength_within_20": np.mean(off < np.log(1.2)),
        "glass_within_10": np.mean(glass < np.log(1.1)),
        "first_turn_within_0.2": np.mean(np.abs(first) <= 0.2),
        "second_turn_within_0.2": np.mean(np.abs(second) <= 0.2),
        "strength_held": np.mean([each.held for each in told]),
        "turns_held": np.mean(turns_held),
    }
    start: dict[str, object] = {"pictures": name, "count": len(outcomes), "calibrated": len(told)}
    return start | {key: f"{number:.3f}" for key, number in numbers.items()}


def main() -> None:
    """Write the table."""
    from reference_csv import write_csv

    ways = {
        "any light, Nikon D5100 or telephone": (PICTURES, partial(calibrated, cameras=BAYER)),
        "candle, the same": (FEWER, partial(calibrated, cameras=BAYER, lights=(CANDLE,))),
        "any light, Sigma SD Merrill": (FEWER, partial(calibrated, cameras=LAYERED)),
        "glasses of one strength, pH 2.1 to 7, thinned by measure": (
            FEWER,
            partial(calibrated, cameras=BAYER, advised=False),
        ),
    }
    with ProcessPoolExecutor(PROCESSES) as pool:
        rows = [
            counted(name, list(pool.map(work, range(SEED, SEED + count))))
            for name, (count, work) in ways.items()
        ]
    write_csv(
        "mat_coverage.csv",
        [
            "Butterfly pea calibrated from simulated pictures of the photo mat (mat_pictures.py).",
            "Shares of the pictures: mat found; strength within 10 and 20 % of the liquid's, and"
            " within 10 % of what stood in the glasses (depth is off by 3 %, thinning by 1 %);",
            "constants of the turns at pH 3 and 6 within 0.2; 90 % intervals that hold the truth.",
        ],
        rows,
    )


if __name__ == "__main__":
    main()
