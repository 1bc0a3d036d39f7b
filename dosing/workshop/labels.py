"""Label drafts of a product: which line stands where, and by which rule of the market."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from dosing.plan.cautions import Caution
from dosing.plan.records import Plan
from dosing.recipe.quantities.units import unit_of
from dosing.workshop.composition import NUMBERS, CompositionRow, label_list
from dosing.workshop.label_rules import LABELS, LabelRule, label_rules, label_size, least_letter_mm
from dosing.workshop.papers import (
    LabelDraft,
    PaperLine,
    PaperPart,
    PaperSheet,
    Words,
    of_gift,
    phrase,
    tide_mark,
    told_of,
    tub_l,
)
from dosing.workshop.product import FOAM_BATH, ProductAnswer
from dosing.workshop.product_file import ColourPack, ProductFile
from indicator.notes import Note, Value
from indicator.tables import value_of

ON_LABELS = (
    "formaldehyde-label",
    "formaldehyde-advised",
    "substance-age-label",
    "perfume-allergens",
    "perfume-allergens-elsewhere",
)
"""Cautions on what a label has to say of an ingredient; the maker words it."""
ACTIVATOR = "activator"
"""Part of a product, as its composition names it."""


def label_sheets(answer: ProductAnswer, plan: Plan, markets: Sequence[str]) -> list[PaperSheet]:
    """Label drafts of a product: bottle, sachet and outer for some of its markets.

    Parameters
    ----------
    answer : ProductAnswer
        On the product that is labelled.
    plan : Plan
        Of one bath of it.
    markets : sequence of str
        Where it may be sold.

    Returns
    -------
    list of PaperSheet
    """
    product = answer.product
    colours = list(enumerate(product.colour_packs, start=1))
    kit = bool(product.sachet_g or colours)
    drafts = [
        (number, _Draft(answer, plan, label, market, colour))
        for market in markets
        for label in LABELS
        for number, colour in (colours if label == "colour" else [(1, None)])
        if label in ("bottle", "colour") or (kit if label == "outer" else product.sachet_g)
    ]
    return [_sheet(draft, number) for number, draft in drafts]


def _sheet(draft: _Draft, number: int) -> PaperSheet:
    product, plan, label, market = draft.product, draft.plan, draft.label, draft.market
    sheet = PaperSheet(
        name=f"label-{label}",
        number=number,
        title=product.name,
        market=market,
        parts=(),
        about=(Note("about.market", {"market": market}), *told_of(product, plan)),
        label=LabelDraft(
            label_size(label),
            draft.panels(),
            least_letter_mm(label, market),
            tide_mark(plan),
        ),
    )
    general = [rule for rule in label_rules(market).values() if rule.on == "rules"]
    numbered = (*sheet.rules, *general)
    if not numbered:
        return replace(sheet, parts=(PaperPart("caution", "", (Note("label.no-rules"),)),))
    rows = tuple(_rule_row(number, rule) for number, rule in enumerate(numbered, start=1))
    heads = ("key", "line", "rule", "read", "done")
    table = PaperPart(
        "table",
        Note("label.rules"),
        lines=(Note("label.own"),),
        columns=tuple(Note(f"label.head-{head}") for head in heads),
        rows=rows,
        align="lllll",
        widths=(0, 4, 6.2, 2.3, 0),
        room=0.32,
    )
    sign = PaperPart("sign", lines=(Note("label.name"), Note("label.date")))
    return replace(sheet, parts=(table, sign))


def _rule_row(number: int, rule: LabelRule) -> tuple[Words, ...]:
    read = PaperLine(rule.read, check=rule.to_check)
    return str(number), Note(f"line.{rule.line}"), rule.rule, read, PaperLine("", box=True)


@dataclass(frozen=True)
class _Draft:
    """One label of one market."""

    answer: ProductAnswer
    plan: Plan
    label: str
    market: str
    colour: ColourPack | None
    """Whose pack is labelled; None for the others."""

    @property
    def product(self) -> ProductFile:
        return self.answer.product

    @property
    def rules(self) -> dict[str, LabelRule]:
        """Rules that this label has a line for."""
        rules = label_rules(self.market)
        return {line: rule for line, rule in rules.items() if self.label in rule.on.split()}

    def panels(self) -> tuple[tuple[PaperPart, ...], ...]:
        """Panels from left to right: what it is; how to use it; what is in it and whose it is."""
        front = (
            PaperPart("title", "", (self.product.name, self._function())),
            *self._as_gift(),
            PaperPart("tide"),
            *self._as_grown(),
            PaperPart("lines", Note("label.use"), (self._use(),)),
        )
        contents = PaperPart("foot", "", tuple(self._contents()))
        inside = (*self._ingredients(), PaperPart("lines", "", tuple(self._facts())))
        care = PaperPart("lines", Note("label.care"), tuple(self._care()))
        if self.label in ("sachet", "colour"):
            return (*front, *inside, contents), (care,)
        return (*front, contents), (care,), inside

    def _as_gift(self) -> Iterator[PaperPart]:
        for each in of_gift(self.product):
            yield PaperPart("lines", "", (PaperLine(each, bold=True),))

    def _as_grown(self) -> Iterator[PaperPart]:
        """That the colours beside the tide mark are not those of every harvest."""
        if any(each.colourant.kind == "pigment" for each in self.product.recipe.colours):
            yield PaperPart("lines", "", (Note("label.differs"),))

    def _line(self, line: str, text: str | Note, *, bold: bool = False) -> PaperLine:
        return PaperLine(text, self.rules.get(line), bold=bold)

    def _function(self) -> PaperLine:
        count = self.product.sachets_per_bath
        clear = self.label == "bottle" and self._clear
        many = self.label == "sachet" and count > 1
        kind = "-clear" if clear else "-many" if many else self._dry
        return self._line("function", Note(f"label.function-{self.label}{kind}", {"count": count}))

    @property
    def _dry(self) -> str:
        """Ending of what a pack of dry colour says: of a plant or of a dye; empty for others."""
        if self.colour is None or self.colour.unit != "g":
            return ""
        return "-dry" if self.colour.dried else "-dye"

    @property
    def _clear(self) -> bool:
        """Whether the foam bath holds no colour."""
        formula = self.product.formula
        return not any(formula.share_percent(each.name) for each in formula.colours)

    def _contents(self) -> list[PaperLine]:
        bottle = self._content(self.product.fill_ml, "mL")
        sachet = self._content(self.product.sachet_g or 0.0, "g")
        lines = {"bottle": [bottle], "sachet": [sachet]}.get(self.label)
        if self.colour is not None:
            lines = [self._content(self.colour.content, self.colour.unit)]
        if lines is None:
            count = self.product.baths
            sachets = count * self.product.sachets_per_bath if self.product.sachet_g else 0
            each: dict[str, Value] = {"count": sachets, "each": _said(sachet)}
            lines = [bottle, *([Note("label.sachets", each)] if sachets else [])]
            for pack in self.product.colour_packs:
                content = _said(self._content(pack.content, pack.unit))
                said: dict[str, Value] = {"count": pack.in_kit, "content": content}
                said |= {"name": pack.label, "baths": pack.for_baths}
                lines.append(Note(f"label.colours{'-one' if pack.in_kit == 1 else ''}", said))
        return [self._line("content", line, bold=True) for line in lines]

    def _content(self, amount: float, unit: str) -> Note:
        """Net content [mL or g], in the market's units."""
        if unit == "mL" and self.market == "US":
            return Note("label.fl-oz", {"oz": _down(amount / _factor("fluid_ounce")), "ml": amount})
        if unit == "mL":
            return Note("label.ml", {"ml": amount})
        if self.market != "US" or amount == 0.0:
            return Note("label.g", {"grams": amount})
        return Note("label.oz", {"oz": _down(amount / _factor("ounce")), "grams": amount})

    def _use(self) -> Note:
        product, plan = self.product, self.plan
        if self.label == "sachet" and plan.jugs is not None:
            values = {"count": product.sachets_per_bath, "jug": plan.jugs.litres}
            return Note(
                f"label.use-sachet{'-many' if product.sachets_per_bath > 1 else ''}", values
            )
        if self.colour is not None:
            amount, unit = self.colour.content / self.colour.for_baths, self.colour.unit
            if self._dry == "-dye" and amount < value_of(NUMBERS, "least_pinch"):
                return Note("label.use-colour-pinch")
            # "Net weight" belongs to the content of a pack, not to a dose.
            each = (
                Note("label.g", {"grams": amount}) if unit == "g" else self._content(amount, unit)
            )
            return Note(f"label.use-colour{self._dry}", {"each": _said(each)})
        return Note("label.use-bottle", {"ml": product.dose_ml, "volume": tub_l(product, plan)})

    def _care(self) -> list[PaperLine]:
        lines = []
        if "foaming" in self.rules and self.product.formula.surfactants_percent():
            lines += [self._line("foaming", self._caution(), bold=True)]
        if "precautions" in self.rules:
            lines += [self._line("precautions", Note("label.precautions"))]
        lines += [PaperLine(each.message, check=True) for each in self._asked_for()]
        bathers = self.plan.bathers
        own = {"adult": ["adult", "children"], "child": ["child"], "nobody": ["look"]}[bathers]
        own += ["eyes", "bleach"]
        # A bottle without colour stains nothing; common practice, no source.
        beside = self.label == "sachet" or (self.label == "bottle" and self._clear)
        own += [] if beside or not self.product.recipe.colours else ["stains"]
        own += ["slipping"] if self.label in ("bottle", "outer") else []
        own += ["dust"] if self.label in ("sachet", "outer") else []
        return lines + [PaperLine(Note(f"label.{each}"), bold=True) for each in (*own, "stop")]

    def _asked_for(self) -> list[Caution]:
        """Cautions by which the label of this market has to say something of its ingredients."""
        (here,) = (each for each in self.answer.by_market if each.market == self.market)
        bottled = self.label != "sachet"
        return [each for each in here.cautions if bottled and each.code in ON_LABELS]

    def _caution(self) -> str | Note:
        """The prescribed text, where it was read; on a product for children with its addition."""
        rule, addition = self.rules["foaming"], self.rules["for-children"]
        if rule.to_check:
            return Note("label.foaming-unread", {"rule": rule.rule})
        if self.plan.bathers != "child" or addition.to_check:
            return rule.wording
        return f"{rule.wording.removesuffix('.')} {addition.wording}."

    def _ingredients(self) -> Iterator[PaperPart]:
        """A list for each pack that the label stands on; colours have one together."""
        parts: dict[str, list[CompositionRow]] = {"bottle": [], "sachet": [], "colour": []}
        packs = {FOAM_BATH: "bottle", ACTIVATOR: "sachet"}
        for row in self.answer.composition:
            if self.colour is not None and row.part != self.colour.name:
                continue
            parts[packs.get(row.part, "colour")].append(row)
        for pack, rows in parts.items():
            unknown = self.answer.not_opened if pack == "bottle" else ()
            if self.label not in (pack, "outer") or not (rows or unknown):
                continue
            names = label_list(rows, us=self.market == "US")
            lines = [self._line("ingredients", f"{', '.join(names)}.")]
            if unknown:
                missing = Note("fill-in.unopened", {"names": ", ".join(unknown)})
                lines.append(PaperLine(missing, bold=True))
            heading = f"label.ingredients{f'-{pack}' if self.label == 'outer' else ''}"
            yield PaperPart("lines", Note(heading), tuple(lines))

    def _facts(self) -> Iterator[PaperLine]:
        seller, card = self.product.seller, self.product.recipe.card
        batch = Note("label.batch", {"lot": card.lot or ""})
        last = Note("label.durability", {"date": card.use_by or ""})
        yield self._line("batch", batch if card.lot else Note("fill-in.lot"))
        # The 30 months are a rule of the European ones.
        free = "" if "durability" in self.rules else "-free"
        yield self._line("durability", last if card.use_by else Note(f"fill-in.date{free}"))
        yield self._line("person", seller.name or Note("fill-in.name"))
        yield PaperLine(seller.address or Note("fill-in.address"))
        if "contact" in self.rules:
            yield self._line("contact", seller.contact or Note("fill-in.contact"))


def _said(note: Note) -> str:
    return phrase(note.code, **note.values)


def _factor(unit: str) -> float:
    """Core units, mL or g, in one unit."""
    found = unit_of(unit)
    if found is None:
        raise LookupError(unit)
    return found.factor


def _down(amount: float) -> float:
    """An amount to two figures, never more than it is."""
    step = 10.0 ** (math.floor(math.log10(amount)) - 1)
    return math.floor(amount / step + 1e-9) * step
