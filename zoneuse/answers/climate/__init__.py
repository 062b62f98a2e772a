"""Is there a gradient, and when must water go in: `ask.climate`."""
