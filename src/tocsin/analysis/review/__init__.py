"""The coach's questions to evenings: figures with limits, or what is missing. Pure."""
