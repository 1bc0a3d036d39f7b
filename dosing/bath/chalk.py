"""Chalk that may fall out of a tub: the pH and the colour with none of it out and with all of it.

Calcite far above saturation falls out within minutes, within days or not at all; nobody can tell
which. So both ends are given, and cautions look at both.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

from dosing.bath.mixed import SolvedBath
from dosing.equilibrium import CALCITE, Array
from dosing.ingredients.trade_values import typical
from indicator.appearance import SeenColour
from indicator.notes import Note, Value
from indicator.optics import View, tub_view


@dataclass(frozen=True)
class Chalked:
    """A tub out of which all excess calcite has fallen, stirred up in the water."""

    moment: str
    """``after`` or ``after-airing`` (the gas has left)."""
    ph: float
    colour: SeenColour
    """With the cloud that the chalk makes."""
    grams: float
    """Chalk in the whole tub [g]."""
    cloud: str
    """Key in ``data/colour/clouds.csv``."""


def may_fall(solved: SolvedBath) -> NDArray[np.bool_]:
    """Where calcite is so far above saturation that it may fall out."""
    return np.asarray(solved.equilibrium.saturation_of(CALCITE) > typical("chalk_index").value)


def settled_ph(solved: SolvedBath, pco2_ppm: ArrayLike | None = None) -> Array:
    """PH with all excess calcite out, where it may fall; elsewhere the pH as it is.

    Parameters
    ----------
    solved : SolvedBath
        Any batch shape.
    pco2_ppm : array_like, optional
        Carbon dioxide of the air that it was solved with [ppm]; one for each or one for all.

    Returns
    -------
    numpy.ndarray
        pH, the batch shape.
    """
    ph = np.array(solved.ph, dtype=np.float64)
    over = may_fall(solved)

    def part(batch: ArrayLike) -> Array:
        return np.broadcast_to(np.asarray(batch, dtype=np.float64), over.shape)[over]

    if np.any(over):
        air = None if pco2_ppm is None else part(pco2_ppm)
        ph[over] = solved.bath.each(part).solve(pco2_ppm=air, chalk=True).ph
    return ph


def chalked(
    moment: str, solved: SolvedBath, view: View, pco2_ppm: ArrayLike | None = None
) -> Chalked | None:
    """PH, colour and mass of chalk of one tub with all excess calcite out.

    Parameters
    ----------
    moment : str
        As in `Chalked`.
    solved : SolvedBath
        The tub without solids, batch shape ().
    view : View
        How it is looked at.
    pco2_ppm : array_like, optional
        Carbon dioxide of the air that it was solved with [ppm].

    Returns
    -------
    Chalked or None
        None where calcite is not far above saturation (`may_fall`).
    """
    if not may_fall(solved):
        return None
    settled = solved.bath.solve(pco2_ppm=pco2_ppm, chalk=True)
    g_l = float(settled.chalk_g_l)
    return Chalked(
        moment=moment,
        ph=float(settled.ph),
        colour=settled.seen(clouded(view, g_l)),
        grams=g_l * float(solved.bath.volume_l),
        cloud=cloud_of(g_l),
    )


def chalk_of(
    closed: SolvedBath, opened: SolvedBath, view: View, pco2_ppm: ArrayLike
) -> tuple[Chalked, ...]:
    """Chalk that may fall out of one tub: right after the pour, and at rest with the air.

    Parameters
    ----------
    closed : SolvedBath
        The tub just poured, batch shape ().
    opened : SolvedBath
        The same at rest with the air.
    view : View
        How it is looked at.
    pco2_ppm : array_like
        Carbon dioxide of that air [ppm].

    Returns
    -------
    tuple of Chalked
        Those of the two moments at which it may fall.
    """
    both = (chalked("after", closed, view), chalked("after-airing", opened, view, pco2_ppm))
    return tuple(chalk for chalk in both if chalk is not None)


def chalk_note(chalk: Sequence[Chalked], clear_ph: Iterable[float]) -> Note | None:
    """Note on chalk that would be seen; None where there is so little or none.

    Parameters
    ----------
    chalk : sequence of Chalked
        From `chalk_of`.
    clear_ph : iterable of float
        PH of the same tub with none of it out, at its moments.

    Returns
    -------
    Note or None
        With its mass [g], its cloud and both ends of the pH.
    """
    seen = [fallen for fallen in chalk if fallen.cloud != "clear"]
    if not seen:
        return None
    most = max(seen, key=lambda fallen: fallen.grams)
    values: dict[str, Value] = {
        "grams": most.grams,
        "cloud": most.cloud,
        "name": str(most.colour.name),
        "low": min(fallen.ph for fallen in seen),
        "high": max(clear_ph),
    }
    return Note("warn.bath.chalk", values)


def cloud_of(chalk_g_l: float) -> str:
    """Cloudiness of water with so much chalk [g/L]: a key of ``data/colour/clouds.csv``."""
    if chalk_g_l < typical("chalk_hazy").value:
        return "clear"
    return "hazy" if chalk_g_l < typical("chalk_milky").value else "milky"


def clouded(view: View, chalk_g_l: float) -> View:
    """View through a cloud of chalk, or through the tub's own cloud if that is thicker.

    Parameters
    ----------
    view : View
        How the tub is looked at; a small vessel is left as it is.
    chalk_g_l : float
        Chalk that is stirred up [g/L].

    Returns
    -------
    View
        With the larger scattering of the two [1/cm].
    """
    if view.kind != "tub":
        return view
    cloud = tub_view(view.path_cm, view.light, cloud=cloud_of(chalk_g_l)).scattering_per_cm
    return replace(view, scattering_per_cm=max(view.scattering_per_cm, cloud))
