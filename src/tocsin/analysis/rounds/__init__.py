"""What a round of a drill came to, by its marks."""
