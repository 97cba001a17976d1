"""The LED strip."""
