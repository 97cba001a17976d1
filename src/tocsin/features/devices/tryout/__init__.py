"""Trying devices with a person who says what they noticed."""
