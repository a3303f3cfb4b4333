"""The object that `recheck --json` prints."""

from __future__ import annotations

from typing import Annotated, TypedDict

from ledger.recheck.against import SealAnswer
from ledger.recheck.states import CheckedFile, CopiesAnswer, RecheckResult
from ledger.report.timestamp import StampJson, describe_stamp
from ledger.standing import Standing


class CheckedFileJson(TypedDict):
    """One file."""

    path: Annotated[str, "as the book stores it"]
    state: Annotated[str, "how it stands against the book"]
    recorded: Annotated[str, "digest in the book"]
    recorded_bytes: Annotated[int | None, "size in the book; null where that is not known"]
    recorded_entry: Annotated[int | None, "latest entry that recorded these bytes there"]
    recorded_time: Annotated[str, "when that was entered, UTC; empty where that is not known"]
    found: Annotated[str, "digest of the bytes there now"]
    found_bytes: Annotated[int | None, "size of what is there now; null where none was read"]
    good_at: Annotated[str, "path at which the recorded bytes were read; empty for nowhere"]
    known_at: Annotated[str, "path at which the book saw them and nobody looked now"]
    volume: Annotated[str, "id of its drive; empty where its path alone tells the place"]
    now_at: Annotated[str, "where it lies now, its drive connected elsewhere; else empty"]
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


class RawCopiesJson(TypedDict):
    """Whether there are enough good copies of the raw files."""

    enough: Annotated[bool, "every raw file has as many good copies as are needed"]
    needed: Annotated[int, "good copies that each raw file needs"]
    good: Annotated[int, "good copies on different volumes that every raw file has"]
    read: Annotated[int, "those of them that were read now"]
    sentence: Annotated[str, "the answer, and where the copies lie"]
    care: Annotated[list[str], "what has to be looked after, although nothing is wrong"]


class SealAnswerJson(TypedDict):
    """The book held against one seal."""

    seal: Annotated[str, "its file, or the root as it was typed"]
    state: Annotated[str, "holds, entries are missing, other entries, another book, or not genuine"]
    sentence: Annotated[str, "the same in words"]
    size: Annotated[int | None, "entries that it covers; null where nothing tells"]
    later: Annotated[int, "entries of the book after those"]
    signature: Annotated[str, "who vouches for the seal; empty for a typed root"]


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
    copies: Annotated[RawCopiesJson | None, "copies of the raw files; null with --book-only"]
    seals: Annotated[list[SealAnswerJson], "what --against gave"]
    timestamps: Annotated[list[StampJson], "time stamps over the book's seals, with --against"]
    retention: Annotated[str, "until when a closed job is kept; empty while it is open"]


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
        "copies": None if result.copies is None else _describe_copies(result.copies),
        "seals": [_describe_seal(seal) for seal in result.seals],
        "timestamps": [describe_stamp(each) for each in result.stamps],
        "retention": result.retention,
    }


def _describe_seal(seal: SealAnswer) -> SealAnswerJson:
    return {
        "seal": seal.seal,
        "state": str(seal.state),
        "sentence": seal.sentence,
        "size": seal.size,
        "later": seal.later,
        "signature": seal.signature,
    }


def _describe_copies(copies: CopiesAnswer) -> RawCopiesJson:
    return {
        "enough": copies.is_enough,
        "needed": copies.needed,
        "good": copies.good,
        "read": copies.read,
        "sentence": copies.sentence,
        "care": list(copies.care),
    }


def _describe(file: CheckedFile) -> CheckedFileJson:
    noted = file.noted
    return {
        "path": file.path,
        "state": str(file.state),
        "recorded": file.recorded,
        "recorded_bytes": None if noted is None else noted.bytes,
        "recorded_entry": None if noted is None else noted.entry,
        "recorded_time": "" if noted is None else noted.time,
        "found": file.found,
        "found_bytes": file.found_bytes,
        "good_at": file.good_at,
        "known_at": file.known_at,
        "volume": file.drive,
        "now_at": file.now_at,
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
