"""Files people write: read, all mistakes found at once, turned into the model's types."""
