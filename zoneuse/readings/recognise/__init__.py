"""What a logger's file is: its table, its columns, their times and units.

Names nothing here: the stages use each other's files, and a command loads only those it needs.
"""
