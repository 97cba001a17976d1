"""The board: the page that a phone gets from the service."""
