"""Checks that read points: density, classes, GPS time, return numbers, and steps at seams.

One check a module. What several of them share stands beside them: `file_units` (how long a unit of
a file is), `block_grid` (counts per cell in memory that follows the flown area), `footprint` (which
cells a delivery covers), and the `seam_` modules (what lies along the borders of tiles).
"""
