"""Cost of a kit: what is weighed in, packs, labour and fee, beside its price."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from dosing.workshop.product_file import ProductFile


@dataclass(frozen=True)
class KitCost:
    """Costs of one kit, in the product's currency."""

    currency: str
    contents: float
    """Foam bath, with what is lost of it."""
    colour: float
    """Petals and dyes, in the foam bath or beside it."""
    activator: float
    packs: float
    labour: float
    fee: float
    """Of the selling price; 0 where none is said."""
    sells_at: float | None
    unpriced: tuple[str, ...]
    """Weighed in, and without a price: the cost is higher by those."""

    @property
    def total(self) -> float:
        """All of them."""
        made = self.contents + self.colour + self.activator + self.packs
        return made + self.labour + self.fee

    @property
    def margin(self) -> float | None:
        """Left of the selling price; None where none is said."""
        return None if self.sells_at is None else self.sells_at - self.total

    @property
    def margin_share(self) -> float | None:
        """Left of the selling price as a share of it."""
        return self.margin / self.sells_at if self.margin is not None and self.sells_at else None


def kit_cost(
    product: ProductFile,
    kits: int,
    contents_g: Mapping[str, float],
    colours_g: Mapping[str, float],
    powders_g: Mapping[str, float],
) -> KitCost | None:
    """Cost of one kit of a batch.

    Parameters
    ----------
    product : ProductFile
        With its price and packs.
    kits : int
        Of the batch.
    contents_g, colours_g, powders_g : mapping of str to float
        Name of a material, a plant or dye, a powder to what is weighed of it for the batch [g].

    Returns
    -------
    KitCost or None
        None where the product has no price table.
    """
    price = product.price
    if price is None:
        return None

    def worth(grams: Mapping[str, float]) -> float:
        return sum(price.per_gram.get(name, 0.0) * mass for name, mass in grams.items()) / kits

    weighed = (*contents_g, *colours_g, *powders_g)
    hours = (price.labour_per_hour or 0.0) * (price.hours_per_batch or 0.0)
    return KitCost(
        currency=price.currency,
        contents=worth(contents_g),
        colour=worth(colours_g),
        activator=worth(powders_g),
        packs=sum(_packs(product)),
        labour=hours / kits,
        fee=price.fee * (price.sells_at or 0.0),
        sells_at=price.sells_at,
        unpriced=tuple(name for name in dict.fromkeys(weighed) if name not in price.per_gram),
    )


def _packs(product: ProductFile) -> Iterable[float]:
    """Cost of the packs of one kit: a bottle, and what each of its baths needs."""
    in_a_kit = {
        "kit": 1,
        "bottle": 1,
        "bath": product.baths,
        "sachet": product.baths * product.sachets_per_bath,
    }
    for pack in product.packs:
        yield (pack.cost or 0.0) * in_a_kit[pack.each]
