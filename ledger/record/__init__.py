"""Recording what happened: runs, flights, rigs, decisions.

Nothing is imported here: a card must not wait for the libraries that a run needs.
"""
