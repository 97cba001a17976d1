"""Measurements of the devices and of a person."""
