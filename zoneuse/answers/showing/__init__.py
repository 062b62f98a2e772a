"""An answer shown: in a terminal, in a notebook, as JSON with its schema."""
