"""Files people write: read, checked all at once, located to the line and turned into the model's types."""
