"""The version of zoneuse, which every answer and file names."""

__version__ = "0.1.0"
