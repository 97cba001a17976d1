"""What one change of a plan's leads would win, or why none is advised."""
