"""Delays of devices, from films and recordings of them."""
