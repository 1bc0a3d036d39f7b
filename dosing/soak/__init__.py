"""Time: one pour or several, from the tap to the end of the soak, and the way back."""
