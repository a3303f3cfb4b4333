"""Who reads the points of an audit beside its own process: processes of this machine, a cluster.

`ledger.contract.crew` is the seam. Nothing is imported here: most audits need none of it.
"""
