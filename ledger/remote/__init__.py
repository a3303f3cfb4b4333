"""Files that lie in a store of objects: looked at and read in ranges, never copied whole.

`files` is the seam: what is written for a file of a drive opens one of a store by it. `objects` is
the only module that knows the libraries, and is loaded when the first address is read.
"""
