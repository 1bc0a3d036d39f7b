"""The dose card: a recipe's answers for every water, tub and bather on one page."""
