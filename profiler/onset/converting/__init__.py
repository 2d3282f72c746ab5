"""One quantity in all the units and marks that stand for the same thing."""
