"""Rules: when each caution applies, by bathers, pH, powders, colours and market."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from dosing.ingredients.powders import powder
from dosing.ingredients.trade_values import typical
from dosing.plan.cautions import (
    GIVEN,
    Caution,
    Situation,
    Verdict,
    Verdicts,
    caution_of,
    exit_code,
    heaviest_first,
)
from dosing.plan.levels import (
    LEVELS,
    CautionLimit,
    gate_level,
    limits,
    reserve_level,
    reserve_limit,
    rounded_outwards,
)
from indicator.notes import Value, say
from indicator.pigments import Colourant, ColourantLike, colourant
from indicator.tables import Sourced, citation, read_table

Array = NDArray[np.float64]

SAME_PH = 0.02
"""pH values nearer than this are one for a caution."""
NEUTRAL_PH = 7.0
OF_THE_OWN_TUB = ("hot-water", "cold-water", "water-contradicts")
"""Cautions about the maker's own water, which nobody else has."""


@dataclass(frozen=True)
class _PermissionRow(Sourced):
    colourant: str
    market: str
    listed: str
    remark: str


@dataclass(frozen=True)
class _MetalRow(Sourced):
    colourant: str
    blues: str


def judge(situation: Situation) -> tuple[Caution, ...]:
    """All cautions of a situation, the heaviest first.

    Parameters
    ----------
    situation : Situation
        Who bathes, the pH at every moment, how it is poured, what for and where.
    """
    if situation.purpose in GIVEN:
        # A maker's reason binds nobody else.
        situation = replace(situation, accept_ph=None, accept_pouring=None)
    told = [caution for rule in RULES for caution in rule(situation)]
    return heaviest_first(told)


def verdicts(situation: Situation) -> Verdicts:
    """Whether a bath may be poured, given and sold, whatever its own purpose is.

    Who is given something has another tap and thermometer, and has read no written reason.

    Parameters
    ----------
    situation : Situation
        As for `judge`.
    """
    own = judge(situation.meant_for("own"))
    given, sold = (
        [
            caution
            for caution in judge(situation.meant_for(purpose))
            if not caution.code.startswith(OF_THE_OWN_TUB)
        ]
        for purpose in GIVEN
    )
    pour = [caution for caution in own if caution.about == "pour"]
    return Verdicts(pour=_verdict(pour), give=_verdict(given), sell=_verdict(sold))


def _verdict(cautions: Sequence[Caution]) -> Verdict:
    def weight(caution: Caution) -> tuple[int, int, bool, bool]:
        # Of equal ones that is named which is not told for the pouring already; what hurts others
        # comes before what spoils, and the product before its bath.
        elsewhere = caution.code.startswith(("homes-", "product-"))
        level = LEVELS.index(caution.level)
        return exit_code((caution,)), level, caution.about != "pour", elsewhere

    worst = max(cautions, key=weight)
    return Verdict(worst.level, exit_code(tuple(cautions)) == 0, worst.code)


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
    return (caution_of("homes-too-sour" if sour else "homes-too-alkaline", values),)


def _ph(situation: Situation) -> Iterator[Caution]:
    """The worst pH of all moments, on either side."""
    bathers = situation.bathers
    if bathers == "nobody":
        return
    extremes = [
        (ph, moment.name)
        for moment in situation.moments
        for ph in (moment.ph_acid_side, moment.ph_alkaline_side)
    ]
    levels = gate_level(np.array([ph for ph, _ in extremes]), bathers)
    worst = int(levels.max())
    lowest, highest = min(extremes)[0], max(extremes)[0]
    if worst == 0:
        low, high = rounded_outwards(lowest, down=True), rounded_outwards(highest, down=False)
        yield caution_of("ph-ok", {"low": low, "high": high})
        return
    among = [extremes[k] for k in np.flatnonzero(levels == worst)]
    # Of equally bad moments the most acid or most alkaline one is named.
    ph, moment = max(among, key=lambda pair: abs(pair[0] - NEUTRAL_PH))
    # What comes first is the cause; what follows moves it by less than anyone reads.
    moment = next(name for value, name in among if abs(value - ph) < SAME_PH)
    values: dict[str, Value] = {
        "ph": rounded_outwards(ph, down=ph < NEUTRAL_PH),
        "low": lowest,
        "high": highest,
        "moment": say(f"caution.moment.{moment}"),
        "reason": situation.accept_ph or "",
        "most": _at_most(situation, ph),
    }
    level = LEVELS[worst]
    text = "ph-justified" if level == "justify" and situation.accept_ph else None
    code = f"ph-child-{level}" if bathers == "child" else f"ph-{level}"
    # Acid and alkaline gates of one level come from different places.
    yield _sourced(caution_of(code, values, text=text), _gate(bathers, ph, level))


def _at_most(situation: Situation, ph: float) -> str:
    """The pH that all that may be poured leads to, where that is farther out than another pH."""
    sour = ph < NEUTRAL_PH
    ends = situation.at_most or (ph,)
    outermost = rounded_outwards(min(ends) if sour else max(ends), down=sour)
    if abs(outermost - NEUTRAL_PH) <= abs(rounded_outwards(ph, down=sour) - NEUTRAL_PH):
        return ""
    return say("caution.at-most", {"ph": outermost, "grams": situation.most_g})


def _gate(bathers: str, ph: float, level: str) -> CautionLimit | None:
    """The row of the table that gives a pH its level; None for a pH that is not known."""
    beyond = [row for row in limits("ph-acid", bathers) if ph < row.limit]
    beyond += [row for row in limits("ph-alkaline", bathers) if ph > row.limit]
    return next((row for row in beyond if row.level == level), None)


def _sourced(caution: Caution, limit: CautionLimit | None) -> Caution:
    """The caution with the source of the limit that was passed."""
    if limit is None:
        return caution
    return replace(caution, source=citation(limit.source), confidence=limit.confidence)


def _reserve(situation: Situation) -> Iterator[Caution]:
    """How much acid the bath holds, where it is more than its pH lets one think."""
    most = max((moment.reserve_meq_l for moment in situation.moments), default=0.0)
    level = int(reserve_level(most, situation.bathers))
    if level > 0:
        values: dict[str, Value] = {
            "reserve": most,
            "limit": reserve_limit(situation.bathers, level - 1),
            "reason": situation.accept_ph or "",
        }
        reasoned = LEVELS[level] == "justify" and situation.accept_ph
        text = "reserve-justified" if reasoned else None
        yield caution_of(f"reserve-{LEVELS[level]}", values, text=text)


def _readings(situation: Situation) -> Iterator[Caution]:
    """A dose for the wrong one of two readings may be many times too much."""
    wrong = situation.contradiction
    if wrong is not None:
        text = None if wrong.alkalinity_read else "water-contradicts-guess"
        values: dict[str, Value] = {"ph": wrong.ph, "ppm": wrong.alkalinity_ppm}
        caution = caution_of("water-contradicts", values, text=text)
        yield replace(caution, level="mind") if situation.bathers == "nobody" else caution


def _under_three(situation: Situation) -> Iterator[Caution]:
    if _is_under_three(situation) and situation.inputs.foam_bath is not None:
        yield caution_of("child-under-three")


def _is_under_three(situation: Situation) -> bool:
    age = situation.inputs.wish.child_age_years
    (least,) = limits("foam-bath-age", "child")
    return situation.bathers == "child" and age is not None and age < least.limit


def _pouring(situation: Situation) -> Iterator[Caution]:
    """Dry powder and jugs beside those who bathe."""
    activator, bathers = situation.inputs.activator, situation.bathers
    if bathers == "nobody":
        return
    way = "dry" if activator.pouring == "dry" else "jug"
    if activator.poured != "beside":
        if way == "dry":
            yield caution_of("pour-dry-before")
        return
    # A jug of acid is far from mixed for a minute, whoever sits beside it.
    harmless = not {each.reaction for each in situation.powders} & {"acid", "base"}
    if way == "jug" and harmless:
        yield caution_of("pour-jug-beside")
    elif bathers == "child":
        yield caution_of(f"pour-{way}-beside-child")
    else:
        yield caution_of(f"pour-{way}-beside-adult", {"reason": situation.accept_pouring or ""})


def _jugs(situation: Situation) -> Iterator[Caution]:
    """What is in a jug is many times as strong as the bath, for those who pour."""
    (limit,) = limits("jug-strength", "any")
    acid = [jugs.strength_percent for jugs in situation.jugs if jugs.kind == "acid"]
    # Where nobody bathes, every splash is warned of anyway.
    if situation.bathers != "nobody" and max(acid, default=0.0) > limit.limit:
        yield caution_of("jug-strong", {"limit": limit.limit})
    alkaline = max((jugs.ph for jugs in situation.jugs if jugs.kind == "base"), default=0.0)
    if alkaline >= typical("jug_alkaline_ph").value:
        yield caution_of("jug-alkaline", {"ph": alkaline})


def _temperature(situation: Situation) -> Iterator[Caution]:
    bathers, temperature = situation.bathers, situation.inputs.water_temperature_c
    whose = (bathers, "under-three") if _is_under_three(situation) else (bathers,)
    warm = [row for each in whose for row in limits("water-temperature", each)]
    hot = [row for row in warm if temperature > row.limit]
    cold = [row for row in limits("cold-water", bathers) if temperature < row.limit]
    if hot or cold:
        row = max(hot or cold, key=lambda limit: LEVELS.index(limit.level))
        ending = "nobody" if bathers == "nobody" else row.level
        values: dict[str, Value] = {"temperature_c": temperature, "limit": row.limit}
        yield _sourced(caution_of(f"{'hot' if hot else 'cold'}-water-{ending}", values), row)


def _powders(situation: Situation) -> Iterator[Caution]:
    poured = [*situation.powders, *map(powder, situation.also_poured)]
    acids = [each for each in poured if each.reaction == "acid"]
    if acids:
        yield caution_of("chlorine")
    # Powder that is tipped in dry has a caution about its dust already.
    told = situation.inputs.activator.pouring == "dry" and situation.bathers != "nobody"
    if not told and any(each.kind == "solid" for each in acids):
        yield caution_of("acid-dust")
    if {"acid", "base"} <= {each.reaction for each in situation.powders}:
        sold = situation.purpose in GIVEN
        yield caution_of("bicarbonate-sold" if sold else "bicarbonate-sealed")


def _chalk(situation: Situation) -> Iterator[Caution]:
    if situation.chalk:
        yield caution_of("chalk")


def _tap_tint(situation: Situation) -> Iterator[Caution]:
    """What traces in the tap water may do to a tint, which a jar of it shows."""
    colours = [colour.colourant for colour in situation.inputs.colours]
    if colours:
        metals = {
            row.colourant: row.blues
            for row in read_table("trade/metals_and_colours.csv", _MetalRow)
        }
        pigments = [which for which in colours if which.kind == "pigment"]
        blued = any(metals.get(which.family) != "no" for which in pigments)
        yield caution_of("tap-metals" if blued else "tap-bleaches")


def _permissions(situation: Situation) -> Iterator[Caution]:
    """Whether the market's list of cosmetic colours has each colour."""
    if situation.purpose == "own":
        return
    market, sale = situation.inputs.wish.market, situation.purpose == "sale"
    for colour in situation.inputs.colours:
        row = _permission(colour.colourant, market)
        values: dict[str, Value] = {
            "colour": colour.colourant.label,
            "market": market,
            "purpose": situation.purpose,
            "remark": "" if row is None else row.remark,
        }
        if row is None:
            unknown = sale and colour.colourant.unrelated
            yield caution_of("colour-unknown-sale" if unknown else "colour-market-unknown", values)
        elif row.listed == "no":
            code = "colour-unlisted-sale" if sale else "colour-unlisted"
            yield caution_of(code, values, rests_on=row)
        elif row.listed == "unclear" and sale:
            yield caution_of("colour-unclear-sale", values, rests_on=row)
        elif row.listed == "yes" and sale and market == "US":
            yield caution_of("colour-certified", values, rests_on=row)


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


def _preservation(situation: Situation) -> Iterator[Caution]:
    given = situation.purpose in GIVEN
    raw = [
        colour.colourant
        for colour in situation.inputs.colours
        if colour.colourant.kind == "pigment"
        and not colour.preserved
        # Dry petals are passed on dry; who bathes brews them.
        and not (given and colour.amount_unit == "g")
    ]
    if raw:
        code = "unpreserved-given" if given else "unpreserved-own"
        yield caution_of(code, {"colour": raw[0].label})


def _of_product(situation: Situation) -> Iterator[Caution]:
    """A bath says nothing of the bottle and the kit that it came from."""
    if situation.inputs.of_product and situation.purpose in GIVEN:
        yield caution_of("product-judged")


def _always(situation: Situation) -> Iterator[Caution]:
    codes = ["bathers-all", "slipping", "surfaces", "out-of-reach"]
    if situation.bathers == "nobody":
        codes = ["splash", "surfaces", "out-of-reach"]
    else:
        codes[:0] = ["bathers-child"] if situation.bathers == "child" else []
        codes[:0] = ["foam-bath"] if situation.inputs.foam_bath is not None else []
    yield from map(caution_of, codes)


def _elsewhere(situation: Situation) -> Iterator[Caution]:
    if situation.purpose in GIVEN:
        yield from situation.elsewhere


RULES = (
    _ph,
    _reserve,
    _readings,
    _under_three,
    _pouring,
    _jugs,
    _temperature,
    _powders,
    _chalk,
    _tap_tint,
    _permissions,
    _preservation,
    _of_product,
    _always,
    _elsewhere,
)
"""In the order in which cautions of one level are told."""
