"""The workshop: a product from its formula to labelled kits, and the record of its batches."""
