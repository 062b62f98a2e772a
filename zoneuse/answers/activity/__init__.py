"""What is done, how much, and is that more than usual: `ask.activity`."""
