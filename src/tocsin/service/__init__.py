"""What phones and other programs see of a run, over HTTP, and what they wish. Its own process."""
