"""The record of a run: written as it happens, read back, summed up."""
