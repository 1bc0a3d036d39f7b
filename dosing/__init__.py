"""How much: water, powders, equilibrium and the plan of a colour-changing bath."""
