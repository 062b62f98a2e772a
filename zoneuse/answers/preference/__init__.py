"""Which conditions are chosen, and why places are avoided: `ask.preference`."""
