"""What else lay around a change: other hours, edits, conditions, moments in which nobody was found."""
