"""Points, segments and firings of a match."""
