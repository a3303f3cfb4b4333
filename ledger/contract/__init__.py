"""What the author of a check sees: the only door from a plugin into the core."""
