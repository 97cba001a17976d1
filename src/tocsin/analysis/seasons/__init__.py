"""What many runs come to: a row each, and what was dealt to them. Pure."""
