"""Swathbook: an offline field book and auditor for drone lidar."""
