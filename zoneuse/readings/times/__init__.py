"""Instants from times as files write them.

Names nothing here: the stages use each other's files, and a command loads only those it needs.
"""
