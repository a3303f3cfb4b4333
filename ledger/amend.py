"""Striking a recorded value through and writing the right one beside it, with a reason.

Invariants:

- A value that nobody knows after all is struck through and left blank: a guess is no correction.
- The old value stays in the book, in its own entry and in that of the amendment.
- Digests, counts, decisions and past audits are no values of a record: they cannot be amended. A
  file that a record names is amended by naming the right file, which is read.
"""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from ledger.auditentry import read_latest_audits
from ledger.dataclass import dataclass
from ledger.errors import UsageError
from ledger.forms import find_field, require_sense
from ledger.model.entry import Draft, Kind
from ledger.model.ids import read_id
from ledger.model.known import KnownValue
from ledger.model.phrases import join_choices
from ledger.model.process import Card, CardKind, Process
from ledger.record.answers import Answers
from ledger.settings.typedtext import require_no_secret
from ledger.specentry import enter_specification
from ledger.store.reading import Book
from ledger.store.writing import BookWriter

_DECIDED = ("decision", "reason")
_AMENDABLE = (
    "a run, step, flight, rig, statement or table (R1, S1, F1, G1, T1, P1), or entry:N of one"
)


@dataclass(frozen=True)
class Amended:
    """One value that was struck through.

    Args:
        field: key of the record field.
        before: what stood there; None where it was blank.
        after: what stands there now; None where it was left blank.
    """

    field: str
    before: KnownValue | None
    after: KnownValue | None


@dataclass(frozen=True)
class AmendResult:
    """What an amendment did.

    Args:
        entry: number of its entry.
        id: the record.
        kind: `run`, `step`, `flight`, `rig`, `statement` or `points`.
        values: the values, in the order given.
        reason: why.
        audits: folders whose latest audit was made before, and judged what is now amended.
    """

    entry: int
    id: str
    kind: str
    values: tuple[Amended, ...]
    reason: str
    audits: tuple[str, ...]


def amend_record(  # noqa: PLR0913 - what is amended, how, why and by whom
    job: Path,
    record: str,
    settings: tuple[str, ...],
    reason: str,
    by: str = "technician",
    *,
    blanks: tuple[str, ...] = (),
) -> AmendResult:
    """Enter right values for a record, and why the old ones were wrong.

    Args:
        job: the job folder.
        record: `R1`, `run:R1`, or `entry:31` that recorded it.
        settings: texts `key=value`.
        reason: why, in one line.
        by: function of the person.
        blanks: keys whose value is struck through and nothing written beside it.

    Raises:
        UsageError: no such record, nothing to amend, no reason, or an answer that cannot be used.
        FileError: a file that an answer names cannot be read.
        BookError: the book cannot be used.
    """
    if not reason.strip():
        raise UsageError("the reason is blank", remedy='add --reason "…"')
    require_no_secret(reason, "the reason")
    with Book.open(job) as book:
        found = _find_record(book, record)
    given = _read_given(found, settings, blanks, job)
    require_sense({**found.values, **{key: known for key, known in given.items() if known}})
    values = tuple(Amended(key, found.values.get(key), known) for key, known in given.items())
    stored = {
        "record": found.id,
        "values": {each.field: each.after and each.after.to_values() for each in values},
        "struck": {each.field: each.before and each.before.to_values() for each in values},
        "reason": reason.strip(),
    }
    with BookWriter.open(job) as writer:
        enter_specification(writer, by)
        entry = writer.append(Draft(Kind.AMENDMENT, stored, by=by))
        audits = _list_audits(writer, found)
    return AmendResult(entry.seq, found.id, _kind_of(found), values, reason.strip(), audits)


def _list_audits(book: Book, record: Process | Card) -> tuple[str, ...]:
    """Return the folders whose latest audit may have judged a record; none judges a statement."""
    if _kind_of(record) == "statement":
        return ()
    return tuple(dict.fromkeys(audit.folder for audit in read_latest_audits(book)))


def _find_record(book: Book, typed: str) -> Process | Card:
    """Return the record that is meant.

    Raises:
        UsageError: there is none, or what is meant cannot be amended.
    """
    name = _find_entry_id(book, typed) if typed.lower().startswith("entry:") else typed
    meant = read_id(name)
    found = None if meant is None else book.process(meant.name) or book.card(meant.name)
    if found is not None:
        return found
    if meant is not None and meant.kind == "audit":
        raise UsageError(
            "a past audit cannot be amended",
            found=meant.name,
            remedy="amend what it judged, and audit again",
        )
    cards = [card for kind in _CARD_KINDS.values() for card in book.cards(kind)]
    known = [each.id for each in cards] + [each.id for each in book.processes()]
    expected = join_choices(known) if known else _AMENDABLE
    raise UsageError("there is no such record", found=typed, expected=expected)


def _find_entry_id(book: Book, typed: str) -> str:
    number = typed.partition(":")[2]
    entry = book.entry(int(number)) if number.isdecimal() else None
    if entry is None:
        raise UsageError("there is no such entry", found=typed, expected=f"entry:1 to {book.size}")
    name = entry.values.get("id", entry.values.get("record", ""))
    if read_id(name) is None:
        raise UsageError(
            f"an entry of kind {entry.kind} cannot be amended", found=typed, expected=_AMENDABLE
        )
    return str(name)


def _kind_of(record: Process | Card) -> str:
    return record.kind if isinstance(record, Process) else _CARD_KINDS[record.id[0]]


_CARD_KINDS: dict[str, CardKind] = {"F": "flight", "G": "rig", "T": "statement", "P": "points"}


def _read_given(
    record: Process | Card, settings: tuple[str, ...], blanks: tuple[str, ...], job: Path
) -> Mapping[str, KnownValue | None]:
    if not settings and not blanks:
        raise UsageError(
            "nothing to amend was named", remedy='add --set key="right value", or --blank key'
        )
    given = Answers(settings=settings).read(_kind_of(record), job)
    emptied = _read_blanks(record, blanks)
    twice = sorted(given.keys() & set(emptied))
    if twice:
        raise UsageError(f"{twice[0]} is set and left blank at once", remedy="say one of the two")
    for key, known in given.items():
        _require_value(record, key)
        before = record.values.get(key)
        if before is not None and before.confirmed and _is_same(before, known):
            raise UsageError(f"{key} of {record.id} is that already", found=str(known.value))
    return {**given, **dict.fromkeys(emptied)}


def _read_blanks(record: Process | Card, blanks: tuple[str, ...]) -> tuple[str, ...]:
    """Return the keys whose value is struck through, once each.

    Raises:
        UsageError: no such field, a decision, or a field that is blank already.
    """
    keys = tuple(dict.fromkeys(find_field(_kind_of(record), name).key for name in blanks))
    for key in keys:
        _require_value(record, key)
        if key not in record.values:
            raise UsageError(f"{key} of {record.id} is blank already")
    return keys


def _require_value(record: Process | Card, key: str) -> None:
    if isinstance(record, Process) and key.partition(".")[2] in _DECIDED:
        raise UsageError(
            f"{key} is a decision, which is not amended but made anew",
            remedy=f'type swathbook record decision {record.id} … --reason "…"',
        )


def _is_same(before: KnownValue, after: KnownValue) -> bool:
    return (before.value, before.unit) == (after.value, after.unit)
