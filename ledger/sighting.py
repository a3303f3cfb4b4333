"""Known bytes seen again: at another place, or with another time, as after a restore.

A sighting says where a file lies, and nothing else: it makes no output explained. It makes a copy
good only where it says that the copy was read back from its drive.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from types import MappingProxyType
from typing import Any

from ledger.canonical import compute_digest, encode
from ledger.model.artefact import FileRecord
from ledger.model.entry import Draft, Kind
from ledger.store.mapping import file_to_values
from ledger.store.writing import Addition, BookWriter
from ledger.volumes import Volume


def draft_sighting(records: Iterable[FileRecord], by: str) -> Addition:
    """Return the entry that says where known bytes were seen.

    Args:
        records: the files as they were seen.
        by: function of the person.
    """
    return draft_files(Kind.SIGHTING, records, {}, by)


def draft_copies(
    records: Iterable[FileRecord], on: Volume, by: str, *, past_cache: bool
) -> Addition:
    """Return the entry that says which copies were read back from their drive.

    Args:
        records: the copies.
        on: the drive.
        by: function of the person.
        past_cache: whether the page cache was dropped before each was read back.
    """
    values = {"volume": on.id, "root": on.root, "reread": True, "past_cache": past_cache}
    return draft_files(Kind.SIGHTING, records, values, by)


def draft_moved(records: Iterable[FileRecord], on: Volume, by: str) -> Addition:
    """Return the entry that says where known bytes were seen on a drive connected elsewhere."""
    return draft_files(Kind.SIGHTING, records, {"volume": on.id, "root": on.root}, by)


def enter_sighting(
    writer: BookWriter,
    records: Collection[FileRecord],
    by: str,
    values: Mapping[str, Any] = MappingProxyType({}),
) -> int:
    """Enter where known bytes were seen; return the number of the entry, 0 for nothing to enter.

    Args:
        writer: the open book.
        records: the files as they were seen.
        by: function of the person.
        values: what else the entry says.
    """
    if not records:
        return 0
    return writer.append_all([draft_files(Kind.SIGHTING, records, values, by)])[0].seq


def draft_files(
    kind: Kind, records: Iterable[FileRecord], values: Mapping[str, Any], by: str
) -> Addition:
    """Return an entry with a list of files.

    Args:
        kind: what the entry is about.
        records: the files as they were seen.
        values: what else it says.
        by: function of the person.
    """
    listed = [file_to_values(record) for record in records]
    manifest = encode(listed)
    stored = {**values, "manifest": compute_digest(manifest), "count": len(listed)}
    return Addition(Draft(kind, stored, by=by), (manifest,))
