"""What a job's book, and the books of other jobs, say beyond what stands behind a delivery."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import field

from ledger.dataclass import dataclass
from ledger.model.artefact import FileRecord
from ledger.model.process import Card, Process


@dataclass(frozen=True)
class Elsewhere:
    """The bytes of a file in another job that this computer knows.

    Args:
        job: reference of that job, or the name of its folder where it has none.
        folder: its folder.
        path: where the file lies there, as that book writes it.
        role: what it is there.
        time: when it was registered there, UTC.
    """

    job: str
    folder: str
    path: str
    role: str
    time: str


@dataclass(frozen=True)
class RawFile:
    """A registered file of a flight behind a delivery, or of no flight at all.

    Args:
        file: the file as it was registered.
        flight: id of the flight that it was registered with; empty for none.
        entry: the entry that registered it.
        time: when that was, UTC.
        copies: copies on different volumes that were read back, with nothing found wrong since.
        last_read: when its bytes were last read and found as registered, at any place, UTC.
        wrong: what is wrong with it by now, by place: `changed`, `missing` …
        elsewhere: other jobs in which the same bytes are registered.
    """

    file: FileRecord
    flight: str = ""
    entry: int = 0
    time: str = ""
    copies: int = 0
    last_read: str = ""
    wrong: Mapping[str, str] = field(default_factory=dict)
    elsewhere: tuple[Elsewhere, ...] = ()


@dataclass(frozen=True)
class Precedent:
    """What a run or step can be held against.

    Args:
        accepted: the last one of its kind that was accepted before it; None for none.
        job: name of the other job that it is from; empty for this one.
        former: the last earlier run of this job that was made from a flight or file in common,
            whatever became of it; None for none.
    """

    accepted: Process | None = None
    job: str = ""
    former: Process | None = None


@dataclass(frozen=True)
class PastAudit:
    """The latest audit of a folder before this one.

    Args:
        id: id of the deliverable.
        folder: the folder as it is typed in the job folder.
        entry: the entry of the audit.
        time: when it was, UTC.
        verdict: its verdict, before any acceptance.
        files: digest of every file, by path below the folder.
    """

    id: str
    folder: str
    entry: int
    time: str
    verdict: str
    files: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True)
class JobRecords:
    """What the books say beyond what stands behind a delivery.

    Args:
        raw: registered files of the flights behind the delivery and of no flight, by path.
        own_digests: digests of all files that were registered in this job.
        inputs_elsewhere: other jobs in which a file that a run used is registered, by digest.
        copies_needed: good copies that each raw file has to have.
        precedents: what each run and step behind the delivery can be held against, by its id.
        rigs: every rig of the job, as last recorded, whether it was flown for this or not.
        statements: numbers about accuracy that reports state.
        audits: the latest audit of every folder, by folder.
        jobs: number of other jobs that this computer knows and could ask.
        unreached: folders of other jobs that are not there now, or whose book cannot be read.
        time: when all this was looked up, UTC, RFC 3339; empty where nobody did.
    """

    raw: tuple[RawFile, ...] = ()
    own_digests: frozenset[str] = frozenset()
    inputs_elsewhere: Mapping[str, tuple[Elsewhere, ...]] = field(default_factory=dict)
    copies_needed: int = 2
    precedents: Mapping[str, Precedent] = field(default_factory=dict)
    rigs: tuple[Card, ...] = ()
    statements: tuple[Card, ...] = ()
    audits: tuple[PastAudit, ...] = ()
    jobs: int = 0
    unreached: tuple[str, ...] = ()
    time: str = ""
