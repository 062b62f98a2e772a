"""Which places are avoided or sought: `ask.zones`."""
