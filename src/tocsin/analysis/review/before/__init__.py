"""What a season can show and what it cannot, before it is played. Pure."""
