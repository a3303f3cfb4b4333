"""Which settings differ from the run before, of the same inputs."""

from __future__ import annotations

from ledger.model.artefact import Role
from ledger.model.process import Process
from ledger.store.reading import Book
from ledger.trace.nodes import SettingChange

# What was measured, in contrast to how it was processed: another geoid is a changed setting,
# another capture is another job of work.
_MEASURED = frozenset({Role.CAPTURE, Role.POINTS, Role.RASTER, ""})
# Not settings: they tell runs apart, not results.
_NO_SETTINGS = frozenset({"run.decision", "run.reason", "run.purpose", "run.started"})


def find_changes(book: Book, process: Process) -> tuple[Process | None, tuple[SettingChange, ...]]:
    """Return the run before of the same inputs, and every setting that differs from it.

    Args:
        book: an open book.
        process: the run or step that is looked at.

    Returns:
        None and nothing when there is no earlier process of its kind with the same inputs.
    """
    wanted = _list_measured(process)
    earlier = [
        other
        for other in book.processes()
        if other.kind == process.kind
        and other.entry < process.entry
        and _list_measured(other) == wanted
    ]
    if not wanted or not earlier:
        return None, ()
    before = max(earlier, key=lambda other: other.entry)
    return before, _compare(before, process)


def _list_measured(process: Process) -> frozenset[str]:
    """Return flights and digests of what the process worked on; all inputs when none is that."""
    measured = {
        item.flight or item.sha256
        for item in process.inputs
        if item.flight or item.role in _MEASURED
    }
    return frozenset(measured or {item.sha256 for item in process.inputs})


def _compare(before: Process, now: Process) -> tuple[SettingChange, ...]:
    keys = [*before.values, *(key for key in now.values if key not in before.values)]
    changes = []
    for key in keys:
        old, new = before.values.get(key), now.values.get(key)
        same = (old and (old.value, old.unit)) == (new and (new.value, new.unit))
        if key not in _NO_SETTINGS and not same:
            changes.append(SettingChange(key, old, new))
    return tuple(changes)
