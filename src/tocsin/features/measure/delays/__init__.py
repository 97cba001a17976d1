"""How late devices are, by film or microphone."""
