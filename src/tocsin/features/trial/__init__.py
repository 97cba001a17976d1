"""What trials share: questions asked before, cues that belong to no match, answer keys."""
