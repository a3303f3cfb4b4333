"""What the records behind a delivery say of it: the lines of the custody sheet."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from ledger.audited import AuditedFolder
from ledger.handover.package import Fact
from ledger.lineage import Ancestry
from ledger.model.known import KnownValue, show_value
from ledger.model.process import Process
from ledger.model.specification import Specification
from ledger.store.reading import Book

# Label, the fields that state it (joined by a blank), the keys of job.toml that ask for it.
_LINES: tuple[tuple[str, tuple[str, ...], tuple[str, ...]], ...] = (
    ("Software", ("software", "version"), ()),
    ("Coordinate system", ("crs",), ("coordinates.horizontal",)),
    ("Frame and epoch", ("frame", "epoch"), ("coordinates.epoch",)),
    ("Heights", ("output_height_type", "vertical_datum"), ("coordinates.vertical",)),
    (
        "Geoid",
        ("geoid_name", "geoid_version", "geoid_file"),
        ("coordinates.geoid.name", "coordinates.geoid.version"),
    ),
    (
        "Units, horizontal and vertical",
        ("unit_horizontal", "unit_vertical"),
        ("coordinates.unit.horizontal", "coordinates.unit.vertical"),
    ),
    ("Grid or ground", ("scale_basis",), ("coordinates.scale_basis",)),
    ("Mount mode", ("mount_mode",), ()),
    ("Position source", ("position_source",), ()),
    ("Ground control used", ("control_used",), ()),
)
_DIGITS = 12  # of a digest; enough to be looked up


def list_processes(book: Book, audited: AuditedFolder) -> tuple[Process, ...]:
    """Return the runs and steps behind the files of a folder, in order of entry."""
    ancestry = Ancestry(book)
    makers: dict[str, Process] = {}
    for sha256 in {file.sha256 for file in audited.files.values()}:
        maker = ancestry.find_custody(sha256).maker
        if maker is not None:
            makers[maker.id] = maker
    return tuple(sorted(ancestry.list_ancestors(makers.values()), key=lambda each: each.entry))


def list_facts(processes: Iterable[Process], wishes: Specification | None) -> tuple[Fact, ...]:
    """Return the lines of the sheet.

    Args:
        processes: runs and steps behind the delivery.
        wishes: the specification that it was held against; None where it cannot be read.
    """
    known = tuple(processes)
    return tuple(_make(label, names, keys, known, wishes) for label, names, keys in _LINES)


def _make(
    label: str,
    names: tuple[str, ...],
    keys: tuple[str, ...],
    processes: tuple[Process, ...],
    wishes: Specification | None,
) -> Fact:
    told: dict[str, list[str]] = {}
    shown: set[str] = set()
    for process in processes:
        values = [known for name in names if (known := process.find_value(name)) is not None]
        if values:
            texts = [_show(known) for known in values]
            shown.update((*texts, *(str(known.value) for known in values)))
            told.setdefault(f"{', '.join(texts)} ({describe_known(values)})", []).append(process.id)
    wanted = [text for key in keys if (text := _find_wish(wishes, key))]
    return Fact(
        label,
        tuple(f"{text}: {', '.join(ids)}" for text, ids in told.items()),
        # What is asked for is printed where the records do not say the very same.
        "" if told and set(wanted) <= shown else ", ".join(wanted),
    )


def _show(known: KnownValue) -> str:
    text = show_value(known)
    is_digest = len(text) == 64 and all(sign in "0123456789abcdef" for sign in text)
    return f"sha256 {text[:_DIGITS]}…" if is_digest else text


def describe_known(values: Iterable[KnownValue]) -> str:
    """Return how values are known, each way once: `read, typed, carried and not confirmed`."""
    ways = dict.fromkeys(
        f"{known.known_by}{'' if known.confirmed else ' and not confirmed'}" for known in values
    )
    return ", ".join(ways)


def _find_wish(wishes: Specification | None, key: str) -> str:
    value: Any = wishes
    for part in key.split("."):
        value = getattr(value, part, None)
    return "" if value is None else str(value)
