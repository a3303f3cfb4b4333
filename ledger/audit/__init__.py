"""Auditing a folder: may this be sent?

`audit_folder` is the whole of it; the modules beside it are its parts, in the order in which they
are used: folder, criteria, specified, delivery, records, running, blanks, manifest.
"""

from ledger.audit.running import audit_folder
from ledger.model.audit import AuditOptions, AuditResult, InterimResult

__all__ = ["AuditOptions", "AuditResult", "InterimResult", "audit_folder"]
