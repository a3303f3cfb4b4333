"""Which settings differ from the run before, of the same inputs."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterable

from ledger.model.artefact import Role
from ledger.model.process import Process
from ledger.trace.files import sort_values
from ledger.trace.nodes import SettingChange

# What was measured, in contrast to how it was processed: another geoid is a changed setting,
# another capture is another job of work.
_MEASURED = frozenset({Role.CAPTURE, Role.POINTS, Role.RASTER, ""})
# Not settings: they tell runs apart, not results.
_NO_SETTINGS = frozenset(
    {"decision", "reason", "purpose", "started", "ended", "folder", "exit_status"}
)


class RunsBefore:
    """Finds the run before of the same inputs.

    Args:
        processes: all runs and steps of a book, in order of entry.
    """

    def __init__(self, processes: Iterable[Process]) -> None:
        """Sort the processes by what they worked on."""
        self._alike: dict[tuple[str, frozenset[str]], list[Process]] = {}
        for process in processes:
            key = (_name_work(process), _list_measured(process))
            self._alike.setdefault(key, []).append(process)

    def find_changes(self, process: Process) -> tuple[Process | None, tuple[SettingChange, ...]]:
        """Return the run before, and every setting that differs from it.

        Without an earlier process of its kind with the same inputs: None and nothing.
        """
        wanted = _list_measured(process)
        alike = self._alike.get((_name_work(process), wanted), [])
        place = bisect_left(alike, process.entry, key=lambda other: other.entry)
        if not wanted or place == 0:
            return None, ()
        before = alike[place - 1]
        return before, _compare(before, process)


def _name_work(process: Process) -> str:
    """Return the kind of work: a tiling is no other attempt at a cleaning of the same files."""
    kind = process.find_value("kind")
    return f"{process.kind} {kind.value if kind is not None else ''}"


def _list_measured(process: Process) -> frozenset[str]:
    """Return flights and digests of what the process worked on; all inputs when none is that."""
    measured = {
        item.flight or item.sha256
        for item in process.inputs
        if item.flight or item.role in _MEASURED
    }
    return frozenset(measured or {item.sha256 for item in process.inputs})


def _compare(before: Process, now: Process) -> tuple[SettingChange, ...]:
    changes = []
    for key in sort_values({**before.values, **now.values}):
        old, new = before.values.get(key), now.values.get(key)
        same = (old and (old.value, old.unit)) == (new and (new.value, new.unit))
        if key.partition(".")[2] not in _NO_SETTINGS and not same:
            changes.append(SettingChange(key, old, new))
    return tuple(changes)
