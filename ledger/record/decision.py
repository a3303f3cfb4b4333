"""Deciding on a run or step: kept or not, with the reason."""

from __future__ import annotations

from pathlib import Path

from ledger.errors import UsageError
from ledger.model.entry import Draft, Entry, Kind
from ledger.model.ids import write_id
from ledger.model.phrases import find_nearest, join_choices
from ledger.model.process import Decision
from ledger.record.result import RecordResult
from ledger.specentry import enter_specification
from ledger.status import find_next_step
from ledger.store.writing import BookWriter


def record_decision(
    job: Path, process: str, decision: str, reason: str = "", by: str = "technician"
) -> RecordResult:
    """Enter what became of a run or step. The latest decision counts, the older ones stay.

    What the same person decided for the same reason already is said, and not entered again.

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
        if standing is not None and is_said:
            entry, reason = standing, known[name].reason
        else:
            enter_specification(writer, by)
            values = {"process": name, "decision": str(word), "reason": reason.strip()}
            entry = writer.append(Draft(Kind.DECISION, values, by=by))
    return RecordResult(
        entry.seq,
        name,
        str(Kind.DECISION),
        decision=str(word),
        reason=reason.strip(),
        step=find_next_step(job),
        is_new=not is_said,
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
