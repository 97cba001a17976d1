"""The pictures of a review, each with the one sentence that reads it. No colour. Pure."""
