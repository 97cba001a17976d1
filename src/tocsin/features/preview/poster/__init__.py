"""The plan as a poster: what each cue looks, feels and sounds like, and what to do."""
