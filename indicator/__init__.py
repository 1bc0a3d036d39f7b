"""What colour: pigments, absorbance, optics and appearance at a given pH."""
