"""What to watch next: `ask.plan`."""
