"""Agreement of observers beyond chance."""
