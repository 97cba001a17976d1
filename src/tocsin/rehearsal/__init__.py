"""Rehearsals: what varies in a drill, what the marks of a round come to, how fast people notice. Pure."""
