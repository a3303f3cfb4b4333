"""Deciding on a run or step: kept or not, with the reason."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from ledger.errors import UsageError
from ledger.model.entry import Draft, Entry, Kind
from ledger.model.ids import write_id
from ledger.model.phrases import find_nearest, join_choices
from ledger.model.process import Decision
from ledger.model.typed import quote_path
from ledger.record.notes import Note
from ledger.record.result import RecordResult
from ledger.settings.typedtext import require_no_secret
from ledger.specentry import enter_specification
from ledger.standing import list_audits_of
from ledger.status import find_next_step
from ledger.store.reading import Book
from ledger.store.writing import BookWriter


def record_decision(
    job: Path, process: str, decision: str, reason: str = "", by: str = "technician"
) -> RecordResult:
    """Enter what became of a run or step. The latest decision counts, the older ones stay.

    What the same person decided for the same reason already is said, and not entered again. Audits
    that judged the run or step as it stood before are named.

    Args:
        job: the job folder.
        process: id of the run or step.
        decision: `accepted`, `rejected`, `superseded` or `undecided`, or the beginning of one.
        reason: the reason, in one line.
        by: function of the person.

    Raises:
        UsageError: no such run, or no such decision.
        BookError: the book cannot be used.
    """
    word = _read_decision(decision)
    require_no_secret(reason, "the reason")
    name = write_id(process)
    with BookWriter.open(job) as writer:
        known = {each.id: each for each in writer.processes()}
        if name not in known:
            raise UsageError(
                "there is no such run or step",
                found=process,
                expected=join_choices(known) if known else "",
                remedy="" if known else "record it first: swathbook record",
            )
        standing = writer.entry(known[name].decision_entry)
        is_said = _says(standing, word, reason.strip(), by)
        notes: tuple[Note, ...] = ()
        if standing is not None and is_said:
            entry, reason = standing, known[name].reason
        else:
            enter_specification(writer, by)
            values = {"process": name, "decision": str(word), "reason": reason.strip()}
            entry = writer.append(Draft(Kind.DECISION, values, by=by))
            notes = tuple(_tell_audits(writer, name))
    return RecordResult(
        entry.seq,
        name,
        str(Kind.DECISION),
        decision=str(word),
        reason=reason.strip(),
        step=find_next_step(job),
        is_new=not is_said,
        notes=notes,
    )


def _tell_audits(book: Book, name: str) -> Iterator[Note]:
    """Yield which audits the decision follows, and that they hold no longer."""
    for audit in list_audits_of(book, name):
        verdict = str(audit.entry.values.get("verdict", ""))
        told = f" (“{verdict}”)" if verdict else ""
        yield Note(
            f"This follows audit {audit.id} of {audit.folder}{told}, which judged {name} as it "
            f"stood before and holds no longer: swathbook audit {quote_path(audit.folder)}."
        )


def _says(standing: Entry | None, word: Decision, reason: str, by: str) -> bool:
    """Say whether an entry holds this very decision; without a reason any reason will do."""
    if standing is None or standing.by != by or standing.values["decision"] != word:
        return False
    return not reason or standing.values["reason"] == reason


def _read_decision(typed: str) -> Decision:
    word = typed.strip().lower()
    matching = [each for each in Decision if each.startswith(word)] if word else []
    if len(matching) == 1:
        return matching[0]
    nearest = find_nearest(word, Decision)
    raise UsageError(
        "that is no decision",
        found=f'"{typed}"',
        expected=join_choices(Decision),
        remedy=f"did you mean {nearest}?" if nearest else "",
    )
