"""Readings kept as Parquet, a logger each.

Names nothing here: the stages use each other's files, and a command loads only those it needs.
"""
