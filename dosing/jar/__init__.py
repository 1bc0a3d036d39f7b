"""The jar test: a litre of the real water corrects the forecast."""
