"""What boards are told of a run, and what becomes of what they wish."""
