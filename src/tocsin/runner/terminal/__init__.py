"""The terminal as a screen and a keyboard."""
