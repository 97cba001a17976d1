"""The record that an exported page keeps, as runs like any other."""
