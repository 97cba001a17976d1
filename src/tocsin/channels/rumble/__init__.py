"""The pads and their motors."""
