"""The commands that take in files: of loggers, of past notes."""
