"""How many points a file in a store can give, told with few requests.

Compressed chunks say at their heads how many points they hold, and each head is a request that
waits for the store. Where the heads lie stands in the table of chunks; it is used as a hint of what
to fetch, many at once, and what the heads say is judged as that of any other file.
"""

from __future__ import annotations

from itertools import accumulate
from typing import BinaryIO

from ledger.chunktable import TABLE_OFFSET_BYTES, read_chunk_table
from ledger.model.header import LasHeader
from ledger.remote.files import RemoteFile, fetch_ahead, open_place
from ledger.supply import Supply, find_supply

# What was found out, by the version of the object: each span of a file asks for it again.
_MOST_KEPT = 1024
_KEPT: dict[RemoteFile, Supply] = {}


def find_supply_in_store(place: RemoteFile, header: LasHeader) -> Supply:
    """Return how many points an object can give; see `ledger.supply.find_supply`.

    Args:
        place: the object.
        header: what `read_las_header` said about it.

    Raises:
        ShortFileError, MalformedFileError: as for a file of a drive.
        ChangedFileError: the store holds another version, or none.
        StoreError: the store cannot be reached.
    """
    if place not in _KEPT:
        with open_place(place) as stream:
            fetch_ahead(stream, _list_heads(stream, header))
            supply = find_supply(stream, header)
        if len(_KEPT) >= _MOST_KEPT:
            _KEPT.clear()
        _KEPT[place] = supply
    return _KEPT[place]


def _list_heads(stream: BinaryIO, header: LasHeader) -> list[int]:
    """Return where chunks say how many points they hold; nothing where the table is not sound."""
    is_sound = not header.points_fault and not header.missing_bytes
    if not (header.compressed and header.point_count and is_sound):
        return []
    sizes = [size for _, size in read_chunk_table(stream, header)[:-1]]
    first = header.offset_to_points + TABLE_OFFSET_BYTES + header.record_length
    return [first + before for before in accumulate(sizes, initial=0)]
