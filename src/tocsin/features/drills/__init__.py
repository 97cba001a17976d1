"""Drills: rounds with a goal."""
