"""Several pours, one after the other, and the way back."""
