"""What speaks against a plan that has no mistake: findings, each with its limit and the limit's source. Pure."""
