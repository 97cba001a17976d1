"""Phones at the laptop: the code on its screen, the rights that a key gives and takes back."""
