"""One room a capability."""
