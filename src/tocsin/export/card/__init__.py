"""The plan on paper."""
