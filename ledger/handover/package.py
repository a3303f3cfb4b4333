"""What is handed over, as plain records for whoever prints it."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from ledger.auditentry import StoredAudit, StoredFinding
from ledger.dataclass import dataclass
from ledger.model.acceptance import Acceptance
from ledger.model.figure import Figure
from ledger.model.verdict import Verdict
from ledger.trace.nodes import ChainNode

if TYPE_CHECKING:  # maps load numpy, and not every audit has one
    from ledger.model.raster import Raster


@dataclass(frozen=True)
class Wishes:
    """What the person says of a handover.

    Args:
        to: function of whoever receives it ("client engineer"), never a name.
        use: what it is intended for.
        limits: what it is not to be used for, or where it does not hold.
        revision: name of this issue of the delivery; the next number when empty.
        supersedes: id of the transmittal that this one replaces; `none` for none; when empty, the
            last one of the same folder to the same recipient.
        despite: why it goes out although the audit does not allow it; empty when it has to.
        by: function of the person who hands over.
        with_places: photos that tell where they were taken go out as they are.
        bag: a bag of the delivery and its papers is wanted.
    """

    to: str
    use: str
    limits: str = ""
    revision: str = ""
    supersedes: str = ""
    despite: str = ""
    by: str = "technician"
    with_places: bool = False
    bag: bool = False


@dataclass(frozen=True)
class Fact:
    """One line of the sheet: what the records behind a delivery say.

    Args:
        label: as the trade calls it.
        values: what is stated, each once, with how it is known and by which record; empty when
            nothing is recorded.
        wanted: what `job.toml` asks for; empty where it asks for nothing, or says the same.
    """

    label: str
    values: tuple[str, ...]
    wanted: str = ""


@dataclass(frozen=True)
class Listed:
    """One file of the delivery.

    Args:
        path: relative to the folder.
        sha256: digest.
        bytes: size.
    """

    path: str
    sha256: str
    bytes: int


@dataclass(frozen=True)
class Package:
    """One handover, ready to be printed.

    Args:
        id: `H1`, `H2` …
        entry: its entry.
        time: when it was entered, UTC.
        root: root of the book after that entry, 32 bytes.
        wishes: what the person said, revision and what it supersedes filled in.
        job: reference and title of the job, as far as they are stated.
        folder: the folder as the book writes it.
        audit: the audit that it stands on.
        verdict: its verdict with every acceptance.
        accepted: minor findings that somebody took.
        facts: what the records say of the delivery.
        copies: where good copies of the raw data lie, in one sentence; empty where none are kept.
        files: every file, sorted by path.
        points: points counted by the audit; None where it read none.
        figures: numbers that the audit told.
        maps: maps that the audit kept.
        chain: what it was made from, back to the raw data.
        lapsed: why the audit held no longer when it went out, one clause each.
    """

    id: str
    entry: int
    time: str
    root: bytes
    wishes: Wishes
    job: tuple[str, str]
    folder: str
    audit: StoredAudit
    verdict: Verdict
    accepted: tuple[tuple[StoredFinding, Acceptance], ...]
    facts: tuple[Fact, ...]
    copies: str
    files: tuple[Listed, ...]
    points: int | None
    figures: tuple[Figure, ...] = ()
    maps: tuple[Raster, ...] = ()
    chain: tuple[ChainNode, ...] = ()
    lapsed: tuple[str, ...] = ()

    @property
    def lapse(self) -> str:
        """Return that the audit held no longer, in one sentence; empty where it held."""
        if not self.lapsed:
            return ""
        return f"The audit held no longer when this went out: {'; '.join(self.lapsed)}."

    @property
    def bytes(self) -> int:
        """Return the size of all files."""
        return sum(file.bytes for file in self.files)


@dataclass(frozen=True)
class HandoverResult:
    """What came of a handover.

    Args:
        folder: the folder that was to be handed over, as the book writes it.
        refused: why nothing was handed over, one sentence each; empty when it was.
        package: what was handed over; None when it was refused.
        papers: the folder with the papers; None when it was refused.
        written: names of the papers in it.
        bag: the bag; None where none was wanted.
        again: the transmittal was entered earlier; only its papers were written anew.
    """

    folder: str
    refused: tuple[str, ...] = ()
    package: Package | None = None
    papers: Path | None = None
    written: tuple[str, ...] = ()
    bag: Path | None = None
    again: bool = False
