"""The workshop: a product from its formula to labelled kits, and the record of its batches."""

from __future__ import annotations

from dosing.workshop.product import ProductAnswer as ProductAnswer
from dosing.workshop.product import assess as assess
from dosing.workshop.product_file import ProductFile as ProductFile
from dosing.workshop.product_file import demo_product as demo_product
from dosing.workshop.product_file import load_product as load_product
