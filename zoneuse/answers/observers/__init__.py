"""Do two observers agree: `ask.observers`."""
