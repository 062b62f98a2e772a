"""Tables of moments, conditions and choices from what is declared and on record.

Names nothing here: practice takes moments without the tables, and so without pandas.
"""
