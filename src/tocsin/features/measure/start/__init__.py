"""How late a person presses at a start."""
