"""Tocsin calls the endgame to a drive team on several senses at the same instant."""

__version__ = "0.1.0"
