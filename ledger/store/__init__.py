"""The book: one SQLite file that only grows.

`reading` opens it for looking up, `writing` for adding; everything else serves those two.
"""
