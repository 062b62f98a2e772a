"""The answers in terminal screens: opened at once, worked out beside the screen, kept until something changes."""
