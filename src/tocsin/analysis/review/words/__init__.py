"""Answers of a review in plain words and numbers as people read them. Pure."""
