"""Did a change alter anything: `ask.shifts`."""
