"""The searches: where to try."""
