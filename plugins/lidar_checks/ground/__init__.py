"""Checks of surveyed points against the cloud; they need points and a declared table."""
