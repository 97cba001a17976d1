"""Game and plan into a timeline, or every mistake."""
