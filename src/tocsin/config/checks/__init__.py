"""Rules that no single value shows."""
