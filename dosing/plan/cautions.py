"""Cautions: what may go wrong on skin, near eyes and in a shop, each with its level and source.

Levels are ``ok``, ``mind``, ``justify`` (needs a written reason) and ``stop``. Limits are data;
this room knows only when each of them applies.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cache

import numpy as np
from numpy.typing import ArrayLike, NDArray

from dosing.bath.inputs import BATHERS, WORDS, check_bathers
from dosing.bath.jugs import Jugs
from dosing.ingredients.powders import powder
from dosing.ingredients.trade_values import typical
from dosing.ingredients.water import Contradiction
from indicator.accepted import one_of, reason
from indicator.notes import Note, Value, say
from indicator.pigments import Colourant, ColourantLike, colourant
from indicator.tables import DataError, citation, read_table

Array = NDArray[np.float64]

NEUTRAL_PH = 7.0
LEVELS = ("ok", "mind", "justify", "stop")
_METALS = "trade/metals_and_colours.csv"
GIVEN = ("gift", "sale")
"""Purposes in which somebody else pours."""
OF_THE_OWN_TUB = ("hot-water", "cold-water", "water-contradicts")
"""Cautions about the maker's own water, which nobody else has."""


@dataclass(frozen=True)
class Caution:
    """One caution of a plan."""

    level: str
    """One of `LEVELS`."""
    code: str
    """Key of the sentence in the catalogue's table ``[caution]``."""
    source: str
    """Where the rule was published, in words."""
    confidence: str
    """How far the source was seen."""
    values: Mapping[str, Value] = field(default_factory=dict)
    """What the sentence quotes."""
    about: str = "pour"
    """``pour`` (what happens in the tub), ``give`` (somebody else has it) or ``sell``."""
    special: bool = True
    """Whether it is of this plan, and not of every bath."""

    @property
    def message(self) -> str:
        """The sentence a person reads."""
        return say(f"caution.{self.code}", self.values)


@dataclass(frozen=True)
class Moment:
    """A moment of the bath, with the pH of the possible tubs."""

    name: str
    """``before``, ``first-pour``, ``after`` or ``after-airing``."""
    ph_acid_side: float
    ph_alkaline_side: float
    reserve_meq_l: float
    """Acid reserve on its high side: strong base to pH 7, closed to air [meq/L]."""


@dataclass(frozen=True)
class BathColour:
    """A colour in the bath as far as rules are concerned."""

    colourant: Colourant
    preserved: bool


@dataclass(frozen=True)
class Situation:
    """Everything that cautions depend on."""

    bathers: str | None
    """``adult``, ``child``, ``nobody``; None if not said (judged as a child)."""
    child_age_years: float | None
    foam_bath_present: bool
    moments: tuple[Moment, ...]
    pouring: str
    """``jug`` (dissolved first) or ``dry``."""
    poured: str
    """``before`` bathers get in, or ``beside`` them."""
    purpose: str
    """``own``, ``gift``, ``class``, ``show`` or ``sale``."""
    market: str
    """``US``, ``EU``, ``UK`` or ``other``."""
    colours: tuple[BathColour, ...]
    water_temperature_c: float
    powders: tuple[str, ...]
    """Keys of the powders in the activator."""
    accept_ph_reason: str | None = None
    """Why a pH that needs a written reason is accepted."""
    accept_pouring_reason: str | None = None
    """Why dry powder is tipped in beside an adult."""
    contradiction: Contradiction | None = None
    """Readings of the tap water of which one must be wrong."""
    jugs: tuple[Jugs, ...] = ()
    also_poured: tuple[str, ...] = ()
    """Keys of powders that are poured from a pack of their own."""
    """What is dissolved before it is poured, the strongest portion of each powder."""
    chalk: bool = False
    """Whether chalk may fall out of the bath."""
    elsewhere: tuple[Caution, ...] = ()
    """What stated homes say of giving the same grams away."""

    def __post_init__(self) -> None:
        check_bathers(self.bathers, self.child_age_years)
        for name in ("pouring", "poured", "purpose", "market"):
            one_of(name, getattr(self, name), WORDS[name])
        reason("accept_ph_reason", self.accept_ph_reason)
        reason("accept_pouring_reason", self.accept_pouring_reason)


@dataclass(frozen=True)
class Verdict:
    """Whether a bath may be poured, given or sold."""

    level: str
    """The heaviest of its cautions, one of `LEVELS`."""
    allowed: bool
    """Whether none of them is a stop, nor needs a reason that nobody wrote down."""
    because: str
    """Code of that heaviest caution."""


@dataclass(frozen=True)
class Verdicts:
    """Three questions that are never one."""

    pour: Verdict
    """Into this tub, for those who bathe in it."""
    give: Verdict
    """To somebody else, into other homes."""
    sell: Verdict
    """On the market of the recipe."""

    def of(self, purpose: str) -> Verdict:
        """The verdict that a purpose depends on."""
        return {"gift": self.give, "sale": self.sell}.get(purpose, self.pour)


@dataclass(frozen=True)
class _GateRow:
    bathers: str
    side: str
    limit: float
    level: str
    source: str
    confidence: str


@dataclass(frozen=True)
class _LimitRow:
    name: str
    bathers: str
    limit: float
    level: str
    unit: str
    source: str
    confidence: str


@dataclass(frozen=True)
class _CautionRow:
    code: str
    level: str
    about: str
    special: bool
    source: str
    confidence: str


@dataclass(frozen=True)
class _PermissionRow:
    colourant: str
    market: str
    listed: str
    remark: str
    source: str
    confidence: str


@dataclass(frozen=True)
class _MetalRow:
    colourant: str
    blues: str
    source: str
    confidence: str


def judged_bathers(bathers: str | None) -> str:
    """Who the bath is judged for: a child where nothing was said.

    Raises
    ------
    ValueError
        If it is none of `BATHERS`.
    """
    if bathers is None:
        return "child"
    if bathers not in BATHERS:
        raise ValueError(f"bathers is {bathers!r}; accepted are {', '.join(BATHERS)}")
    return bathers


def bather_assumptions(bathers: str | None, child_age_years: float | None) -> tuple[Note, ...]:
    """Notes on what had to be assumed about who bathes.

    Parameters
    ----------
    bathers : str or None
        One of `BATHERS`; None if nobody said.
    child_age_years : float or None
        Age of the youngest child [years].

    Returns
    -------
    tuple of Note
        Empty where both are known.
    """
    if bathers is None:
        return (Note("assume.cautions.bathers", {}, "wish.bathers"),)
    if bathers == "child" and child_age_years is None:
        return (Note("assume.cautions.child-age", {}, "wish.child_age"),)
    return ()


def gate_level(ph: ArrayLike, bathers: str) -> NDArray[np.int_]:
    """Caution level of a bath's pH.

    Parameters
    ----------
    ph : array_like
        pH, any shape; NaN is judged ``stop``.
    bathers : str
        One of `BATHERS`; ``nobody`` has no gate.

    Returns
    -------
    numpy.ndarray
        Index into `LEVELS`.
    """
    acidity = np.asarray(ph, dtype=np.float64)
    level = np.where(np.isnan(acidity), LEVELS.index("stop"), 0)
    for row in _gates(bathers):
        beyond = acidity < row.limit if row.side == "acid" else acidity > row.limit
        level = np.where(beyond, np.maximum(level, LEVELS.index(row.level)), level)
    return np.asarray(level)


def reserve_level(reserve_meq_l: ArrayLike, bathers: str) -> NDArray[np.int_]:
    """Caution level of a bath's acid reserve: two baths of one pH may hold tenfold different acid.

    Parameters
    ----------
    reserve_meq_l : array_like
        Strong base to pH 7, closed to air [meq/L], any shape; NaN is judged ``stop``.
    bathers : str
        One of `BATHERS`; ``nobody`` has no gate.

    Returns
    -------
    numpy.ndarray
        Index into `LEVELS`.
    """
    reserve = np.asarray(reserve_meq_l, dtype=np.float64)
    level = np.where(np.isnan(reserve) & (bathers != "nobody"), LEVELS.index("stop"), 0)
    for row in _limits("acid-reserve", bathers):
        beyond = np.where(reserve > row.limit, LEVELS.index(row.level), 0)
        level = np.maximum(level, beyond)
    return np.asarray(level)


def bath_level(ph: ArrayLike, reserve_meq_l: ArrayLike, bathers: str) -> NDArray[np.int_]:
    """Caution level of a bath: the heavier of those of its pH and of its acid reserve.

    Parameters
    ----------
    ph : array_like
        pH, any shape; NaN is judged ``stop``.
    reserve_meq_l : array_like
        Acid reserve [meq/L]; broadcasts with the pH.
    bathers : str
        One of `BATHERS`.

    Returns
    -------
    numpy.ndarray
        Index into `LEVELS`, the broadcast shape; limits and sources in ``data/trade/ph_gates.csv``
        and ``data/trade/caution_limits.csv``.
    """
    return np.maximum(gate_level(ph, bathers), reserve_level(reserve_meq_l, bathers))


def reserve_limit(bathers: str, level: int) -> float:
    """Acid reserve that does not yet exceed a caution level [meq/L]; infinite without a limit.

    Parameters
    ----------
    bathers : str
        One of `BATHERS`.
    level : int
        Index into `LEVELS`.

    Returns
    -------
    float
        [meq/L], from ``data/trade/caution_limits.csv``.
    """
    beyond = [row for row in _limits("acid-reserve", bathers) if LEVELS.index(row.level) > level]
    return min((row.limit for row in beyond), default=math.inf)


def judge(situation: Situation) -> tuple[Caution, ...]:
    """All cautions of a situation, the heaviest first.

    Parameters
    ----------
    situation : Situation
        Who bathes, the pH at every moment, how it is poured, what for and where.
    """
    bathers = judged_bathers(situation.bathers)
    if situation.purpose in GIVEN:
        # A maker's reason binds nobody else.
        situation = replace(situation, accept_ph_reason=None, accept_pouring_reason=None)
    cautions = [
        *_ph(situation, bathers),
        *_reserve(situation, bathers),
        *_readings(situation, bathers),
        *_under_three(situation, bathers),
        *_pouring(situation, bathers),
        *_jugs(situation, bathers),
        *_temperature(situation, bathers),
        *_powders(situation),
        *((_caution("chalk"),) if situation.chalk else ()),
        *_tap_tint(situation),
        *_permissions(situation),
        *_preservation(situation),
        *_always(situation, bathers),
        *(situation.elsewhere if situation.purpose in GIVEN else ()),
    ]
    return heaviest_first(cautions)


def heaviest_first(cautions: Iterable[Caution]) -> tuple[Caution, ...]:
    """Cautions in the order of their levels, ``stop`` first."""
    return tuple(sorted(cautions, key=lambda caution: -LEVELS.index(caution.level)))


def verdicts(situation: Situation) -> Verdicts:
    """Whether a bath may be poured, given and sold, whatever its own purpose is.

    Who is given something has another tap and thermometer, and has read no written reason.

    Parameters
    ----------
    situation : Situation
        As for `judge`.
    """
    own = judge(replace(situation, purpose="own"))
    given, sold = (judge(replace(situation, purpose=purpose)) for purpose in GIVEN)
    return Verdicts(
        pour=_verdict([caution for caution in own if caution.about == "pour"]),
        give=_verdict(
            [caution for caution in given if not caution.code.startswith(OF_THE_OWN_TUB)]
        ),
        sell=_verdict([caution for caution in sold if not caution.code.startswith(OF_THE_OWN_TUB)]),
    )


def _verdict(cautions: Sequence[Caution]) -> Verdict:
    def weight(caution: Caution) -> tuple[int, int, bool]:
        # Of equal ones that is named which is not told for the pouring already.
        return exit_code((caution,)), LEVELS.index(caution.level), caution.about != "pour"

    worst = max(cautions, key=weight)
    return Verdict(worst.level, exit_code(tuple(cautions)) == 0, worst.code)


def exit_code(cautions: tuple[Caution, ...]) -> int:
    """0 where nothing forbids the plan; 3 for a stop, or a reason that was not written down."""
    for caution in cautions:
        if caution.level == "stop":
            return 3
        if caution.level == "justify" and not caution.values.get("reason"):
            return 3
    return 0


def pour_forbidden(cautions: tuple[Caution, ...]) -> bool:
    """Whether what happens in the tub forbids it, whatever may be given or sold."""
    return exit_code(tuple(caution for caution in cautions if caution.about == "pour")) != 0


def past_elsewhere(levels: NDArray[np.int_], ph: Array, accepted: int) -> tuple[Caution, ...]:
    """Caution where the same grams pass a level in other homes; nothing where they pass it in none.

    Parameters
    ----------
    levels : numpy.ndarray
        Caution level of each home, an index into `LEVELS`.
    ph : numpy.ndarray
        Its pH at every moment that was judged, shape (moments, homes).
    accepted : int
        The heaviest level that it may have.

    Returns
    -------
    tuple of Caution
        One or none.
    """
    past = levels > accepted
    if not past.any():
        return ()
    among = ph[:, past].ravel()
    worst = float(among[np.argmax(np.abs(among - NEUTRAL_PH))])
    sour = worst < NEUTRAL_PH
    values: dict[str, Value] = {
        "count": int(past.sum()),
        "homes": len(levels),
        "ph": rounded_outwards(worst, down=sour),
    }
    return (_caution("homes-too-sour" if sour else "homes-too-alkaline", values),)


def not_for_bathing(situation: Situation) -> bool:
    """Whether every picture and paper must say that this is not for bathing."""
    return judged_bathers(situation.bathers) == "nobody"


def _ph(situation: Situation, bathers: str) -> list[Caution]:
    if bathers == "nobody":
        return []
    extremes = [
        (value, moment.name)
        for moment in situation.moments
        for value in (moment.ph_acid_side, moment.ph_alkaline_side)
    ]
    levels = gate_level(np.array([value for value, _ in extremes]), bathers)
    worst = int(levels.max())
    lowest = min(extremes)[0]
    highest = max(extremes)[0]
    if worst == 0:
        low, high = rounded_outwards(lowest, down=True), rounded_outwards(highest, down=False)
        return [_caution("ph-ok", {"low": low, "high": high})]
    among = [extremes[k] for k in np.flatnonzero(levels == worst)]
    # Of equally bad moments the most acid or most alkaline one is named.
    value, moment = max(among, key=lambda pair: abs(pair[0] - NEUTRAL_PH))
    values: dict[str, Value] = {
        "ph": rounded_outwards(value, down=value < NEUTRAL_PH),
        "low": lowest,
        "high": highest,
        "moment": say(f"caution.moment.{moment}"),
        "reason": situation.accept_ph_reason or "",
    }
    level = LEVELS[worst]
    code = f"ph-child-{level}" if bathers == "child" else f"ph-{level}"
    text = "ph-justified" if level == "justify" and situation.accept_ph_reason else None
    caution = _caution(code, values, text=text)
    gate = _gate(bathers, value, level)
    if gate is None:
        return [caution]
    # Acid and alkaline gates of one level come from different places.
    return [replace(caution, source=citation(gate.source), confidence=gate.confidence)]


def _reserve(situation: Situation, bathers: str) -> list[Caution]:
    """How much acid the bath holds, where it is more than its pH lets one think."""
    most = max((moment.reserve_meq_l for moment in situation.moments), default=0.0)
    level = LEVELS[int(reserve_level(most, bathers))]
    if level == "ok":
        return []
    values: dict[str, Value] = {
        "reserve": most,
        "limit": reserve_limit(bathers, LEVELS.index(level) - 1),
        "reason": situation.accept_ph_reason or "",
    }
    text = "reserve-justified" if level == "justify" and situation.accept_ph_reason else None
    return [_caution(f"reserve-{level}", values, text=text)]


def rounded_outwards(ph: float, *, down: bool) -> float:
    """A pH to one decimal, down on the acid side and up on the alkaline one, so never milder.

    Parameters
    ----------
    ph : float
        pH.
    down : bool
        Whether the acid side is meant.

    Returns
    -------
    float
        pH.
    """
    tenths = 10.0 * ph
    return (math.floor(tenths + 1e-9) if down else math.ceil(tenths - 1e-9)) / 10.0


def _gate(bathers: str, ph: float, level: str) -> _GateRow | None:
    """The row of the table that gives a pH its level; None for a pH that is not known."""
    for row in _gates(bathers):
        beyond = ph < row.limit if row.side == "acid" else ph > row.limit
        if beyond and row.level == level:
            return row
    return None


def _readings(situation: Situation, bathers: str) -> list[Caution]:
    """A dose for the wrong one of two readings may be many times too much."""
    wrong = situation.contradiction
    if wrong is None:
        return []
    text = None if wrong.alkalinity_read else "water-contradicts-guess"
    values: dict[str, Value] = {"ph": wrong.ph, "ppm": wrong.alkalinity_ppm}
    caution = _caution("water-contradicts", values, text=text)
    return [replace(caution, level="mind") if bathers == "nobody" else caution]


def _under_three(situation: Situation, bathers: str) -> list[Caution]:
    if _is_under_three(situation, bathers) and situation.foam_bath_present:
        return [_caution("child-under-three")]
    return []


def _is_under_three(situation: Situation, bathers: str) -> bool:
    age = situation.child_age_years
    (least,) = (row.limit for row in _limits("foam-bath-age", "child"))
    return bathers == "child" and age is not None and age < least


def _pouring(situation: Situation, bathers: str) -> list[Caution]:
    if bathers == "nobody":
        return []
    dry, beside = situation.pouring == "dry", situation.poured == "beside"
    if dry and beside:
        if bathers == "child":
            return [_caution("pour-dry-beside-child")]
        return [
            _caution("pour-dry-beside-adult", {"reason": situation.accept_pouring_reason or ""})
        ]
    if beside:
        return [_jug_beside(situation, bathers)]
    return [_caution("pour-dry-before")] if dry else []


def _jug_beside(situation: Situation, bathers: str) -> Caution:
    """A jug of acid is far from mixed for a minute, whoever sits beside it."""
    if not {powder(name).reaction for name in situation.powders} & {"acid", "base"}:
        return _caution("pour-jug-beside")
    if bathers == "child":
        return _caution("pour-jug-beside-child")
    return _caution("pour-jug-beside-adult", {"reason": situation.accept_pouring_reason or ""})


def _jugs(situation: Situation, bathers: str) -> list[Caution]:
    """What is in a jug is many times as strong as the bath, for those who pour."""
    cautions = []
    (limit,) = (row.limit for row in _limits("jug-strength", "any"))
    strong = [jugs for jugs in situation.jugs if jugs.strength_percent > limit]
    # Where nobody bathes, every splash is warned of anyway.
    if bathers != "nobody" and any(jugs.kind == "acid" for jugs in strong):
        cautions.append(_caution("jug-strong", {"limit": limit}))
    alkaline = [jugs.ph for jugs in situation.jugs if jugs.kind == "base"]
    if max(alkaline, default=0.0) >= typical("jug_alkaline_ph").value:
        cautions.append(_caution("jug-alkaline", {"ph": max(alkaline)}))
    return cautions


def _temperature(situation: Situation, bathers: str) -> list[Caution]:
    temperature = situation.water_temperature_c
    whose = (bathers, "under-three") if _is_under_three(situation, bathers) else (bathers,)
    limits = [row for bather in whose for row in _limits("water-temperature", bather)]
    hot = [row for row in limits if temperature > row.limit]
    cold = [row for row in _limits("cold-water", bathers) if temperature < row.limit]
    if not (hot or cold):
        return []
    row = max(hot or cold, key=lambda limit: LEVELS.index(limit.level))
    code = f"{'hot' if hot else 'cold'}-water-{'nobody' if bathers == 'nobody' else row.level}"
    caution = _caution(code, {"temperature_c": temperature, "limit": row.limit})
    return [replace(caution, source=citation(row.source), confidence=row.confidence)]


def _powders(situation: Situation) -> list[Caution]:
    cautions = []
    kinds = [powder(name) for name in situation.powders]
    reactions = {kind.reaction for kind in kinds}
    poured = [*kinds, *map(powder, situation.also_poured)]
    if any(kind.reaction == "acid" for kind in poured):
        cautions.append(_caution("chlorine"))
    dusty = any(kind.reaction == "acid" and kind.kind == "solid" for kind in poured)
    # Powder that is tipped in dry has a caution about its dust already.
    if dusty and (situation.pouring != "dry" or judged_bathers(situation.bathers) == "nobody"):
        cautions.append(_caution("acid-dust"))
    if {"acid", "base"} <= reactions:
        sold = situation.purpose in GIVEN
        cautions.append(_caution("bicarbonate-sold" if sold else "bicarbonate-sealed"))
    return cautions


def _tap_tint(situation: Situation) -> list[Caution]:
    """What traces in the tap water may do to a tint, which a jar of it shows."""
    pigments = [
        colour.colourant for colour in situation.colours if colour.colourant.kind == "pigment"
    ]
    if not situation.colours:
        return []
    metals = {row.colourant: row.blues for row in read_table(_METALS, _MetalRow)}
    blued = any(metals.get(which.family) != "no" for which in pigments)
    return [_caution("tap-metals" if blued else "tap-bleaches")]


def _permissions(situation: Situation) -> list[Caution]:
    """Whether the market's list of cosmetic colours has each colour."""
    if situation.purpose == "own":
        return []
    cautions = []
    for colour in situation.colours:
        values: dict[str, Value] = {
            "colour": colour.colourant.label,
            "market": situation.market,
            "purpose": situation.purpose,
        }
        row = _permission(colour.colourant, situation.market)
        sale = situation.purpose == "sale"
        if row is None:
            unknown = sale and colour.colourant.unrelated
            code = "colour-unknown-sale" if unknown else "colour-market-unknown"
            cautions.append(_caution(code, values))
            continue
        values["remark"] = row.remark
        if row.listed == "no":
            cautions.append(_caution("colour-unlisted-sale" if sale else "colour-unlisted", values))
        elif row.listed == "unclear" and sale:
            cautions.append(_caution("colour-unclear-sale", values))
        elif row.listed == "yes" and sale and situation.market == "US":
            cautions.append(_caution("colour-certified", values))
    return cautions


def _permission(which: Colourant, market: str) -> _PermissionRow | None:
    for row in read_table("trade/colour_permissions.csv", _PermissionRow):
        if row.colourant == which.family and row.market == market:
            return row
    return None


def permissions(which: ColourantLike) -> tuple[tuple[str, str, str, str], ...]:
    """Permissions of a colour in cosmetics: (market, listed, remark, source in words)."""
    family = colourant(which).family
    return tuple(
        (row.market, row.listed, row.remark, citation(row.source))
        for row in read_table("trade/colour_permissions.csv", _PermissionRow)
        if row.colourant == family
    )


def _preservation(situation: Situation) -> list[Caution]:
    raw = [
        colour
        for colour in situation.colours
        if colour.colourant.kind == "pigment" and not colour.preserved
    ]
    if not raw:
        return []
    given = situation.purpose in GIVEN
    values: dict[str, Value] = {"colour": raw[0].colourant.label}
    return [_caution("unpreserved-given" if given else "unpreserved-own", values)]


def _always(situation: Situation, bathers: str) -> list[Caution]:
    if bathers == "nobody":
        return [_caution("splash"), _caution("surfaces"), _caution("out-of-reach")]
    cautions = []
    if situation.foam_bath_present:
        cautions.append(_caution("foam-bath"))
    if bathers == "child":
        cautions.append(_caution("bathers-child"))
    usual = ("bathers-all", "slipping", "surfaces", "out-of-reach")
    return [*cautions, *(_caution(code) for code in usual)]


def _limits(name: str, bathers: str) -> list[_LimitRow]:
    rows = read_table("trade/caution_limits.csv", _LimitRow)
    return [row for row in rows if row.name == name and row.bathers == bathers]


@cache
def _gates(bathers: str) -> tuple[_GateRow, ...]:
    rows = read_table("trade/ph_gates.csv", _GateRow)
    return tuple(row for row in rows if row.bathers == bathers)


@cache
def _rows() -> dict[str, _CautionRow]:
    return {row.code: row for row in read_table("trade/cautions.csv", _CautionRow)}


def _caution(
    code: str, values: Mapping[str, Value] | None = None, *, text: str | None = None
) -> Caution:
    row = _rows().get(code)
    if row is None:
        raise DataError(f"data/trade/cautions.csv has no row {code!r}")
    return Caution(
        level=row.level,
        code=text or code,
        source=citation(row.source),
        confidence=row.confidence,
        values=dict(values or {}),
        about=row.about,
        special=row.special,
    )
