"""Who is found with whom, and who keeps to its place."""
