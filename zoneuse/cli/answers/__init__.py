"""The commands that answer: in a terminal, as a page, as tables."""
