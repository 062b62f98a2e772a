"""The discrete choice model and what is read from its curves."""
