"""The commands that put something on record, or correct it."""
