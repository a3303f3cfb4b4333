"""What `recheck` shows: the answer, the counts, then each file that is not as it was recorded.

A wrong file is told by what the book noted of it against what is there now, and by where the
recorded bytes are still to be had.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from rich.console import Group, RenderableType
from rich.text import Text

from ledger.model.address import is_address
from ledger.model.phrases import agree, count_things, describe_bytes
from ledger.model.typed import quote_path
from ledger.recheck.against import SealAnswer
from ledger.recheck.states import CheckedFile, FileState, Noted, RecheckResult
from ledger.report.screen import (
    BAD,
    DOUBT,
    GOOD,
    QUIET,
    STRONG,
    next_step,
    say,
    say_lines,
    say_sentence,
    title,
)
from ledger.report.timestamp import say_stamps
from ledger.standing import Standing
from ledger.volumes import find_volume

_TITLES = {
    FileState.CHANGED: "Changed: other bytes than the book recorded",
    FileState.HEADER_CHANGED: "Header changed: the points are as recorded, the header is not",
    FileState.MISSING: "Missing",
    FileState.UNREADABLE: "Cannot be read",
    FileState.UNKNOWN: "Not in the book",
    FileState.NOT_CONNECTED: "On a drive that is not connected",
    FileState.CARD_CLEARED: "On a card that was cleared, with enough good copies elsewhere",
    FileState.AS_RECORDED: "As recorded",
}
_IN_STORE = "In a store, which only an audit reads"
# In a list of counts a comma would make two states of one.
_HEADER_ONLY = "changed in the header only"
_SHOWN = 5
_NAMED = 4
_MANY = 3
_SHOWN_DIGITS = 8  # enough to be typed after `trace`
_TYPED_DIGITS = 12
_TO_THE_MINUTE = len("2026-05-14 10:00")
_ADVICE = (
    "Keep this file as it is. Fetch an older copy of swathbook.sqlite from a backup or a drive"
)
_COPY = "swathbook register PATH --copy-to DRIVE"
_RECHECK_OLD = "swathbook recheck --book-only --job FOLDER"
_RECHECK_SEAL = "swathbook recheck --book-only --against FILE"


def make_screen(result: RecheckResult) -> RenderableType:
    """Return what a person reads."""
    headline = _say_head(result)
    parts: list[RenderableType] = [headline, *_say_book(result)]
    if not result.book_only:
        parts.append(_say_counts(result))
        parts += _say_copies(result)
    for state, heading in _TITLES.items():
        files = [file for file in result.listed if file.state is state]
        if files:
            is_away = state is FileState.NOT_CONNECTED and _are_in_store(result)
            told = title(_IN_STORE if is_away else heading)
            parts += [told, *_list_files(state, files, result)]
    if result.audits:
        parts.append(Text(""))
    parts += [_say_standing(audit, result) for audit in result.audits]
    if result.entry is not None:
        parts.append(say(f"Entered as entry {result.entry}.", QUIET))
    elif result.not_entered:
        parts.append(say(f"This recheck was not entered: {result.not_entered}.", DOUBT))
    if len(result.listed) > _MANY:
        parts.append(headline)  # said again: the first line is out of sight
    parts += _list_next(result)
    return Group(*parts)


def _say_head(result: RecheckResult) -> Text:
    if result.book != "unbroken":
        return say_sentence(result.book_sentence, BAD)
    if result.are_forged_alone:
        return say("The seal is not genuine: it says nothing of the book.", BAD)
    if not all(seal.holds for seal in result.seals):
        return say("The book is not the one that was sealed.", BAD)
    if not result.is_book_right:
        return say("A time stamp in the book is not right.", BAD)
    if result.book_only:
        return say("The book is unbroken.", GOOD)
    return _say_files(result)


def _say_files(result: RecheckResult) -> Text:
    fine = (FileState.AS_RECORDED, FileState.CARD_CLEARED)
    wrong = {state: n for state, n in result.counts.items() if state not in fine}
    if not wrong:
        return say("Everything is as recorded.", GOOD)
    if result.state_ok:
        # A second place of the same bytes is gone: no loss, and still not "everything".
        return say("Nothing is lost: what is not as recorded was read at another place.", DOUBT)
    if result.is_incomplete:
        away = count_things(wrong[FileState.NOT_CONNECTED], "file")
        why = "they lie in a store, which only an audit reads"
        if not _are_in_store(result):
            why = "the drive is not connected"
        return say(f"{away} could not be looked at: {why}.", DOUBT)
    total = sum(wrong.values())
    told = ", ".join(
        f"{count:,} {_say_state(state)}" if len(wrong) > 1 else _say_state(state)
        for state, count in wrong.items()
    )
    what = f"{count_things(total, 'file')} {agree(total, 'is', 'are')} not as recorded: {told}."
    return say(what, BAD)


def _are_in_store(result: RecheckResult) -> bool:
    """Say whether all that could not be looked at lies in a store, and nothing on a drive."""
    away = [file.path for file in result.files if file.state is FileState.NOT_CONNECTED]
    return bool(away) and all(map(is_address, away))


def _say_state(state: FileState) -> str:
    """Return a state as it stands behind a number of files."""
    return _HEADER_ONLY if state is FileState.HEADER_CHANGED else str(state)


def _say_book(result: RecheckResult) -> list[RenderableType]:
    if result.book == "unbroken":
        head = [] if result.book_only else [say_sentence(result.book_sentence)]
        return [*head, *_say_seals(result.seals), *say_stamps(result.stamps)]
    parts: list[RenderableType] = []
    sound = (result.first_broken_entry or 1) - 1
    if sound:
        told = agree(sound, "Entry 1 is as it was", f"Entries 1 to {sound} are as they were")
        parts.append(say(f"{told} entered; later ones may not be."))
    return [
        *parts,
        *_say_seals(result.seals),
        *say_stamps(result.stamps),
        say(f"{_ADVICE}, and prove that one.", STRONG),
    ]


def _say_seals(seals: Sequence[SealAnswer]) -> Iterator[RenderableType]:
    """Yield what holding the book against each seal gave, and who vouches for the seal."""
    for seal in seals:
        told = f"{'Seal' if seal.signature else 'Root'} {seal.seal}: {seal.sentence}"
        yield say_sentence(told, GOOD if seal.holds else BAD)
        if seal.signature:
            yield say_lines([f"{seal.signature}."], QUIET, indent=2)


def _say_counts(result: RecheckResult) -> RenderableType:
    counts = ", ".join(f"{count:,} {_say_state(state)}" for state, count in result.counts.items())
    against = "" if result.book == "unbroken" else ", held against what the broken book says"
    read = describe_bytes(result.bytes)
    return say(f"Files: {counts or 'none recorded'}; {read} read{against}.")


def _say_copies(result: RecheckResult) -> Iterator[RenderableType]:
    """Yield how copies stand, where raw files are registered, and how long they are kept."""
    copies = result.copies
    if copies is not None and copies.files:
        yield say(copies.sentence, GOOD if copies.is_enough else DOUBT)
        yield from (say(sentence, DOUBT) for sentence in copies.care)
    if result.retention:
        yield say(result.retention, STRONG)


def _list_files(
    state: FileState, files: Sequence[CheckedFile], result: RecheckResult
) -> Iterator[RenderableType]:
    if state in (FileState.AS_RECORDED, FileState.CARD_CLEARED):
        yield say_lines((file.path for file in files), indent=2)
        return
    if state is FileState.NOT_CONNECTED and not result.all_files:
        yield from _list_drives(files)
        return
    shown = files if result.all_files or len(files) <= _SHOWN + 1 else files[:_SHOWN]
    for file in shown:
        yield say_lines([file.path], STRONG, indent=2)
        yield say_lines(_tell(file), indent=4)
    left = files[len(shown) :]
    if left:
        names = ", ".join(file.path for file in left[:_NAMED])
        more = ", …" if len(left) > _NAMED else ""
        yield say_lines([f"and {len(left)} more: {names}{more}: --all"], indent=2)


def _list_drives(files: Sequence[CheckedFile]) -> Iterator[RenderableType]:
    drives: dict[tuple[str, str], list[CheckedFile]] = {}
    for file in files:
        root = file.now_on.root if file.now_on is not None else find_volume(file.path)
        drives.setdefault((root, file.drive), []).append(file)
    roots = [root for root, _ in drives]
    for (root, drive), held in drives.items():
        volume = f"{root} ({drive})" if roots.count(root) > 1 and drive else root
        lost = sum(not file.good_at for file in held)
        told = (
            f"{lost} of them {agree(lost, 'was', 'were')} read nowhere else"
            if lost
            else "all were read elsewhere"
        )
        yield say_lines([f"{volume}: {count_things(len(held), 'file')}; {told}: --all"], indent=2)


def _tell(file: CheckedFile) -> Iterator[str]:
    """Yield what was recorded, what is there, and where the recorded bytes are."""
    if file.recorded:
        yield f"recorded  {_describe_note(file.noted, file.recorded)}"
    if file.now_at:
        yield f"lies at   {file.now_at}"
    if file.found:
        size = f"{count_things(file.found_bytes, 'byte')}, " if file.found_bytes is not None else ""
        yield f"now       {size}sha256 {file.found[:_SHOWN_DIGITS]} …"
    else:
        told = file.sentence.removeprefix(file.path).strip().removesuffix(".")
        yield f"now       {'nothing there' if file.state is FileState.MISSING else told}"
    if file.audits:
        yield f"audited   as recorded, in {', '.join(file.audits)}"
    if file.good_at:
        yield f"the recorded bytes are at {file.good_at}"
    elif file.known_at:
        yield f"the book saw the same bytes at {file.known_at}; not looked at now"
    elif file.recorded:
        yield "no other place of the recorded bytes is known"


def _describe_note(noted: Noted | None, digest: str) -> str:
    told = f"sha256 {digest[:_SHOWN_DIGITS]} …"
    if noted is None:
        return told
    when = noted.time.replace("T", " ")[:_TO_THE_MINUTE]
    return f"entry {noted.entry}, {when} UTC, {count_things(noted.bytes, 'byte')}, {told}"


def _say_standing(audit: Standing, result: RecheckResult) -> RenderableType:
    verdict = audit.accepted_verdict or audit.verdict
    what = f"Audit {audit.id} of {audit.folder} ({verdict}, entry {audit.entry.seq})"
    if audit.holds and result.book != "unbroken":
        return say(f"{what}: nothing has changed, if the broken book can be believed.", DOUBT)
    if audit.holds:
        return say(f"{what} still holds.", STRONG)
    return say(f"{what}. {audit.sentence}", BAD if audit.reasons else DOUBT)


def _say_next_of_book(result: RecheckResult) -> RenderableType:
    if result.book != "unbroken":
        return next_step(_RECHECK_OLD, "where the older copy lies")
    if result.are_forged_alone:
        return next_step(_RECHECK_SEAL, "the seal as somebody else keeps it")
    return next_step(_RECHECK_OLD, "where another copy of the book lies")


def _say_next_of_absent(result: RecheckResult) -> RenderableType:
    if not _are_in_store(result):
        return next_step("swathbook recheck", "once the drive is connected")
    folder = next((each.folder for each in result.audits if is_address(each.folder)), "FOLDER")
    return next_step(f"swathbook audit {quote_path(folder)}", "reads what lies there")


def _list_next(result: RecheckResult) -> list[RenderableType]:
    """Return the one thing to type: about a changed file what it was, else about a drive."""
    if not result.is_book_right:
        return [_say_next_of_book(result)]
    for file in result.listed:
        if file.state in (FileState.CHANGED, FileState.HEADER_CHANGED, FileState.MISSING):
            if file.drive and not file.is_covered:
                return [next_step(_COPY, "once what is wrong there is moved away")]
            return [
                next_step(
                    f"swathbook trace {file.recorded[:_TYPED_DIGITS]}", f"what {file.path} was"
                )
            ]
    if result.is_incomplete:
        return [_say_next_of_absent(result)]
    if result.copies is not None and result.copies.files and not result.copies.is_enough:
        return [next_step(_COPY, "once for each drive; what is there already is read back")]
    return []
