"""A whole rehearsal evening, led from step to step."""
