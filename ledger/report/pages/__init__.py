"""Pages for paper and browser: one template each, filled with escaped text."""
