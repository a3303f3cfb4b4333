"""Checks of what point files say about themselves: CRS, units, extent, counts, uniformity."""
