"""Where the raw files lie, as far as the book saw it, and whether the card may be cleared.

The rule, in this one place:

- A place is a path on a volume under which the bytes of a raw file were seen. On a drive that is
  known by itself it is the path below the root of the drive, under whatever letter.
- A place counts as a good copy when an entry says that it was read again from its medium after the
  copy was made there (`reread`), and nothing has been found wrong with it since. A drive that is
  not connected takes nothing away; when a recheck reads it, the place was seen then.
- Good copies on one volume count once. The card never counts: files are read from it, never copied
  to it, so that no entry says `reread` of it.
- The card may be cleared when every raw file has as many good copies as `[folders] copies` of
  `job.toml` asks for, two when it says nothing; never while a file or folder that a register could
  not read is still there and was not entered.
- A geoid grid that was registered by itself is no raw file: it never lay on a card alone.
- Tables of surveyed points, outlines and reports that belong to no flight came off no card either.
  They need copies like the rest, and the card does not wait for them.
- While `job.toml` is there and cannot be read, nobody knows how many copies it asks for, and the
  card is not cleared.
- The card is a place outside the job folder that copies were made from (`copied_from`). Once a
  recheck finds it gone or written over while the files may be cleared from it, it is a place no
  more.

Light: reads the book, and asks the system on which volume a folder lies.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable

from ledger.dataclass import dataclass
from ledger.jobfolder import SPECIFICATION_NAME, find_places, is_unread
from ledger.leftout import list_left_out
from ledger.model.artefact import Role
from ledger.model.lineage import describe_day
from ledger.model.phrases import agree, count_things
from ledger.rawplaces import Place, PlaceFinder
from ledger.store.reading import Book
from ledger.volumes import is_outside_job

_OWN_DRIVE = "the job's own drive"
_FROM_DESK = (Role.CONTROL, Role.CHECKPOINTS, Role.BOUNDARY, Role.REPORT)


@dataclass(frozen=True)
class Copies:
    """Where some raw files lie.

    Args:
        needed: good copies that each file needs before the card may be cleared.
        files: digests of the raw files.
        places: every place, sorted by path.
        left_out: paths that a register could not read and nobody has entered since.
        from_desk: digests of those of the files that came off no card.
        is_asked: what `job.toml` asks for could be read, or there is none.
    """

    needed: int
    files: frozenset[str]
    places: tuple[Place, ...]
    left_out: tuple[str, ...] = ()
    from_desk: frozenset[str] = frozenset()
    is_asked: bool = True

    @property
    def bytes(self) -> int:
        """Return the size of all files together, each counted once."""
        return sum({place.sha256: place.bytes for place in self.places}.values())

    @property
    def good(self) -> int:
        """Return the good copies on different volumes that every one of the files has."""
        return self._count_good_of(self.files)

    @property
    def off_card(self) -> frozenset[str]:
        """Return the digests of the files that may lie on a card alone."""
        return self.files - self.from_desk

    @property
    def tally(self) -> str:
        """Return how many files have good copies, and how many of them, in a few words."""
        files = count_things(len(self.files), "raw file")
        if self.files and self.good >= self.needed:
            good = count_things(self.good, "good copy", "good copies")
            return f"{files}, {good} of each on different volumes"
        enough = len(self.files) - len(self._list_lacking(self.files))
        asked = count_things(self.needed, "good copy", "good copies")
        return f"{files}, {enough or 'none'} of them with {asked} on different volumes"

    @property
    def card_may_be_cleared(self) -> bool:
        """Say whether all that may lie on a card has copies enough, and none is left out."""
        is_open = bool(self.off_card) and not self.left_out and self.is_asked
        return is_open and not self._list_lacking(self.off_card)

    def _count_good_of(self, files: frozenset[str]) -> int:
        by_file = self.by_file
        return min((count_good(by_file[sha256]) for sha256 in files), default=0)

    def _list_lacking(self, files: frozenset[str]) -> list[str]:
        by_file = self.by_file
        return [each for each in sorted(files) if count_good(by_file[each]) < self.needed]

    @property
    def answer(self) -> str:
        """Return whether the card may be cleared and why, in one sentence."""
        if not self.off_card and not self.left_out:
            what = "file that came off a card" if self.files else "raw file"
            return f"No {what} is registered.{self._wish_for_desk}"
        if self.left_out:
            first, *more = self.left_out
            told = f"{first} and {len(more):,} more" if more else first
            are = agree(len(self.left_out), "is", "are")
            return f"Do not clear the card: {told} could not be read and {are} in no copy."
        if self.card_may_be_cleared:
            card = "was cleared or put away" if self._was_cleared else "may be cleared"
            good = self._count_good_of(self.off_card)
            every = "every file" if self.off_card == self.files else "every file of it"
            told = f"The card {card}: {every} was read back from {good} volumes."
            return f"{told}{self._wish_for_desk}"
        if not self.is_asked:
            return (
                f"Do not clear the card: {SPECIFICATION_NAME} cannot be read, and it may ask for "
                "other copies."
            )
        asked = count_things(self.needed, "copy", "copies")
        if not any(place.verified for place in self.places):
            return f"Do not clear the card: no copy was read back from its drive, {asked} needed."
        files = count_things(len(self._list_lacking(self.off_card)), "file")
        told = f"{files} with fewer than {asked} read back from a drive"
        card = "The card was cleared or put away" if self._was_cleared else "Do not clear the card"
        return f"{card}: {told}."

    @property
    def _wish_for_desk(self) -> str:
        """Return which files that came off no card lack copies, as a sentence behind another."""
        lacking = self._list_lacking(self.from_desk)
        if not lacking:
            return ""
        name = self.by_file[lacking[0]][0].path
        more = f" and {len(lacking) - 1:,} more" if len(lacking) > 1 else ""
        have = agree(len(lacking), "has", "have")
        asked = count_things(self.needed, "copy", "copies")
        return f" {name}{more}, from no card, {have} fewer than {asked} read back."

    @property
    def _was_cleared(self) -> bool:
        """Say whether all that was copied is gone from where it was copied from."""
        card = [place for place in self.places if place.is_card]
        return bool(card) and all(place.is_cleared for place in card)

    @property
    def sightings(self) -> str:
        """Return at how many places, on which volumes and when last, in one sentence."""
        counts = sorted(
            sum(not place.is_cleared for place in places) for places in self.by_file.values()
        )
        if not counts:
            return ""
        parts = []
        for volume, places in self.by_volume.items():
            seen = {place.sha256 for place in places if not place.wrong}
            wrong = {place.sha256 for place in places} - seen
            latest = max(place.last_seen for place in places)
            some = "" if len(seen) == len(self.files) else f" {len(seen)} of {len(self.files)}"
            bad = f", {len(wrong)} found wrong" if wrong else ""
            parts.append(f"{volume}{some} (last {describe_day(latest)}{bad})")
        fewest = f"{counts[0]} to " if counts[0] != counts[-1] else ""
        volumes = f" on {count_things(len(parts), 'volume')}" if counts[-1] > 1 else ""
        told = count_things(counts[-1], "place")
        return f"Each file was seen at {fewest}{told}{volumes}: {', '.join(parts)}."

    @property
    def by_file(self) -> dict[str, list[Place]]:
        """Return the places of every file, by its digest, sorted."""
        found: dict[str, list[Place]] = {sha256: [] for sha256 in sorted(self.files)}
        for place in self.places:
            found[place.sha256].append(place)
        return found

    @property
    def by_volume(self) -> dict[str, list[Place]]:
        """Return the places by the name of their volume, that of the job first.

        Cards that were cleared are left out.
        """
        names: dict[str, str] = {}
        found: dict[str, list[Place]] = defaultdict(list)
        for place in sorted(self.places, key=lambda place: is_outside_job(place.path)):
            if place.is_cleared:
                continue
            if place.key not in names:
                name = place.root or _OWN_DRIVE
                name += " (the card)" if place.is_card else ""
                is_taken = name != _OWN_DRIVE and name in names.values()
                names[place.key] = f"{name} ({place.volume})" if is_taken else name
            found[names[place.key]].append(place)
        return found


def count_good(places: Iterable[Place]) -> int:
    """Return on how many volumes a file lies that was read back there."""
    return len({place.key for place in places if place.verified and not place.wrong})


def find_copies(book: Book, only: Collection[str] | None = None) -> Copies:
    """Return where the raw files of a job lie.

    Args:
        book: an open book.
        only: digests of the files that are asked about; None for all.
    """
    wanted = None if only is None else frozenset(only)
    grids = list_grids(book)
    places = tuple(
        place
        for place in PlaceFinder(book).list_places()
        if place.sha256 not in grids and (wanted is None or place.sha256 in wanted)
    )
    files = frozenset(place.sha256 for place in places)
    return Copies(
        needed=find_places(book.folder).copies,
        files=files,
        places=tuple(sorted(places, key=lambda place: (place.path, place.sha256, place.drive))),
        left_out=list_left_out(book),
        is_asked=not is_unread(book.folder),
        from_desk=files & _list_of_no_flight(book, _FROM_DESK),
    )


def list_grids(book: Book) -> frozenset[str]:
    """Return the digests of geoid grids that belong to no flight: no card holds them alone."""
    return _list_of_no_flight(book, (Role.GEOID,))


def _list_of_no_flight(book: Book, roles: Iterable[Role]) -> frozenset[str]:
    found = {file.sha256 for role in roles for file in book.files_last_seen(role)}
    return frozenset(
        sha256
        for sha256 in found
        if not any(use.owner for use in book.uses(sha256) if use.relation == "registered")
    )
