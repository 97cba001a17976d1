"""The plan as robot code."""
