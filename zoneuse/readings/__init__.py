"""Readings of loggers, by stage of an intake: recognise, times, read, store, trust."""
