"""Households: sachets, and blends, that work across many waters and tubs."""
