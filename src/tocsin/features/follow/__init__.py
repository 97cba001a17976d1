"""A second laptop plays the match of the one whose clock counts."""
