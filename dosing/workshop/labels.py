"""Label drafts of a product: which line stands where, and by which rule of the market."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace

from dosing.bath.inputs import ColourInputs
from dosing.ingredients.powders import powder
from dosing.plan.records import Plan
from dosing.recipe.quantities.units import unit_of
from dosing.workshop.composition import NOT_OPENED, opened
from dosing.workshop.label_rules import LABELS, LabelRule, label_rules, label_size, least_letter_mm
from dosing.workshop.materials import PERCENT, WATER, substances
from dosing.workshop.papers import (
    LabelDraft,
    PaperLine,
    PaperPart,
    PaperSheet,
    Words,
    phrase,
    tide_mark,
    told_of,
    tub_l,
)
from dosing.workshop.product_file import ProductFile
from indicator.notes import Note, Value

COLOURS = ("colour",)
"""Functions of substances that a list of ingredients may name last."""


@dataclass(frozen=True)
class ListedSubstance:
    """A substance as a list of ingredients has it."""

    inci: str
    inci_us: str
    """Empty where it is the same."""
    function: str
    percent: float
    """Of what is in the pack [%]."""

    def name_in(self, market: str) -> str:
        """Name on a label of a market."""
        return self.inci_us if market == "US" and self.inci_us else self.inci


@dataclass(frozen=True)
class Labelled:
    """A product as its labels have it, apart from the rules of a market."""

    product: ProductFile
    plan: Plan
    """Of one bath."""

    @property
    def per_bath(self) -> tuple[ColourInputs, ...]:
        """Colours that come in a pack of their own."""
        return tuple(each for each in self.product.recipe.colours if each.held_in != "foam bath")

    def listed(self, pack: str) -> list[ListedSubstance]:
        """Substances of a pack in the order of a list of ingredients.

        Parameters
        ----------
        pack : str
            ``"bottle"``, ``"sachet"`` or ``"colour"``.
        """
        shares = {"bottle": self._bottle, "sachet": self._sachet, "colour": self._colour}[pack]()
        known = [(substances()[name], share) for name, share in shares.items() if name]
        dry = pack == "colour" and self.product.layout == "dry sachet"
        return label_order(
            ListedSubstance(
                # What is steeped later is the plant itself.
                row.inci.removesuffix(" Extract") if dry else row.inci,
                row.inci_us.removesuffix(" Extract") if dry else row.inci_us,
                row.function,
                share,
            )
            for row, share in known
        )

    def unopened(self, pack: str) -> tuple[str, ...]:
        """Ingredients of a pack of which nobody knows what is in them."""
        formula, parts = self.product.formula, self.product.recipe.activator.parts
        if pack == "bottle":
            return formula.not_opened
        if pack == "sachet":
            return tuple(powder(name).label for name in parts if substance_of(name) == NOT_OPENED)
        own = [each.name for each in formula.colours if each.amount is not None]
        return tuple(name for name in own if NOT_OPENED in opened(formula, name))

    def _bottle(self) -> dict[str, float]:
        return self.product.formula.substances_percent()

    def _sachet(self) -> dict[str, float]:
        parts = self.product.recipe.activator.parts
        whole = sum(parts.values())
        shares: dict[str, float] = {}
        for name, part in parts.items():
            substance = substance_of(name)
            shares[substance] = shares.get(substance, 0.0) + PERCENT * part / whole
        return shares

    def _colour(self) -> dict[str, float]:
        shares: dict[str, float] = {}
        for each in self.product.formula.colours:
            if each.amount is not None:
                for name, share in opened(self.product.formula, each.name).items():
                    shares[name] = max(shares.get(name, 0.0), share)
        if self.product.layout == "dry sachet":
            shares.pop(WATER, None)
        return shares


def substance_of(name: str) -> str:
    """Substance that a powder of the activator is, whatever its water; `NOT_OPENED` if none."""
    names = (name, *powder(name).aliases.split())
    known = [each for each in substances() if any(own.startswith(each) for own in names)]
    return max(known, key=len, default=NOT_OPENED)


def label_order(substances: Iterable[ListedSubstance]) -> list[ListedSubstance]:
    """Substances as a list of ingredients has them: by falling share, colours after all else.

    From 1 % down any order is allowed, in the EU as in the US; here it keeps falling.
    """
    return sorted(substances, key=lambda each: (each.function in COLOURS, -each.percent))


def label_sheets(product: ProductFile, plan: Plan) -> list[PaperSheet]:
    """Label drafts of a product: bottle, sachet and outer for every market.

    Parameters
    ----------
    product : ProductFile
        That is labelled.
    plan : Plan
        Of one bath of it.

    Returns
    -------
    list of PaperSheet
    """
    labelled = Labelled(product, plan)
    packs = [label for label in LABELS if label == "bottle" or product.sachet_g]
    return [_sheet(labelled, label, market) for market in product.markets for label in packs]


def _sheet(labelled: Labelled, label: str, market: str) -> PaperSheet:
    product, plan = labelled.product, labelled.plan
    sheet = PaperSheet(
        name=f"label-{label}",
        title=product.name,
        market=market,
        parts=(),
        about=(Note("about.market", {"market": market}), *told_of(product, plan)),
        label=LabelDraft(
            label_size(label),
            _Draft(labelled, label, market).panels(),
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
        widths=(0, 4, 5, 2, 1.2),
        room=0.32,
    )
    sign = PaperPart("writing", lines=(Note("label.name"), Note("label.date")))
    return replace(sheet, parts=(table, sign))


def _rule_row(number: int, rule: LabelRule) -> tuple[Words, ...]:
    read = PaperLine(rule.read, check=rule.to_check)
    return str(number), Note(f"line.{rule.line}"), rule.rule, read, PaperLine("", box=True)


@dataclass(frozen=True)
class _Draft:
    """One label of one market."""

    labelled: Labelled
    label: str
    market: str

    @property
    def product(self) -> ProductFile:
        return self.labelled.product

    @property
    def rules(self) -> dict[str, LabelRule]:
        """Rules that this label has a line for."""
        rules = label_rules(self.market)
        return {line: rule for line, rule in rules.items() if self.label in rule.on.split()}

    def panels(self) -> tuple[tuple[PaperPart, ...], ...]:
        """Panels from left to right: what it is; how to use it; what is in it and whose it is."""
        front = (
            PaperPart("title", "", (self.product.name, self._function())),
            PaperPart("tide"),
            PaperPart("lines", Note("label.use"), (self._use(),)),
        )
        contents = PaperPart("foot", "", tuple(self._contents()))
        inside = (*self._ingredients(), PaperPart("lines", "", tuple(self._facts())))
        care = PaperPart("lines", Note("label.care"), tuple(self._care()))
        if self.label == "sachet":
            return (*front, *inside, contents), (care,)
        return (*front, contents), (care,), inside

    def _line(self, line: str, text: str | Note, *, bold: bool = False) -> PaperLine:
        return PaperLine(text, self.rules.get(line), bold=bold)

    def _function(self) -> PaperLine:
        count = self.product.sachets_per_bath
        clear = self.label == "bottle" and self.product.layout != "foam bath"
        many = self.label == "sachet" and count > 1
        kind = f"{self.label}{'-clear' if clear else '-many' if many else ''}"
        return self._line("function", Note(f"label.function-{kind}", {"count": count}))

    def _contents(self) -> list[PaperLine]:
        bottle, sachet = self._bottle_content(), self._sachet_content()
        lines = {"bottle": [bottle], "sachet": [sachet]}.get(self.label)
        if lines is None:
            count = self.product.baths
            sachets = count * self.product.sachets_per_bath
            each: dict[str, Value] = {"count": sachets, "each": _said(sachet)}
            lines = [bottle, Note("label.sachets", each)]
            for colour in self.labelled.per_bath:
                said: dict[str, Value] = {"count": count, "amount": colour.amount}
                said |= {"unit": colour.amount_unit, "name": colour.colourant.label}
                lines.append(Note("label.colours", said))
        return [self._line("content", line, bold=True) for line in lines]

    def _bottle_content(self) -> Note:
        ml = self.product.fill_ml
        if self.market != "US":
            return Note("label.ml", {"ml": ml})
        return Note("label.fl-oz", {"oz": _down(ml / _factor("fluid_ounce")), "ml": ml})

    def _sachet_content(self) -> Note:
        grams = self.product.sachet_g or 0.0
        if self.market != "US" or grams == 0.0:
            return Note("label.g", {"grams": grams})
        return Note("label.oz", {"oz": _down(grams / _factor("ounce")), "grams": grams})

    def _use(self) -> Note:
        product, plan = self.product, self.labelled.plan
        if self.label == "sachet" and plan.jugs is not None:
            values = {"count": product.sachets_per_bath, "jug": plan.jugs.litres}
            return Note(
                f"label.use-sachet{'-many' if product.sachets_per_bath > 1 else ''}", values
            )
        return Note("label.use-bottle", {"ml": product.dose_ml, "volume": tub_l(product, plan)})

    def _care(self) -> list[PaperLine]:
        lines = []
        if "foaming" in self.rules and self.product.formula.surfactants_percent():
            lines += [self._line("foaming", self._caution(), bold=True)]
        if "precautions" in self.rules:
            lines += [self._line("precautions", Note("label.precautions"))]
        bathers = self.labelled.plan.bathers
        own = {"adult": ["adult", "children"], "child": ["child"], "nobody": ["look"]}[bathers]
        own += ["eyes", "bleach"]
        own += ["slipping"] if self.label != "sachet" else []
        own += ["dust"] if self.label != "bottle" else []
        return lines + [PaperLine(Note(f"label.{each}"), bold=True) for each in (*own, "stop")]

    def _caution(self) -> str | Note:
        """The prescribed text, where it was read; on a product for children with its addition."""
        rule, addition = self.rules["foaming"], self.rules["for-children"]
        if rule.to_check:
            return Note("label.foaming-unread", {"rule": rule.rule})
        if self.labelled.plan.bathers != "child" or addition.to_check:
            return rule.wording
        return f"{rule.wording.removesuffix('.')} {addition.wording}."

    def _ingredients(self) -> Iterator[PaperPart]:
        for pack in ("bottle", "sachet", "colour"):
            known, unknown = self.labelled.listed(pack), self.labelled.unopened(pack)
            if self.label not in (pack, "outer") or not (known or unknown):
                continue
            names = ", ".join(each.name_in(self.market) for each in known)
            lines = [self._line("ingredients", f"{names}.")]
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
        yield self._line("durability", last if card.use_by else Note("fill-in.date"))
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
