"""How a moist place dries, and when water must go in."""
