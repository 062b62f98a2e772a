"""Beyond one study: what a keeper shares, and what holds across keepers."""
