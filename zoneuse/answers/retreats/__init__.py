"""Which retreats are used, by whom, with whom: `ask.retreats`."""
