"""Auditing a folder: may this be sent?

`running.audit_folder` is the whole of it; the modules beside it are its parts, in the order in
which they are used: folder, criteria, specified, delivery, records, running, blanks, manifest.
Nothing is imported here: who lists checks needs a few of the parts.
"""
