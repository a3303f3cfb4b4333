"""Checks for drone lidar deliverables, found by the auditor exactly as a stranger's plugin is."""
