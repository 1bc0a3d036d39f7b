"""Time: from pouring to the end of the soak."""
