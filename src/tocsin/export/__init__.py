"""The plan leaves the laptop: a card on paper, robot code, a page, JSON. Pure but for the writing."""
