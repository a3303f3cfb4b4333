"""What a new job takes over from another one, marked as carried until somebody confirms it."""

from __future__ import annotations

import os
from collections.abc import Iterator, Mapping
from dataclasses import field, replace
from pathlib import Path
from typing import Any

import tomlkit
from tomlkit.items import InlineTable, Table

from ledger.dataclass import dataclass
from ledger.errors import UnreadableFileError, UsageError
from ledger.forms import ONCE_ONLY
from ledger.jobfolder import SPECIFICATION_NAME
from ledger.model.entry import Kind
from ledger.model.known import KnownBy, KnownValue
from ledger.model.process import Card
from ledger.model.specification import Specification
from ledger.shortfile import read_short_file
from ledger.specfile.reading import parse_specification
from ledger.start.beginning import Beginning
from ledger.store.reading import BOOK_NAME, Book
from ledger.takenover import find_last_flight

# About the one job only, or about where its files lie.
_OWN_SECTIONS = ("carried", "folders")
_OWN_KEYS = ("job.reference", "job.title")
_BLANK_CARRIED = "# carried = []"
_NAMES_ON_A_LINE = 3


def carry_job(like: Path, folder: Path, reference: str, title: str) -> Beginning:
    """Return what a new job in `folder` takes over from another one.

    Args:
        like: the other job: its folder, its book or its `job.toml`.
        folder: folder of the new job.
        reference: of the new job; blank when empty.
        title: of the new job; blank when empty.

    Raises:
        UsageError: there is no job.
        SpecificationError: its `job.toml` cannot be used.
        BookError: its book cannot be used.
    """
    precedent = _read_precedent(like)
    text, carried = _carry_specification(precedent, folder, reference, title)
    parse_specification(text.encode("utf-8"))  # whatever was taken over, the new file is valid
    return Beginning(
        text,
        like=precedent.name,
        carried=carried,
        rigs=tuple(_carry_rigs(precedent)),
        flight=_carry_flight(precedent),
        settings_map=precedent.settings_map,
    )


@dataclass(frozen=True)
class _Precedent:
    """The job that a new one is like.

    Args:
        folder: its folder.
        text: its `job.toml`.
        specification: the same, understood.
        rigs: its rigs.
        flight: values of its latest flight that has any, else what it took over itself.
        settings_map: rows of its settings map.
    """

    folder: Path
    text: str
    specification: Specification
    rigs: tuple[Card, ...] = ()
    flight: Mapping[str, KnownValue] = field(default_factory=dict)
    settings_map: tuple[Mapping[str, Any], ...] = ()

    @property
    def name(self) -> str:
        """Return its reference, or the name of its folder where that is blank."""
        return self.specification.job.reference or self.folder.absolute().name


def _read_precedent(path: Path) -> _Precedent:
    folder = path.parent if path.name in (BOOK_NAME, SPECIFICATION_NAME) else path
    specification = folder / SPECIFICATION_NAME
    try:
        content = read_short_file(
            specification, f"there is no job to take over from: its {SPECIFICATION_NAME}"
        )
    except UnreadableFileError as error:
        raise UsageError.from_faults(error.faults) from None
    read = parse_specification(content, str(specification))
    text = content.decode("utf-8")
    if not os.path.isfile(folder / BOOK_NAME):
        return _Precedent(folder, text, read)
    with Book.open(folder) as book:
        entry = book.last(Kind.SETTINGS_MAP)
        rows = () if entry is None else tuple(entry.values["rows"])
        return _Precedent(folder, text, read, book.cards("rig"), find_last_flight(book), rows)


def _carry_specification(
    precedent: _Precedent, folder: Path, reference: str, title: str
) -> tuple[str, tuple[str, ...]]:
    """Return the text of the new `job.toml` and the keys that it takes over.

    Remarks of the other job stay. Reference and title are the new ones, blank when not given;
    files that the other job names relative to its folder are named from the new one.
    """
    document = tomlkit.parse(precedent.text)
    _name_job(document, {"reference": reference, "title": title})
    _keep_folders_inside(document.get("folders"))
    coordinates, delivery = document.get("coordinates", {}), document.get("delivery", {})
    _rename_file(coordinates.get("geoid"), "file", precedent.folder, folder)
    _rename_file(delivery, "boundary", precedent.folder, folder)
    carried = tuple(_list_keys(document.unwrap()))
    names = tomlkit.array()
    names.extend(carried)
    names.multiline(multiline=len(carried) > _NAMES_ON_A_LINE)
    if "carried" in document:
        document["carried"] = names
        return tomlkit.dumps(document), carried
    return _put_at_top(tomlkit.dumps(document), f"carried = {names.as_string()}"), carried


def _carry_rigs(precedent: _Precedent) -> Iterator[dict[str, Any]]:
    """Yield the values of one rig entry for each rig, carried and not confirmed.

    What was assumed stays assumed: carrying it does not make it better known.
    """
    for card in precedent.rigs:
        values = {key: _carry(known).to_values() for key, known in card.values.items()}
        yield {"name": card.name, "values": values}


def _carry_flight(precedent: _Precedent) -> dict[str, Any]:
    """Return the settings of a flight that the first one of the new job is asked with.

    What belongs to one flight alone, its times and heights, stays behind.
    """
    return {
        key: _carry(known).to_values()
        for key, known in precedent.flight.items()
        if key not in ONCE_ONLY
    }


def _carry(known: KnownValue) -> KnownValue:
    assumed = known.known_by is KnownBy.ASSUMED
    known_by = KnownBy.ASSUMED if assumed else KnownBy.CARRIED
    return replace(known, known_by=known_by, confirmed=False)


def _name_job(document: tomlkit.TOMLDocument, given: Mapping[str, str]) -> None:
    job = document.setdefault("job", tomlkit.table())
    for name, value in given.items():
        if value:
            job[name] = value
        else:
            job.pop(name, None)


def _keep_folders_inside(folders: Table | None) -> None:
    """Forget folders outside of the job folder: they hold the other job's files."""
    for name in ("raw", "out"):
        path = Path(str(folders.get(name, ""))) if folders else Path()
        if folders and (path.is_absolute() or ".." in path.parts):
            folders.pop(name)


def _rename_file(table: Table | InlineTable | None, key: str, old: Path, new: Path) -> None:
    if not table or key not in table:
        return
    path = Path(str(table[key]))
    lies_there = os.path.exists(old / path)
    if path.is_absolute() or not lies_there or os.path.exists(new / path):
        return
    there = (old / path).absolute()
    try:
        table[key] = Path(os.path.relpath(there, new.absolute())).as_posix()
    except ValueError:  # on another drive
        table[key] = there.as_posix()


def _list_keys(values: Mapping[str, Any]) -> Iterator[str]:
    """Yield the keys that need to be confirmed, as section and name."""
    for section, content in values.items():
        if section in _OWN_SECTIONS:
            continue
        for name in content:
            key = f"{section}.{name}"
            if key not in _OWN_KEYS:
                yield key


def _put_at_top(text: str, line: str) -> str:
    """Put the list before the first section: at its blank, else as the first line."""
    ending = "\r\n" if "\r\n" in text else "\n"
    line = line.replace("\n", ending)
    lines = text.splitlines(keepends=True)
    for place, each in enumerate(lines):
        if each.startswith(_BLANK_CARRIED):
            lines[place] = f"{each[len(_BLANK_CARRIED) :].strip()}{ending}{line}{ending}"
            return "".join(lines).lstrip()
    return f"# keys taken over from another job{ending}{line}{ending}{ending}{text}"
