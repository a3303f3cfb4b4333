"""What `recheck` shows."""

from __future__ import annotations

from typing import Annotated, TypedDict

from rich.console import Group, RenderableType

from ledger.model.phrases import count_things, describe_bytes
from ledger.recheck.states import CheckedFile, FileState, RecheckResult
from ledger.report.screen import (
    BAD,
    DOUBT,
    GOOD,
    QUIET,
    STRONG,
    make_table,
    next_step,
    say,
    say_sentence,
    title,
)
from ledger.standing import Standing

_STATE_STYLE = {
    FileState.AS_RECORDED: "",
    FileState.CHANGED: BAD,
    FileState.HEADER_CHANGED: BAD,
    FileState.MISSING: BAD,
    FileState.NOT_CONNECTED: DOUBT,
    FileState.UNREADABLE: BAD,
    FileState.UNKNOWN: DOUBT,
}


class CheckedFileJson(TypedDict):
    """One file."""

    path: Annotated[str, "as the book stores it"]
    state: Annotated[str, "how it stands against the book"]
    recorded: Annotated[str, "digest in the book"]
    found: Annotated[str, "digest of the bytes there now"]
    audits: Annotated[list[str], "audits that hold no longer because of it"]
    sentence: Annotated[str, "what is wrong, in one sentence"]


class StandingJson(TypedDict):
    """Whether an audited folder is still what was audited."""

    id: Annotated[str, "id of the deliverable"]
    entry: Annotated[int, "entry of its latest audit"]
    folder: Annotated[str, "the audited folder"]
    verdict: Annotated[str, "its verdict then"]
    holds: Annotated[bool, "same files, same job.toml, same checks, nothing recorded since"]
    reasons: Annotated[list[str], "why it is valid no longer"]
    open: Annotated[list[str], "what may have ended it and could not be told"]


class RecheckJson(TypedDict):
    """What `recheck --json` prints."""

    schema: Annotated[int, "1"]
    book: Annotated[str, "unbroken or broken"]
    first_broken_entry: Annotated[int | None, "number of the first entry that does not fit"]
    entry: Annotated[int | None, "entry made; null when it was not entered"]
    not_entered: Annotated[str, "why it was not entered"]
    counts: Annotated[dict[str, int], "files by state"]
    files: Annotated[list[CheckedFileJson], "those not as recorded; all with --all"]
    audits: Annotated[list[StandingJson], "latest audit of every folder"]


def make_json(result: RecheckResult) -> RecheckJson:
    """Return the object that `--json` prints."""
    return {
        "schema": 1,
        "book": result.book,
        "first_broken_entry": result.first_broken_entry,
        "entry": result.entry,
        "not_entered": result.not_entered,
        "counts": {str(state): count for state, count in result.counts.items()},
        "files": [_describe(file) for file in result.listed],
        "audits": [_describe_standing(audit) for audit in result.audits],
    }


def _describe(file: CheckedFile) -> CheckedFileJson:
    return {
        "path": file.path,
        "state": str(file.state),
        "recorded": file.recorded,
        "found": file.found,
        "audits": list(file.audits),
        "sentence": file.sentence,
    }


def _describe_standing(audit: Standing) -> StandingJson:
    return {
        "id": audit.id,
        "entry": audit.entry.seq,
        "folder": audit.folder,
        "verdict": audit.verdict,
        "holds": audit.holds,
        "reasons": list(audit.reasons),
        "open": list(audit.open_questions),
    }


def make_screen(result: RecheckResult) -> RenderableType:
    """Return what a person reads."""
    parts: list[RenderableType] = [_say_head(result)]
    broken = result.book != "unbroken"
    parts.append(say_sentence(result.book_sentence, BAD if broken else ""))
    if not result.book_only:
        counts = ", ".join(f"{count:,} {state}" for state, count in result.counts.items())
        parts.append(
            say(f"Files: {counts or 'none recorded'}; {describe_bytes(result.bytes)} read.")
        )
    if result.listed:
        parts += [title("Files" if result.all_files else "Not as recorded"), _tabulate(result)]
    for audit in result.audits:
        parts.append(_say_standing(audit))
    if result.entry is not None:
        parts.append(say(f"Entered as entry {result.entry}.", QUIET))
    elif result.not_entered:
        parts.append(say(f"Not entered: {result.not_entered}.", DOUBT))
    changed = [file for file in result.listed if file.state is FileState.CHANGED]
    if changed:
        parts.append(next_step(f"swathbook trace {changed[0].recorded[:12]}", "what it was"))
    return Group(*parts)


def _say_head(result: RecheckResult) -> RenderableType:
    if result.book != "unbroken":
        return say("The book is broken.", BAD)
    if result.state_ok and any(
        state is not FileState.AS_RECORDED for state, count in result.counts.items() if count
    ):
        # A second place of the same bytes is gone: no loss, and still not "everything".
        return say("Nothing is lost: what is not as recorded was read at another place.", DOUBT)
    if result.state_ok:
        what = "The book is unbroken." if result.book_only else "Everything is as recorded."
        return say(what, GOOD)
    wrong = sum(n for state, n in result.counts.items() if state is not FileState.AS_RECORDED)
    return say(
        f"{count_things(wrong, 'file')} not as recorded.", DOUBT if result.is_incomplete else BAD
    )


def _tabulate(result: RecheckResult) -> RenderableType:
    table = make_table("state", "file", "what that means")
    for file in result.listed:
        table.add_row(
            say(str(file.state), _STATE_STYLE[file.state]), say(file.path), say(file.sentence)
        )
    return table


def _say_standing(audit: Standing) -> RenderableType:
    what = f"Audit {audit.id} of {audit.folder} ({audit.verdict}, entry {audit.entry.seq})"
    if audit.holds:
        return say(f"{what} still holds.", STRONG)
    return say(f"{what}. {audit.sentence}", BAD if audit.reasons else DOUBT)
