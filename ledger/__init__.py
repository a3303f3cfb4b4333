"""Swathbook: an offline field book and auditor for drone lidar."""

from __future__ import annotations

# The one place: the build reads it here, and asking the installed package takes too long to print.
__version__ = "0.1.0"
