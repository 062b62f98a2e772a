"""The figures of the page, each an inline SVG."""
