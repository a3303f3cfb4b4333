"""Which runs made a file: the rule of descent, on plain records.

A file conforms when some recorded process made those bytes and, in at least one line of ancestry,
every process is accepted. It is stale when every line passes through a rejected or superseded one,
and an orphan when no process made it.

A line takes one maker for every input on the way back: a merge of two flights has one line that
holds both runs, a tile that two runs made identically has two lines of one run each.
"""

from __future__ import annotations

from enum import StrEnum

from ledger.dataclass import dataclass
from ledger.model.process import Decision, Process


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

    @property
    def maker(self) -> Process | None:
        """Return the process that made the file; the best one of several, None for none."""
        return self.lines[0].processes[0] if self.lines else None

    @property
    def culprit(self) -> Process | None:
        """Return the nearest process that keeps the file from being accepted; None for none."""
        if self.state is CustodyState.STALE:
            wanted = {Decision.REJECTED, Decision.SUPERSEDED}
        elif self.state is CustodyState.UNDECIDED:
            wanted = {Decision.UNDECIDED}
        else:
            return None
        best = self.lines[0].processes
        return next((process for process in best if process.decision in wanted), None)


# Not `strftime`: its month names follow the language of the system.
_MONTHS = (
    *("January", "February", "March", "April", "May", "June", "July", "August"),
    *("September", "October", "November", "December"),
)


def describe_day(time: str) -> str:
    """Return the day of an RFC 3339 time as `14 May 2026`; the text itself when it is none."""
    year, _, rest = time.partition("-")
    month, _, day = rest[:5].partition("-")
    if not (month.isdecimal() and day.isdecimal() and 1 <= int(month) <= len(_MONTHS)):
        return time
    return f"{int(day)} {_MONTHS[int(month) - 1]} {year}"


def describe_decision(process: Process) -> str:
    """Return what became of a process: `rejected on 14 May 2026 (heights are ellipsoidal)`."""
    day = f" on {describe_day(process.decision_time)}" if process.decision_time else ""
    reason = f" ({process.reason})" if process.reason else ""
    return f"{process.decision}{day}{reason}"
