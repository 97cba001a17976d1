"""The state of a run as the words that people read."""
