"""Trying devices with a person who says what they felt, saw and heard."""
