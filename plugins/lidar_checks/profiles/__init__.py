"""Published criteria, one data file an edition: read them, copy them, change the copy."""
