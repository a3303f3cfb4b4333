"""The info record of a COPC file.

Source: COPC 1.0, info VLR (160 bytes) and hierarchy VLR.
"""

from __future__ import annotations

import struct
from typing import BinaryIO

from ledger.lasrecords import Record, find_payloads
from ledger.model.copc import COPC_USER, HIERARCHY_RECORD, INFO_RECORD, CopcInfo

_INFO = struct.Struct("<3ddd2Q2d88x")


def read_copc_info(stream: BinaryIO, records: tuple[Record, ...]) -> CopcInfo | None:
    """Return what the first info record says; None without one of its length."""
    payload = next(find_payloads(stream, records, COPC_USER, INFO_RECORD), b"")
    if len(payload) != _INFO.size:
        return None
    x, y, z, half_side, spacing, start, size, earliest, latest = _INFO.unpack(payload)
    pages = tuple(
        (record.start, record.start + record.size)
        for record in records
        if (record.user_id, record.record_id) == (COPC_USER, HIERARCHY_RECORD)
    )
    return CopcInfo((x, y, z), half_side, spacing, start, size, (earliest, latest), pages)
