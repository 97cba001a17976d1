"""Fonts, fitting and shapes that cards and pictures share."""
