"""The tables of surveyed points that somebody recorded, read again for an audit.

A table counts as it was recorded: where its file is gone, or has other bytes now, that is its
fault, and nothing is read from it.
"""

from __future__ import annotations

import os
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from pathlib import Path, PurePosixPath

from ledger.errors import SwathbookError, UsageError
from ledger.fixity import read_fixity
from ledger.model.artefact import FileRecord
from ledger.model.known import KnownBy, KnownValue
from ledger.model.process import Card
from ledger.model.surveypoints import CHECKPOINTS, PointTable
from ledger.model.typed import quote_path
from ledger.tables.contradictions import list_contradictions
from ledger.tables.reading import COLUMN, build_table, read_table, read_what_it_says
from ledger.tables.rows import TableText

_FILE, _ROLE, _HEADER = "points.file", "points.role", "points.header"
_OF_ONE = (_FILE, _HEADER, "points.surveyed", "points.note")

Values = Mapping[str, KnownValue]


def read_survey_tables(cards: Iterable[Card], folder: Path) -> tuple[PointTable, ...]:
    """Return the recorded tables; of several records of one file the latest.

    Args:
        cards: the records of tables.
        folder: the job folder.
    """
    latest: dict[str, Card] = {}
    for card in sorted(cards, key=lambda each: each.entry):
        if _FILE in card.values:
            latest[card.values[_FILE].where] = card
    return tuple(_read(latest[path], folder) for path in sorted(latest))


def read_later_table(path: Path, record: FileRecord, cards: Sequence[Card]) -> PointTable:
    """Return a table of checkpoints that came after the job was recorded.

    What it says of itself counts; what it does not say is taken from the record of the same bytes
    or, not confirmed, of the last table with the same columns.

    Args:
        path: the file.
        record: the same, as the book writes it.
        cards: the records of tables.

    Raises:
        UsageError: which column is what was neither read nor recorded.
        FileError: it is no table of points.
    """
    table = read_table(path)
    own = read_what_it_says(table, path.name)
    role = KnownValue(CHECKPOINTS)
    values = {**_find_recorded(cards, record.sha256, own, table.columns), _ROLE: role}
    try:
        return _build(table, values, record.path, record.sha256)
    except SwathbookError as error:
        (fault,) = error.faults[:1]
        told = f"swathbook record points {quote_path(os.fspath(path))}"
        raise UsageError.from_faults(
            (replace(fault, remedy=fault.remedy or f"record it first: {told}"),)
        ) from None


def _find_recorded(
    cards: Sequence[Card], sha256: str, own: Values, columns: tuple[str, ...]
) -> dict[str, KnownValue]:
    for card in reversed(cards):
        if _FILE in card.values and card.values[_FILE].value == sha256:
            return {**own, **card.values}
    for card in reversed(cards):
        header = card.values.get(_HEADER)
        if columns and header is not None and str(header.value).startswith(", ".join(columns)):
            carried = {
                key: _carry(known) for key, known in card.values.items() if key not in _OF_ONE
            }
            named = {key: known for key, known in carried.items() if key.startswith(COLUMN)}
            return {**carried, **own, **named}
    return dict(own)


def _carry(known: KnownValue) -> KnownValue:
    known_by = KnownBy.ASSUMED if known.known_by is KnownBy.ASSUMED else KnownBy.CARRIED
    return replace(known, known_by=known_by, confirmed=False)


def _read(card: Card, folder: Path) -> PointTable:
    """Return a table as it was recorded, or with what is wrong with its file by now."""
    file = card.values[_FILE]
    role = card.values.get(_ROLE)
    empty = PointTable(file.where, str(file.value), "" if role is None else str(role.value))
    path = folder / file.where
    again = f"swathbook record points {quote_path(file.where)}"
    try:
        if read_fixity(path).sha256 != file.value:
            return replace(empty, fault=f"it changed after it was recorded ({again})")
        return _build(read_table(path), card.values, file.where, str(file.value))
    except SwathbookError as error:
        (fault,) = error.faults[:1]
        return replace(empty, fault=replace(fault, where="", remedy="").sentence())


def _build(table: TableText, values: Values, path: str, sha256: str) -> PointTable:
    """Return a table as it was declared, with what its own lines say otherwise."""
    built = build_table(table, values, path, sha256)
    against = tuple(list_contradictions(table, values, PurePosixPath(path).name))
    return replace(built, contradicted=against)
