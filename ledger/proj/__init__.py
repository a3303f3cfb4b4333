"""The coordinate library behind `ledger.crs`: the only modules that import pyproj.

Importing it takes longer than a small command; `ledger.crs` loads these modules at their first use.
"""
