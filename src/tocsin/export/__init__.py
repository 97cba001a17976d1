"""The plan leaves the laptop: card, picture, robot code, page, JSON."""
