"""Rows of a trace as a table: what, the values, who says so, how it is known."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from rich.table import Table
from rich.text import Text

from ledger.model.filename import escape_for_screen
from ledger.report.screen import DOUBT, QUIET, STRONG, say
from ledger.report.tracerows import Row

_LABEL_COLUMNS = 11
_HOW_COLUMNS = 14
ALL_HINT = "--all"


def tabulate(rows: Iterable[Row]) -> Table:
    """Return the table of some rows; what was not recorded is marked.

    Where no row says who and how, the values have the whole width.
    """
    listed = list(rows)
    told = any(row.who or row.how for row in listed)
    table = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0), show_header=False)
    table.add_column(style=QUIET, min_width=_LABEL_COLUMNS, max_width=_LABEL_COLUMNS)
    table.add_column(overflow="fold", ratio=1)
    for _ in range(2 if told else 0):
        table.add_column(style=QUIET, overflow="fold", max_width=_HOW_COLUMNS)
    for row in listed:
        cells = (say(row.who), say(row.how)) if told else ()
        table.add_row(say(row.label), _write(row), *cells)
    return table


def _write(row: Row) -> Text:
    text = say(row.text, STRONG if row.is_strong else "")
    if row.confirmed:
        text.append(f"; {row.confirmed}", DOUBT)
    if row.gaps:
        alone = not row.text and row.gaps == row.label
        told = "not recorded" if alone else f"not recorded: {row.gaps}"
        text.append(("; " if text else "") + escape_for_screen(told), DOUBT)
    return text


def list_some(names: Sequence[str], shown: int, *, everything: bool, noun: str = "") -> str:
    """Return names in one line; how many were left out, and how to see them, is said."""
    if everything or len(names) <= shown + 1:
        return ", ".join(names)
    left = f"{len(names) - shown} more{f' {noun}' if noun else ''}"
    return f"{', '.join(names[:shown])} and {left}: {ALL_HINT}"
