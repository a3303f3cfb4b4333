"""The settings of a run as they have to be set again, and the files to give to the program."""

from __future__ import annotations

from collections.abc import Iterator

from ledger.canonical import decode
from ledger.errors import BookError
from ledger.model.blanks import list_blanks
from ledger.model.fields import FIELDS
from ledger.model.filename import make_book_path
from ledger.model.process import Process
from ledger.repeat.readiness import find_place
from ledger.repeat.result import Setting, Sheet, UsedInput, WrittenSettings
from ledger.store.reading import Book

# What tells of the run and is no setting.
_NO_SETTINGS = frozenset(
    {"decision", "reason", "purpose", "started", "ended", "exit_status", "command", "folder"}
)


def make_sheet(book: Book, process: Process) -> Sheet:
    """Return the sheet of a run or step."""
    command = process.find_value("command")
    folder = process.find_value("folder")
    order = list(FIELDS)
    keys = sorted(process.values, key=lambda key: order.index(key) if key in FIELDS else len(order))
    return Sheet(
        run=process.id,
        settings=tuple(
            Setting(key, FIELDS[key].question if key in FIELDS else key, process.values[key])
            for key in keys
            if key.partition(".")[2] not in _NO_SETTINGS
        ),
        written=tuple(_list_written(book, process)),
        inputs=tuple(_list_inputs(book, process)),
        not_recorded=tuple(
            FIELDS[key].question
            for key in list_blanks(process.kind, process.values)
            if key in FIELDS and key.partition(".")[2] not in _NO_SETTINGS
        ),
        command="" if command is None else str(command.value),
        folder="" if folder is None else str(folder.value),
    )


def _list_written(book: Book, process: Process) -> Iterator[WrittenSettings]:
    """Yield the settings files; one whose keys were withheld has no rows."""
    entry = book.entry(process.entry)
    for file in entry.values.get("settings", ()) if entry else ():
        try:
            rows = tuple((str(key), str(text)) for key, text in decode(book.blob(file["settings"])))
        except BookError:
            rows = ()
        yield WrittenSettings(file["path"], file["sha256"], rows, tuple(file.get("taken_out", ())))


def _list_inputs(book: Book, process: Process) -> Iterator[UsedInput]:
    for used in process.inputs:
        if used.flight:
            for record in book.files_of_flight(used.flight):
                yield _look(book, record.sha256, record.path, str(record.role))
        elif used.sha256:
            yield _look(book, used.sha256, used.path, used.role)


def _look(book: Book, sha256: str, path: str, role: str) -> UsedInput:
    found = find_place(book, sha256, path)
    shown = path if found is None else make_book_path(found, book.folder)[0]
    return UsedInput(shown, sha256, role, found is not None)
