"""Whether an audit is still valid: one rule for everything that says so.

An audit is valid while the folder holds the files that were audited and no others, `job.toml` is
the one that it was held against, the checks are those that ran, and nothing was recorded since of
the runs, steps, flights and rigs behind the files, of tables of points, or of what a report states.

What of it is only in doubt stands apart: a file of the same size with another time, and checks
whose files are others than then (their revisions can be told by loading them alone).

Light: sizes, times and the book. Loads no plugin; where an audit had checks, it hashes the files
of their packages, and where those are others it looks up which plugins are installed.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from pathlib import Path

from ledger.audited import AuditedFile, AuditedFolder, list_audited_folders
from ledger.canonical import compute_digest
from ledger.contract.packages import compute_package_digest
from ledger.dataclass import dataclass
from ledger.errors import FileError
from ledger.jobfolder import SPECIFICATION_NAME
from ledger.lineage import Ancestry
from ledger.loading import load_part
from ledger.model.artefact import FileRecord
from ledger.model.entry import Entry, Kind
from ledger.model.filestate import FileState
from ledger.model.phrases import count_things, join_choices
from ledger.model.process import Process
from ledger.model.statement import is_stated_of
from ledger.outputs import is_untouched
from ledger.rechecked import PastRecheck, find_last_look, read_rechecks
from ledger.shortfile import read_short_file
from ledger.store.reading import Book

_NAMED = 4
_RIG = "flight.rig"
_OTHER_BYTES = (FileState.CHANGED, FileState.HEADER_CHANGED)
# Entries about a record, with the key that names it.
_ABOUT = {
    Kind.RUN: "id",
    Kind.STEP: "id",
    Kind.FLIGHT: "id",
    Kind.RIG: "id",
    Kind.POINTS: "id",
    Kind.STATEMENT: "id",
    Kind.DECISION: "process",
    Kind.AMENDMENT: "record",
}


@dataclass(frozen=True)
class FileChanges:
    """How the files of an audited folder differ from what was audited, by relative path.

    Args:
        changed: read, now or by a recheck since, and the bytes are others.
        resized: not read, and the size is another.
        missing: gone.
        added: not there at the audit.
        unread: could not be read at the audit, so that nothing is known of them.
        touched: not read; the size is the same, the time is not.
        unseen: could not be looked at now: the drive is away, the system refuses, or they lie in a
            store, which only an audit reads.
    """

    changed: tuple[str, ...] = ()
    resized: tuple[str, ...] = ()
    missing: tuple[str, ...] = ()
    added: tuple[str, ...] = ()
    unread: tuple[str, ...] = ()
    touched: tuple[str, ...] = ()
    unseen: tuple[str, ...] = ()


@dataclass(frozen=True)
class Standing:
    """Whether an audit is still valid.

    Args:
        entry: the entry of the audit.
        files: how the files differ.
        lapsed: why else it is valid no longer, one phrase each.
        doubts: what else may have ended it, one phrase each.
        accepted_verdict: the verdict with what was accepted since; empty where nobody asked.
    """

    entry: Entry
    files: FileChanges
    lapsed: tuple[str, ...] = ()
    doubts: tuple[str, ...] = ()
    accepted_verdict: str = ""

    @property
    def id(self) -> str:
        """Return the id of the deliverable."""
        return str(self.entry.values["id"])

    @property
    def folder(self) -> str:
        """Return the audited folder, as the book stores it."""
        return str(self.entry.values["folder"])

    @property
    def verdict(self) -> str:
        """Return the verdict of the audit, before any acceptance."""
        return str(self.entry.values.get("verdict", ""))

    @property
    def reasons(self) -> tuple[str, ...]:
        """Return why it is valid no longer; empty when nothing shows that."""
        files = self.files
        return (
            *_count(files.changed, "changed"),
            *_count(files.resized, "of another size"),
            *_count(files.missing, "missing"),
            *_count(files.added, "added"),
            *_count(files.unread, "could not be read at the audit"),
            *self.lapsed,
        )

    @property
    def open_questions(self) -> tuple[str, ...]:
        """Return what may have ended it and could not be told."""
        return (
            *_count(self.files.touched, "with another time, size the same"),
            *_count(self.files.unseen, "not seen"),
            *self.doubts,
        )

    @property
    def holds(self) -> bool:
        """Say whether nothing speaks against it, and nothing is open."""
        return not (self.reasons or self.open_questions)

    @property
    def sentence(self) -> str:
        """Return how it stands; empty while it holds."""
        if self.reasons:
            return f"It holds no longer: {'; '.join(self.reasons)}."
        if self.open_questions:
            return f"It may hold no longer: {'; '.join(self.open_questions)}."
        return ""


def _count(names: tuple[str, ...], what: str) -> Iterator[str]:
    if names:
        some = ", ".join(names[:_NAMED]) + (", …" if len(names) > _NAMED else "")
        yield f"{count_things(len(names), 'file')} {what} ({some})"


def judge_by_look(book: Book, audit: AuditedFolder) -> Standing:
    """Return how an audit stands, by sizes and times; no audited file is read."""
    seen = {record.path: record for record in book.files_last_seen()}
    return judge(book, audit, look_at_files(audit, seen, read_rechecks(book)))


def judge(book: Book, audit: AuditedFolder, files: FileChanges) -> Standing:
    """Return how an audit stands.

    Args:
        book: an open book.
        audit: the audit.
        files: how its files differ, however that was found out.
    """
    lapsed, doubts = _find_check_changes(audit.entry)
    return Standing(
        audit.entry,
        files,
        (
            *_find_new_wishes(book, audit.entry),
            *_find_new_records(book, audit),
            *_find_new_inputs(book, audit.entry),
            *lapsed,
        ),
        doubts,
    )


def list_audits_of(book: Book, record: str) -> tuple[AuditedFolder, ...]:
    """Return the latest audits of folders whose files go back to a run, step, flight or rig.

    Args:
        book: an open book.
        record: its id.
    """
    audits = list_audited_folders(book)
    return tuple(audit for audit in audits if record in _list_records_behind(book, audit))


def look_at_files(
    audit: AuditedFolder, seen: Mapping[str, FileRecord], rechecks: Sequence[PastRecheck]
) -> FileChanges:
    """Return how the files of a folder differ, by sizes and times.

    Args:
        audit: the audit.
        seen: the latest record of every path in the book: a time that was noted since the audit,
            of the same bytes, is as good as that of the audit.
        rechecks: all rechecks, newest first: what one of them found changed since the audit stays
            so until another has read it.
    """
    since = [past for past in rechecks if past.entry.seq > audit.entry.seq]

    def look_at(file: AuditedFile) -> str:
        look = find_last_look(since, file.path)
        is_changed = look is not None and look.state in _OTHER_BYTES
        return "changed" if is_changed else _look_at(file, seen.get(file.path))

    return gather_changes(audit, look_at)


def gather_changes(audit: AuditedFolder, look_at: Callable[[AuditedFile], str]) -> FileChanges:
    """Return how the files of a folder differ, however each of them was looked at.

    Args:
        audit: the audit.
        look_at: how one file that could be read at the audit is now: a field of `FileChanges`, or
            another word where it is the same.
    """
    if audit.is_in_store:
        return FileChanges(unseen=tuple(sorted(audit.files)))
    found: dict[str, list[str]] = {}
    for name, file in sorted(audit.files.items()):
        found.setdefault(look_at(file) if file.sha256 else "unread", []).append(name)
    return FileChanges(
        changed=tuple(found.get("changed", ())),
        resized=tuple(found.get("resized", ())),
        missing=tuple(found.get("missing", ())),
        added=audit.added if audit.is_listable else (),
        unread=tuple(found.get("unread", ())),
        touched=tuple(found.get("touched", ())),
        unseen=(*found.get("unseen", ()), *(() if audit.is_listable else (audit.folder,))),
    )


def _look_at(file: AuditedFile, later: FileRecord | None) -> str:
    if not os.path.isfile(file.place):
        return "missing"
    audited = FileRecord(file.path, file.sha256, file.bytes, file.mtime_ns, "")
    known = [audited, later] if later is not None and later.sha256 == file.sha256 else [audited]
    if any(is_untouched(file.place, record) for record in known):
        return "untouched"
    try:
        return "touched" if file.place.stat().st_size == file.bytes else "resized"
    except OSError:
        return "missing"


def _find_new_wishes(book: Book, entry: Entry) -> Iterator[str]:
    """Yield whether `job.toml` is another one than the audit was held against."""
    try:
        content = read_short_file(book.folder / SPECIFICATION_NAME, SPECIFICATION_NAME)
    except FileError:
        if entry.values["specification"]:  # empty for an audit without one
            yield "job.toml is gone or cannot be read"
        return
    if compute_digest(content) != entry.values["specification"]:
        yield "job.toml is not the one that it was held against"


def _find_new_inputs(book: Book, entry: Entry) -> Iterator[str]:
    """Yield which table of points or outline is another than the one that the audit read.

    One that was at fault at the audit gave it nothing; one that is away now, as a table that came
    on a stick, says nothing of what it was.
    """
    boundary = entry.values.get("boundary")
    read = [*(entry.values.get("tables") or ()), *([boundary] if boundary else ())]
    for each in read:
        place = Path(os.path.abspath(book.folder / each["path"]))  # noqa: PTH100 - links stay links
        if each.get("fault") or not place.is_file():
            continue
        try:
            is_same = compute_digest(read_short_file(place, each["path"])) == each["sha256"]
        except FileError:
            continue  # what cannot be read is told by recheck
        if not is_same:
            yield f"{each['path']} is not the one that it was held against"


def _find_new_records(book: Book, audit: AuditedFolder) -> Iterator[str]:
    """Yield whether anything was recorded since of what is behind the audited files."""
    later = {
        str(entry.values.get(_ABOUT[Kind(entry.kind)], ""))
        for entry in book.entries(*_ABOUT, since=audit.entry.seq + 1)
    }
    touched = sorted(later & _list_records_behind(book, audit)) if later else []
    if touched:
        yield f"more was recorded of {join_choices(touched).replace(' or ', ' and ')}"


def _list_records_behind(book: Book, audit: AuditedFolder) -> set[str]:
    ancestry = Ancestry(book)
    makers: dict[str, Process] = {}
    for sha256 in {file.sha256 for file in audit.files.values() if file.sha256}:
        for line in ancestry.find_custody(sha256).lines:
            makers[line.processes[0].id] = line.processes[0]
    processes = ancestry.list_ancestors(makers.values())
    flights = {item.flight for process in processes for item in process.inputs if item.flight}
    rigs = {
        str(card.values[_RIG].value)
        for card in book.cards("flight")
        if card.id in flights and _RIG in card.values
    }
    # What surveyed points show of the cloud hangs on how their tables are declared.
    tables = {card.id for card in book.cards("points")}
    made = {process.id for process in processes}
    return made | flights | rigs | tables | _list_statements(book, audit, made)


def _list_statements(book: Book, audit: AuditedFolder, made: set[str]) -> set[str]:
    """Return the statements about a folder or what made it: an audit holds them against tables."""
    audits = {
        str(entry.values["id"])
        for entry in book.entries(Kind.AUDIT)
        if entry.values["folder"] == audit.folder
    }
    return {
        card.id
        for card in book.cards("statement")
        if is_stated_of(card.values, audit.folder, made | audits)
    }


def _find_check_changes(entry: Entry) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Return what is known, and what may be, of checks that are not as they were.

    The same files of a plugin have the same revisions of its checks.
    """
    used = [
        (name, version, digest)
        for name, version, digest, module in _list_plugins(entry.values.get("checks") or ())
        if not _has_same_files(module, digest)
    ]
    if not used:
        return (), ()
    installed = load_part("ledger.contract.origin", "read_installed")()
    digests = {plugin.digest for plugin in installed}
    versions = {plugin.name: plugin.version for plugin in installed}
    lapsed, doubts = [], []
    for name, version, digest in used:
        if digest in digests:
            continue
        if name not in versions:
            lapsed.append(f"the checks of {name} are not installed")
        else:
            now = f", now {versions[name]}" if versions[name] != version else ", changed since"
            doubts.append(f"its checks were those of {name} {version}{now}")
    return tuple(lapsed), tuple(doubts)


def _list_plugins(checks: Iterable[Mapping[str, object]]) -> list[tuple[str, str, str, str]]:
    """Return name, version, digest and module of each plugin; no module in older entries."""
    names = ("plugin", "version", "digest", "module")
    rows = {tuple(str(check.get(name, "")) for name in names) for check in checks}
    return sorted((row[0], row[1], row[2], row[3]) for row in rows)


def _has_same_files(module: str, digest: str) -> bool:
    """Say whether the package that was used then has the same files now.

    Asking first what is installed would take a fifth of a small command.
    """
    if not (module and digest):
        return False
    try:
        return compute_package_digest(module) == digest
    except (OSError, ImportError, ValueError):
        return False
