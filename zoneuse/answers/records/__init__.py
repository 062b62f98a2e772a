"""What stands on record behind the answers: where each record went, and what is there beside the moments."""
