"""A run: the conductor that owns the clock, the workers that own the devices, and what keeps them alive."""
