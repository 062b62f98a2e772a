"""Arrays in, numbers out: nothing here knows a study."""
