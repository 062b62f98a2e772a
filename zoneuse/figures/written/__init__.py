"""Shapes and letters written out: SVG, PNG and PDF, and text for a terminal."""
