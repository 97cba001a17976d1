"""What marks, presses and recordings come to: rounds, reactions, delays. Pure."""
