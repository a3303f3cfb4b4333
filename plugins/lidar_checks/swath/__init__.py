"""Checks that hold one pass of the scanner against another, and each against itself.

They share one tally, `swath_family`: every point of some patches of ground, chosen by a hash of
their place, so that a small file is seen whole and a large one in fair samples.
"""
