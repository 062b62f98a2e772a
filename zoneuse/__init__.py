"""Watch animals in an enclosure of gradients, and learn honestly which zones they use, and why."""

__version__ = "0.1.0"
