"""Checks of recorded settings: does the chain from flight to delivered file agree with itself."""
