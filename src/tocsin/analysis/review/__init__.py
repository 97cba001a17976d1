"""The coach's questions to an evening or a season: figures with intervals, or what is still missing. Pure."""
