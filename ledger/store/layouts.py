"""What shape the values of an entry have for whoever reads them, by kind.

Somebody else may have written a book whose tree fits. What its entries say in another shape is met
here, where an entry is taken in, and what they leave out where it is asked for: both in one line.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from ledger.errors import BrokenBookError
from ledger.model.entry import Kind
from ledger.model.verdict import Verdict

Test = Callable[[object], bool]


def _is_text(value: object) -> bool:
    return isinstance(value, str)


def _is_count(value: object) -> bool:
    return isinstance(value, int) and not isinstance(value, bool) and value >= 0


def _is_choice(value: object) -> bool:
    return isinstance(value, bool)


def _is_mapping(value: object) -> bool:
    return isinstance(value, dict)


def _is_hexes(value: object) -> bool:
    try:
        return isinstance(value, list) and all(bytes.fromhex(part) for part in value)
    except (TypeError, ValueError):
        return False


def _is_verdict(value: object) -> bool:
    return value in tuple(Verdict)


def _all(test: Test, *keys: str) -> dict[str, Test]:
    return dict.fromkeys(keys, test)


_LAYOUTS: Mapping[str, Mapping[str, Test]] = {
    Kind.SPECIFICATION: _all(_is_text, "sha256"),
    **dict.fromkeys(
        (Kind.FLIGHT, Kind.RIG, Kind.RUN, Kind.STEP, Kind.STATEMENT, Kind.POINTS),
        _all(_is_text, "name"),
    ),
    Kind.DECISION: _all(_is_text, "decision", "reason"),
    Kind.AUDIT: {
        **_all(_is_text, "id", "folder", "manifest", "manifest_sha256", "specification"),
        "verdict": _is_verdict,
        "quick": _is_choice,
    },
    Kind.ACCEPTANCE: _all(_is_text, "finding", "by", "reason"),
    Kind.FOREIGN: {
        "root": _is_text,
        "size": _is_count,
        "common": _is_count,
        "ids": _is_mapping,
    },
    Kind.DELIVERABLE: _all(_is_text, "deliverable", "manifest_sha256", "manifest_root"),
    Kind.SEAL: {
        **_all(_is_text, "root", "note", "key", "keep_until"),
        **_all(_is_count, "size", "since"),
        "consistency": _is_hexes,
    },
    Kind.TRANSMITTAL: _all(
        _is_text,
        *("id", "deliverable", "folder", "manifest_sha256", "verdict", "to", "use"),
        *("revision", "supersedes", "despite"),
    ),
    Kind.DELETION: _all(_is_text, "files"),
    Kind.REPEAT: _all(_is_text, "process", "outcome", "manner"),
    Kind.TIMESTAMP: {"seal": _is_count, **_all(_is_text, "token", "authority")},
}


class MissingValueError(BrokenBookError, KeyError):
    """An entry leaves out what its kind has."""


class Values(dict[str, Any]):
    """The values of a stored entry: a key that they leave out is told as what is wrong with it."""

    def __init__(self, seq: int, values: Mapping[str, Any]) -> None:
        """Take the values of the entry of a number."""
        super().__init__(values)
        self._seq = seq

    def __missing__(self, key: str) -> Any:  # noqa: ANN401 - it returns nothing
        """Refuse the entry.

        Raises:
            MissingValueError: always.
        """
        raise MissingValueError(
            "an entry leaves out what its kind has", found=f"no {key}", where=f"entry {self._seq}"
        )


def has_layout(kind: str) -> bool:
    """Say whether values of a kind have to have a shape."""
    return kind in _LAYOUTS


def find_misfit(kind: str, values: Mapping[str, Any]) -> str:
    """Return a key whose value is not of the shape that its kind has; empty where all fit."""
    tests = _LAYOUTS.get(kind, {})
    return next((key for key, fits in tests.items() if key in values and not fits(values[key])), "")
