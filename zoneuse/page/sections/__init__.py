"""The sections of the page, each from one answer."""
