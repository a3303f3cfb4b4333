"""What a search found, as plain records."""

from __future__ import annotations

from ledger.dataclass import dataclass


@dataclass(frozen=True)
class Hit:
    """One record that holds all the words.

    Args:
        kind: `run`, `step`, `flight`, `rig`, `statement`, `points`, `file`, `audit`, `acceptance`
            or `job`.
        id: what to call it: an id, or the path of a file.
        entry: number of the entry that holds it.
        time: when that was entered, UTC.
        by: function of the person who entered it.
        matched: label and text of every part that holds one of the words.
        next: what to type to see more of it.
    """

    kind: str
    id: str
    entry: int
    time: str
    by: str
    matched: tuple[tuple[str, str], ...]
    next: str


@dataclass(frozen=True)
class FindResult:
    """What a search found.

    Args:
        words: what was searched for.
        hits: in the order of the job: rigs, flights, files, runs, steps, statements, audits,
            acceptances.
    """

    words: tuple[str, ...]
    hits: tuple[Hit, ...]


@dataclass(frozen=True)
class Asked:
    """Which jobs were asked.

    Args:
        jobs: number of jobs that were asked.
        unreached: folders that are not there now; what the index knew of them was asked.
        unknown: folders that are not there now, and that the index never read.
        broken: folders whose book the last recheck found broken: what it says may be wrong.
    """

    jobs: int
    unreached: tuple[str, ...] = ()
    unknown: tuple[str, ...] = ()
    broken: tuple[str, ...] = ()


@dataclass(frozen=True)
class JobHit:
    """A record of one of several jobs.

    Args:
        job: reference of the job, else the name of its folder.
        folder: its folder.
        hit: the record.
    """

    job: str
    folder: str
    hit: Hit


@dataclass(frozen=True)
class EverywhereResult:
    """What a search of all jobs found.

    Args:
        words: what was searched for.
        asked: which jobs were asked.
        hits: by job, each in the order of its book.
    """

    words: tuple[str, ...]
    asked: Asked
    hits: tuple[JobHit, ...]


@dataclass(frozen=True)
class Sent:
    """A delivery that went out.

    Args:
        id: id of the transmittal.
        to: function of whoever has it.
        revision: its revision.
        time: when it went out, UTC.
        replaced_by: id of the transmittal that replaced it; empty for none.
    """

    id: str
    to: str
    revision: str
    time: str
    replaced_by: str


@dataclass(frozen=True)
class Touched:
    """A deliverable with the thing behind it.

    Args:
        job: reference of the job, else the name of its folder.
        folder: folder of the job.
        deliverable: `D1` …
        audited: the audited folder, as the book writes it.
        through: ids and digests by which it is reached.
        sent: where it went; empty when it never went out.
    """

    job: str
    folder: str
    deliverable: str
    audited: str
    through: tuple[str, ...]
    sent: tuple[Sent, ...]


@dataclass(frozen=True)
class RecallResult:
    """Everything that a bad grid, calibration, base, file or version touched.

    Args:
        words: what was called back.
        asked: which jobs were asked.
        records: records that name it.
        touched: deliverables that have it behind them.
    """

    words: tuple[str, ...]
    asked: Asked
    records: tuple[JobHit, ...]
    touched: tuple[Touched, ...] = ()
