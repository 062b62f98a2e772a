"""How far readings can be believed: calibration, flags, moisture, joins.

Names nothing here: the stages use each other's files, and a command loads only those it needs.
"""
