"""Readings as they come and animals that are tracked: to the same intakes, and so to the same stores."""
