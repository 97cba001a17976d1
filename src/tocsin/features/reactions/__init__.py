"""How fast a person notices each signal."""
