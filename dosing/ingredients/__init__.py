"""Ingredients of a bath: tap water, powders, foam bath, tub, and usual values of the trade."""
