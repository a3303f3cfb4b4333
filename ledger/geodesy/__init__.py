"""What coordinate systems mean, worked out from plain values; `ledger.crs` talks to the library."""
