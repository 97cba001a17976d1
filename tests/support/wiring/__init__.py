"""Wiring drawings of ``hardware_notes``, and what they are drawn with."""
