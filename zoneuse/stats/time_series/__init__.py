"""Steps, trends and dependence in a series of units."""
