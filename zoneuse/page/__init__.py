"""The study as one HTML page.

Named by its files, not here: a figure alone does not load the whole page.
"""
