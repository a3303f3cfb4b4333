"""Which keys of `job.toml` the commands themselves read, and which nothing reads.

A key that a person fills in and that nothing ever looks at would pass for a wish that was held;
so it is told. What checks read they declare themselves.
"""

from __future__ import annotations

from collections.abc import Iterable

from ledger.model.specification import Specification
from ledger.specfile.keys import list_stated

# By key: the command that reads it. A test changes each of them and looks whether that is seen.
READ_BY_COMMANDS = {
    "carried": "audit",
    "job.reference": "swathbook",
    "job.title": "swathbook",
    "job.site": "swathbook",
    "job.client": "swathbook",
    "folders.raw": "swathbook",
    "folders.out": "record",
    "folders.copies": "register",
}


def list_unread(specification: Specification, read_by_checks: Iterable[str]) -> tuple[str, ...]:
    """Return the keys that a file fills and that neither a check nor a command reads.

    Args:
        specification: what the file says.
        read_by_checks: keys that the checks of the audit declare; a section covers its keys.
    """
    read = {*READ_BY_COMMANDS, *read_by_checks}
    return tuple(key for key in list_stated(specification) if not _is_covered(key, read))


def _is_covered(key: str, read: Iterable[str]) -> bool:
    return any(key == each or key.startswith(f"{each}.") for each in read)
