"""What goes in: tap water, powders, foam bath, tub, and usual values of the trade."""
