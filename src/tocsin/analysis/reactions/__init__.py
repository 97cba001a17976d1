"""Reaction times: the order of trials, scores, what they mean."""
