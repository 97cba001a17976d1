"""One process for each device: messages, pipes, supervision, priority."""
