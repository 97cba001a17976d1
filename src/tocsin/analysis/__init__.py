"""Rehearsals: what varies in a drill, what the marks of a round come to, how fast people notice,
how late devices and people are. Pure."""
