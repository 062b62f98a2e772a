"""A file read through, and what is said of it.

Names nothing here: the stages use each other's files, and a command loads only those it needs.
"""
