"""What trials share: questions asked before, cues of no match, answer keys."""
