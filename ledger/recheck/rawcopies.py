"""Are there still enough good copies of the raw files, by what was read now?

Invariants:

- A copy that was found changed or gone counts no longer, one on a drive that is not connected does.
- What is gone from the card that the files were copied from was cleared, as long as the file has
  enough good copies without it; else the card is asked for like any other place. What a recheck
  has called cleared is asked for again only of a card that is not connected: there it may still be.
- A copy that is gone is told as missing, unless there are enough good ones without it.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from datetime import UTC, datetime, timedelta

from ledger.copies import Copies, count_good
from ledger.model.lineage import describe_day
from ledger.model.phrases import agree, count_things
from ledger.rawplaces import Place
from ledger.recheck.states import CheckedFile, CopiesAnswer, FileState

OLD_DAYS = 180
"""Days after which a copy has to be read again: common practice, no source."""

_TIME = "%Y-%m-%dT%H:%M:%SZ"
_NAMED = 4
_LOST = (FileState.CHANGED, FileState.HEADER_CHANGED, FileState.MISSING, FileState.UNREADABLE)

Found = Mapping[tuple[str, str], CheckedFile]


def judge_copies(
    copies: Copies, files: Sequence[CheckedFile]
) -> tuple[CopiesAnswer, tuple[CheckedFile, ...]]:
    """Return how the copies stand, and the files with what that says of them.

    Args:
        copies: where the raw files lie, by the book.
        files: every file that was looked at.
    """
    found = {(file.path, file.drive): file for file in files}
    now = replace(copies, places=tuple(_update(place, found) for place in copies.places))
    places = {(place.path, place.drive): place for place in now.places}
    spare = _list_spare(now)
    marked = tuple(_mark(file, places.get((file.path, file.drive)), spare) for file in files)
    return _answer(now, found), marked


def _update(place: Place, found: Found) -> Place:
    """Return a place as it was found now; one that was not looked at stays as it was."""
    file = found.get((place.path, place.drive))
    if file is None or file.state is FileState.NOT_CONNECTED or file.recorded != place.sha256:
        return place
    if file.state in _LOST:
        return replace(place, verified=False, wrong=str(file.state))
    root = file.now_on.root if file.now_at and file.now_on is not None else place.root
    return replace(place, verified=place.is_copy, wrong="", root=root, is_cleared=False)


def _list_spare(copies: Copies) -> frozenset[str]:
    """Return the digests of files that have as many good copies as are needed."""
    return frozenset(
        sha256 for sha256, places in copies.by_file.items() if count_good(places) >= copies.needed
    )


def _mark(file: CheckedFile, place: Place | None, spare: frozenset[str]) -> CheckedFile:
    if place is None or file.recorded != place.sha256 or file.state is FileState.AS_RECORDED:
        return file
    has_enough = file.recorded in spare
    if place.is_card:
        was_cleared = place.is_cleared and file.state is not FileState.NOT_CONNECTED
        is_cleared = has_enough or was_cleared
        return replace(file, state=FileState.CARD_CLEARED) if is_cleared else file
    if place.is_copy and file.state is FileState.MISSING:
        return replace(file, only_seen=has_enough)
    return file


def _answer(copies: Copies, found: Found) -> CopiesAnswer:
    counted = replace(copies, places=tuple(p for p in copies.places if p.is_copy))
    drives = [
        _describe_drive(name, places, len(copies.files), found)
        for name, places in counted.by_volume.items()
    ]
    read = [p for p in counted.places if p.verified and _was_read(p, found)]
    by_file = replace(copies, places=tuple(read)).by_file
    return CopiesAnswer(
        files=len(copies.files),
        needed=copies.needed,
        good=copies.good,
        read=min((count_good(places) for places in by_file.values()), default=0),
        sentence=_say(copies, drives),
        care=tuple(_list_care(counted, found)),
    )


def _list_care(counted: Copies, found: Found) -> Iterator[str]:
    """Yield what is right today and will not stay so by itself."""
    single = {name for name, places in counted.by_file.items() if count_good(places) == 1}
    if single:
        names = sorted({place.path for place in counted.places if place.sha256 in single})
        more = ", …" if len(names) > _NAMED else ""
        what = count_things(len(single), "raw file")
        yield f"{what} with one good copy alone: {', '.join(names[:_NAMED])}{more}."
    before = (datetime.now(UTC) - timedelta(days=OLD_DAYS)).strftime(_TIME)
    for name, places in counted.by_volume.items():
        old = [
            place
            for place in places
            if place.verified and not _was_read(place, found) and place.last_seen < before
        ]
        if old:
            last = describe_day(min(place.last_seen for place in old))
            what = count_things(len(old), "copy", "copies")
            yield f"{what} on {name} not read for more than {OLD_DAYS} days, last {last}."


def _was_read(place: Place, found: Found) -> bool:
    file = found.get((place.path, place.drive))
    return file is not None and file.state is FileState.AS_RECORDED


def _say(copies: Copies, drives: list[str]) -> str:
    asked = count_things(copies.needed, "copy", "copies")
    if not copies.files:
        return "No raw file is registered."
    if not drives:
        return f"No copy of the raw files was read back from its drive, {asked} asked for."
    where = ", ".join(drives)
    if copies.good >= copies.needed:
        good = count_things(copies.good, "good copy", "good copies")
        return f"Every raw file has {good}: {where}."
    few = len(copies.files) - len(_list_spare(copies))
    lack = f"{few:,} of {count_things(len(copies.files), 'raw file')} {agree(few, 'has', 'have')}"
    return f"{lack} fewer than {count_things(copies.needed, 'good copy', 'good copies')}: {where}."


def _describe_drive(name: str, places: Sequence[Place], files: int, found: Found) -> str:
    """Return a drive, how many of the files it has, and whether they were read now."""
    good = {place.sha256 for place in places if place.verified}
    wrong = {place.sha256 for place in places} - good
    some = "" if len(good) == files else f" {len(good)} of {files}"
    parts = []
    if all(_was_read(place, found) for place in places if place.verified) and good:
        parts.append("read now")
    elif good:
        states = {file.state for place in places if (file := found.get((place.path, place.drive)))}
        away = "not connected, " if FileState.NOT_CONNECTED in states else ""
        earliest = min(place.last_seen for place in places if place.verified)
        parts.append(f"{away}last read {describe_day(earliest)}")
    if wrong:
        parts.append(f"{len(wrong)} found wrong")
    return f"{name}{some} ({', '.join(parts)})"
