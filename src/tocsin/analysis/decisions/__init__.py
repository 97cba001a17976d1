"""What to change: what leads cost, what is known, and when to say nothing. Pure."""
