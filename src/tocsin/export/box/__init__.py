"""The plan for a box that needs no laptop."""
