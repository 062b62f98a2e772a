"""Shares, their limits and what dependent looks are worth."""
