"""Checks of base logs, position logs and trajectories, and of the points beside them."""
