"""Sheet of a safety assessor: what is in a product, what of it is in the tub, limits, cautions."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence

from dosing.ingredients.powders import powder
from dosing.plan.cautions import heaviest_first
from dosing.plan.records import Plan
from dosing.workshop.materials import substances
from dosing.workshop.papers import (
    PaperLine,
    PaperPart,
    PaperSheet,
    Words,
    phrase,
    tide_mark,
    told_of,
    tub_l,
)
from dosing.workshop.permissions import SubstanceLimit
from dosing.workshop.product import ProductAnswer
from indicator.notes import Note, Value


def assessor_sheet(answer: ProductAnswer, plan: Plan) -> PaperSheet:
    """Sheet for the safety assessor: composition, dose in the tub, limits, cautions and verdicts.

    Parameters
    ----------
    answer : ProductAnswer
        On the product that is assessed.
    plan : Plan
        Of one bath of it.

    Returns
    -------
    PaperSheet
    """
    composition = _table(
        "composition",
        "inci cas function percent tub",
        "lllrr",
        [cells for part in _parts(answer) for cells in _composition(answer, part)],
        (4, 2, 2.4, 0, 0),
    )
    limits = _table(
        "limits",
        "market part substance percent limit entry sure kept",
        "lllrrlll",
        list(_limits(answer.limits)),
        (0, 2.4, 4, 0, 0, 2.4, 0, 0),
    )
    cautions = {(each.code, each.message): each for each in (*answer.cautions, *plan.cautions)}
    told = _table(
        "cautions",
        "level what source sure",
        "llll",
        [
            (
                Note(f"assessor.level-{each.level}"),
                each.message,
                # The rest says who read it, and the last column how far it can be trusted.
                re.split(r"[:;] ", each.source)[0],
                Note(f"assessor.sure-{each.confidence.lower()}"),
            )
            for each in heaviest_first(cautions.values())
            if each.level != "ok"
        ],
        (0, 6.6, 3.4, 0),
    )
    about = PaperPart("facts", Note("assessor.product"), tuple(_product_lines(answer, plan)))
    signs = tuple(Note(f"assessor.{each}") for each in ("name", "date", "signed"))
    return PaperSheet(
        name="assessor",
        title=answer.name,
        about=told_of(answer.product, plan),
        tide=tide_mark(plan),
        parts=(
            about,
            composition,
            *([limits] if answer.limits else []),
            told,
            PaperPart("sign", lines=signs),
        ),
    )


def _table(
    name: str,
    columns: str,
    align: str,
    rows: Sequence[tuple[Words, ...]],
    widths: tuple[float, ...],
) -> PaperPart:
    """A table with the keys of its heads, between spaces, and an alignment for each."""
    return PaperPart(
        "table",
        Note(f"assessor.{name}"),
        columns=tuple(Note(f"assessor.head-{each}") for each in columns.split()),
        rows=tuple(rows),
        align=align,
        widths=widths,
        room=0.2,
    )


def _limits(limits: Sequence[SubstanceLimit]) -> Iterator[tuple[Words, ...]]:
    """Rows of the limits; markets that set the same one stand together."""
    groups: dict[tuple[object, ...], list[SubstanceLimit]] = {}
    for each in limits:
        same = (each.part, each.substance, each.limit_percent, each.entry, each.confidence)
        groups.setdefault(same, []).append(each)
    for first, *others in groups.values():
        yield (
            ", ".join(each.market for each in (first, *others)),
            first.part.replace("-", " "),
            substances()[first.substance].inci,
            _number(first.percent, 3),
            _number(first.limit_percent, 3),
            first.entry,
            Note(f"assessor.sure-{first.confidence.lower()}"),
            Note("assessor.kept" if first.kept else "assessor.not-kept"),
        )


def _parts(answer: ProductAnswer) -> list[str]:
    return list(dict.fromkeys(row.part for row in answer.composition))


def _composition(answer: ProductAnswer, part: str) -> Iterator[tuple[Words, ...]]:
    """Substances of a part by falling share, under its name."""
    yield PaperLine(part.replace("-", " ").capitalize(), bold=True), "", "", "", ""
    for row in answer.composition:
        if row.part == part:
            numbers = _number(row.percent, 2), _number(row.mg_per_l, 1)
            yield row.inci, row.cas or "–", row.function, *numbers


def _product_lines(answer: ProductAnswer, plan: Plan) -> Iterator[Words]:
    product = answer.product
    for market in answer.by_market:
        levels = {
            each: phrase(f"assessor.level-{getattr(market.verdicts, each).level}")
            for each in ("pour", "give", "sell")
        }
        yield PaperLine(Note("assessor.verdicts", levels | {"market": market.market}), bold=True)
    who = {"who": phrase(f"assessor.{plan.bathers}"), "purpose": product.purpose}
    yield Note("assessor.bathers", who | {"markets": ", ".join(product.markets)})
    fill = {"fill": product.fill_ml, "baths": product.baths, "dose": product.dose_ml}
    yield Note("assessor.kind", fill | {"volume": tub_l(product, plan)})
    powders = ", ".join(
        f"{powder(name).label} {100 * share:.3g} %" for name, share in plan.activator
    )
    yield Note("assessor.activator", {"grams": answer.activator_g, "parts": powders})
    read: dict[str, Value] = {"ph": product.ph or 0.0, "reader": product.ph_read_with or "–"}
    yield Note("assessor.ph-unread") if product.ph is None else Note("assessor.ph", read)
    yield Note("assessor.layout", {"layout": product.layout})
    active = {"percent": answer.active_matter_percent, "tub": answer.active_matter_mg_l}
    yield Note("assessor.active", active)
    yield from _preserved(answer)
    ends = {"before": plan.before.ph, "low": plan.ph_acid_side, "high": plan.ph_alkaline_side}
    yield Note("assessor.tub", ends | {"reserve": plan.acid_reserve_high_meq_l})
    if answer.not_opened:
        names = {"names": ", ".join(answer.not_opened)}
        yield PaperLine(Note("assessor.unopened", names), bold=True)


def _preserved(answer: ProductAnswer) -> Iterator[Words]:
    kept = answer.preserving
    if kept.preservatives:
        names = ", ".join(each.label for each in kept.preservatives)
        yield Note(f"assessor.preserved-{kept.state}", {"names": names})
    for acid in kept.acids:
        shares: dict[str, Value] = {"acid": acid.acid.replace("-", " ")}
        shares |= {"share": 100 * acid.unionised_share, "quoted": 100 * acid.quoted_share}
        yield Note("assessor.unionised", shares)


def _number(value: float, places: int) -> str:
    """A number to so many places; what would be nought is less than the last of them."""
    least = 10.0**-places
    return f"{value:.{places}f}" if value >= least / 2 else f"<{least:.{places}f}"
