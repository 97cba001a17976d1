"""Findings about a plan that has no mistakes, each with its limit and the limit's source."""
