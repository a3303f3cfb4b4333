"""Can a run be done again? What it needs, what of it is there, and a grade.

The grade (common practice, no source): A when raw data, base log, settings, geoid, calibration and
installer are all known by their bytes and there; B when one of them is there as a record alone;
C when settings were typed, when more than one is a record alone, or when one has no record at all;
D when raw data or settings are missing.

Files are looked at by size and time, and not read, but for inputs of which the book noted neither;
before a command is run all are read.
"""

from __future__ import annotations

import os
from collections.abc import Iterable, Iterator, Sequence
from pathlib import Path

from ledger.errors import FileError
from ledger.fixity import read_fixity
from ledger.model.artefact import Role
from ledger.model.filename import find_path
from ledger.model.known import KnownBy, KnownValue
from ledger.model.phrases import count_things
from ledger.model.process import Card, Process, is_source, works_on_others
from ledger.outputs import is_untouched
from ledger.repeat.result import Item, ItemState, Readiness
from ledger.store.reading import Book

_DIGEST_DIGITS = 64
_OF_OUTCOME = ("decision", "reason", "purpose", "started", "ended", "exit_status")


def find_place(book: Book, sha256: str, path: str) -> Path | None:
    """Return where some bytes lie: told by size and time where the book noted them, else read.

    Args:
        book: an open book.
        sha256: their digest.
        path: where an input was seen of which the book noted nothing else.
    """
    uses = book.uses(sha256)
    unread: dict[Path, None] = {}
    for use in reversed(uses):
        record = use.file
        place = find_path(record.path, record.path_bytes, book.folder)
        if not record.path or not os.path.isfile(place):
            continue
        if record.mtime_ns and is_untouched(place, record):
            return place
        if not record.mtime_ns:
            unread[place] = None
    if path and not uses:
        unread[book.folder / path] = None
    return next((place for place in unread if _is(place, sha256)), None)


def _is(place: Path, sha256: str) -> bool:
    try:
        return read_fixity(place).sha256 == sha256
    except FileError:
        return False


def list_items(book: Book, process: Process) -> tuple[Item, ...]:
    """Return what a run or step needs to be done again."""
    return tuple(_Looker(book, process).list_items())


def grade(items: Iterable[Item]) -> Readiness:
    """Return the grade of what is there."""
    states = {item.name: item.state for item in items}
    essential = (states.get("raw data"), states.get("settings"))
    if ItemState.MISSING in essential:
        return Readiness.D
    lacking = [state for state in states.values() if state is not ItemState.NOT_NEEDED]
    lacking = [state for state in lacking if state is not ItemState.THERE]
    if not lacking:
        return Readiness.A
    if states.get("settings") is ItemState.RECORD_ONLY or lacking != [ItemState.RECORD_ONLY]:
        return Readiness.C
    return Readiness.B


class _Looker:
    """Looks for what one run needs."""

    def __init__(self, book: Book, process: Process) -> None:
        self.book = book
        self.process = process
        self.flights = [
            card
            for used in process.inputs
            if used.flight and (card := book.card(used.flight)) is not None
        ]
        made = {
            output.file.sha256
            for other in book.processes()
            if other.id != process.id
            for output in other.outputs
        }
        self.is_later = works_on_others(process.kind, process.inputs, made)

    def list_items(self) -> Iterator[Item]:
        yield self._find_raw()
        yield self._find_base()
        yield self._find_settings()
        yield self._find_geoid()
        yield self._find_calibration()
        yield self._find_installer()

    def _list_files(self, roles: Sequence[str]) -> list[tuple[str, str]]:
        """Return digest and path of what was used in some roles, files of flights included."""
        files = [
            (use.sha256, use.path)
            for use in self.process.inputs
            if use.sha256 and str(use.role) in roles
        ]
        for flight in self.flights:
            registered = self.book.files_of_flight(flight.id)
            files += [(each.sha256, each.path) for each in registered if each.role in roles]
        return list(dict.fromkeys(files))

    def _judge(self, name: str, files: list[tuple[str, str]], remedy: str) -> Item:
        """Return the state of files that are known by their bytes."""
        gone = [path for sha256, path in files if find_place(self.book, sha256, path) is None]
        if not gone:
            return Item(name, ItemState.THERE, f"{count_things(len(files), 'file')}, unchanged")
        told = f"{count_things(len(gone), 'file')} of {len(files)} not where seen: {gone[0]}"
        return Item(name, ItemState.RECORD_ONLY, told, remedy)

    def _find_raw(self) -> Item:
        name = "raw data"
        sources = [
            (use.sha256, use.path) for use in self.process.inputs if use.sha256 and is_source(use)
        ]
        files = sources + self._list_files((Role.CAPTURE,))
        if not files:
            told = "no raw data or other source is recorded for it"
            return Item(name, ItemState.MISSING, told, "name what it was made from when recording")
        found = self._judge(name, list(dict.fromkeys(files)), "put the files back where they were")
        if found.state is ItemState.RECORD_ONLY:  # a record of raw data is no raw data
            return Item(name, ItemState.MISSING, found.told, found.remedy)
        return found

    def _find_base(self) -> Item:
        name = "base log"
        files = self._list_files((Role.BASE_LOG,))
        if files:
            return self._judge(name, files, "put the base log back where it was")
        if self.is_later:
            return Item(name, ItemState.NOT_NEEDED, "it works on what another run made")
        told = [card for card in self.flights if _has(card, "flight.base")]
        source = self.process.find_value("position_source")
        if source is not None and source.value == "none":
            return Item(name, ItemState.NOT_NEEDED, "positions came from nowhere but the scan")
        if told:
            remedy = "register the log of the base with its flight"
            return Item(
                name, ItemState.RECORD_ONLY, "the card of the flight tells the base", remedy
            )
        return Item(
            name, ItemState.MISSING, "no base log is registered", "register it: --as base-log"
        )

    def _find_settings(self) -> Item:
        name = "settings"
        if self.process.find_value("command") is not None:
            return Item(name, ItemState.THERE, "the command is recorded, word by word")
        files = self._list_files((Role.CONFIG,))
        if files:
            return self._judge(name, files, "put the settings file back; its keys are in the book")
        typed = [
            key
            for key, known in self.process.values.items()
            if key.partition(".")[2] not in _OF_OUTCOME
        ]
        if not typed:
            told = "no settings file, no command and no setting is recorded"
            return Item(
                name, ItemState.MISSING, told, "export the settings: record --settings FILE"
            )
        read = sum(self.process.values[key].known_by is KnownBy.READ for key in typed)
        told = f"{count_things(len(typed), 'value')} recorded, {read} of them read from files"
        return Item(name, ItemState.RECORD_ONLY, told, "keep the file: record --settings FILE")

    def _find_geoid(self) -> Item:
        name = "geoid"
        heights = self.process.find_value("output_height_type")
        named = self.process.find_value("geoid_name")
        is_none = named is not None and named.value == "none"
        if is_none or (heights is not None and heights.value == "ellipsoidal"):
            return Item(name, ItemState.NOT_NEEDED, "no geoid was applied")
        file = self.process.find_value("geoid_file")
        if file is not None and len(str(file.value)) == _DIGEST_DIGITS:
            return self._judge(name, [(str(file.value), file.where)], "put the grid back")
        if named is None and heights is None and self.process.kind == "step":
            return Item(name, ItemState.NOT_NEEDED, "it leaves heights alone")
        if named is not None:
            version = self.process.find_value("geoid_version")
            told = f"by its name: {named.value} {version.value if version else ''}".rstrip()
            return Item(
                name, ItemState.RECORD_ONLY, told, "register the grid, and amend geoid_file"
            )
        told = "neither a grid nor a name is recorded"
        return Item(
            name, ItemState.MISSING, told, "find out which geoid was set, and amend the run"
        )

    def _find_calibration(self) -> Item:
        name = "calibration"
        if self.is_later:
            return Item(name, ItemState.NOT_NEEDED, "it works on what another run made")
        files = self._list_files((Role.CALIBRATION,))
        rigs = [rig for card in self.flights if (rig := self._find_rig(card)) is not None]
        for rig in rigs:
            known = rig.values.get("rig.calibration_file")
            if known is not None and len(str(known.value)) == _DIGEST_DIGITS:
                files.append((str(known.value), known.where))
        if files:
            return self._judge(name, files, "put the calibration back where it was")
        if any(_has(rig, "rig.calibration") for rig in rigs):
            told = "the rig tells its date alone"
            return Item(name, ItemState.RECORD_ONLY, told, "register the calibration file")
        told = "no calibration is recorded"
        return Item(name, ItemState.MISSING, told, "record it with the rig: swathbook record rig")

    def _find_rig(self, flight: Card) -> Card | None:
        named = flight.values.get("flight.rig")
        return None if named is None else self.book.card(str(named.value))

    def _find_installer(self) -> Item:
        name = "installer"
        known = self.process.find_value("installer")
        if known is not None and len(str(known.value)) == _DIGEST_DIGITS:
            return self._judge(name, [(str(known.value), known.where)], "put the installer back")
        values = [self.process.find_value(each) for each in ("software", "version", "build")]
        told = " ".join(str(value.value) for value in values if value is not None)
        remedy = "keep the installer, and amend the run: --set installer=FILE"
        if values[0] is None or values[1] is None:
            told = f"{told or 'nothing'} is recorded of the program and its version"
            return Item(name, ItemState.MISSING, told, remedy)
        return Item(name, ItemState.RECORD_ONLY, f"by name and version alone: {told}", remedy)


def _has(card: Card, start: str) -> bool:
    return any(key.startswith(start) and _says(known) for key, known in card.values.items())


def _says(known: KnownValue) -> bool:
    return known.value not in ("", None, "none")
