"""Entries of the book.

An entry is what one command wrote, once. Entries are never altered: a correction is a later entry.
The `values` of each kind are described in `docs/reference/book.md`.
"""

from __future__ import annotations

from collections.abc import Mapping
from enum import StrEnum
from typing import Any

from ledger.dataclass import dataclass


class Kind(StrEnum):
    """What an entry is about."""

    JOB = "job"
    SPECIFICATION = "specification"
    FILES = "files"
    SIGHTING = "sighting"
    FLIGHT = "flight"
    RIG = "rig"
    RUN = "run"
    STEP = "step"
    STATEMENT = "statement"
    POINTS = "points"
    DECISION = "decision"
    AMENDMENT = "amendment"
    SETTINGS_MAP = "settings-map"
    AUDIT = "audit"
    ACCEPTANCE = "acceptance"
    RECHECK = "recheck"
    FOREIGN = "foreign"
    WITHHOLD = "withhold"
    DELIVERABLE = "deliverable"
    SEAL = "seal"
    TRANSMITTAL = "transmittal"
    DELETION = "deletion"
    SUPPORT = "support"
    REPEAT = "repeat"
    TIMESTAMP = "timestamp"


@dataclass(frozen=True)
class Draft:
    """An entry before the book has given it a number, a time and a root.

    Args:
        kind: one of `Kind`.
        values: canonical values: text, whole numbers below 2^53, booleans, None, lists, mappings.
        by: the function of the person who made it ("technician"), never a name.
        version: version of the kind's layout.
    """

    kind: str
    values: Mapping[str, Any]
    by: str = "technician"
    version: int = 1


@dataclass(frozen=True)
class Entry:
    """A stored entry.

    Args:
        seq: number in the book, from 1 without gaps.
        time: UTC in RFC 3339 with `Z`.
        kind: one of `Kind`, or a kind that a later version added.
        version: version of the kind's layout.
        by: the function of the person.
        machine: short id of the computer.
        values: what was entered; unknown fields are kept.
        root: RFC 9162 tree root after this entry, 32 bytes.
    """

    seq: int
    time: str
    kind: str
    version: int
    by: str
    machine: str
    values: Mapping[str, Any]
    root: bytes
