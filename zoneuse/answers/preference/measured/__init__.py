"""What was measured of animals and by loggers: body temperatures, and how far the loggers can be believed."""
