"""study.toml: read and explained, edited, begun.

Named by its files, not here: the recorder needs no more than it reads.
"""
