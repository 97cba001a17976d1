"""One pass of the clock, and its record."""
