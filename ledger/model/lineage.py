"""Which runs made a file: the rule of descent, on plain records.

A file conforms when some recorded process made those bytes and, in at least one line of ancestry,
every process is accepted. It is stale when every line passes through a rejected or superseded one,
and an orphan when no process made it.

A line takes one maker for every input on the way back: a merge of two flights has one line that
holds both runs, a tile that two runs made identically has two lines of one run each.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from ledger.model.process import Process


class CustodyState(StrEnum):
    """What the records say of a file's origin.

    A document that no process made is *not traced*: only points and rasters need a process.
    """

    ACCEPTED = "accepted"
    UNDECIDED = "undecided"
    STALE = "stale"
    ORPHAN = "orphan"
    NOT_TRACED = "not traced"


class MatchedBy(StrEnum):
    """How a file was matched with a recorded output."""

    DIGEST = "digest"
    POINTS = "full point fingerprint"
    GEOMETRY = "geometry fingerprint"
    NOTHING = "nothing"


@dataclass(frozen=True)
class Line:
    """One line of ancestry, from the process that made the file back to the first one.

    Args:
        processes: nearest first; each process once.
    """

    processes: tuple[Process, ...]


@dataclass(frozen=True)
class Custody:
    """The origin of one file.

    Args:
        state: the verdict of the rule.
        matched_by: how it was matched.
        lines: lines of ancestry; every maker of the file is the first of at least one of them.
        recorded_path: path of the matching output when it was recorded; empty for an orphan.
    """

    state: CustodyState
    matched_by: MatchedBy
    lines: tuple[Line, ...] = ()
    recorded_path: str = ""
