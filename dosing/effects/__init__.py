"""Designed effects: from a first and a last colour to pigments, dye, strengths and dose."""
