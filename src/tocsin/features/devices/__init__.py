"""What devices are there, and trying them."""
