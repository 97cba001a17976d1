"""One room a capability; none knows another."""
