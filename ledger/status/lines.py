"""What the bare command says, as plain records."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

_KILO = 1000
_UNITS = ("B", "kB", "MB", "GB", "TB")


@dataclass(frozen=True)
class StatusLine:
    """One thing that a person wants to know.

    Args:
        topic: one or two words: `raw data`, `runs`, `last audit`.
        sentence: how it stands.
        next: what to type about it; empty when nothing has to be done.
    """

    topic: str
    sentence: str
    next: str = ""


@dataclass(frozen=True)
class StatusResult:
    """Where the job stands.

    Args:
        job: the job folder; None outside a job.
        state: one line for each topic, in the order of the work.
    """

    job: Path | None
    state: tuple[StatusLine, ...]

    @property
    def next(self) -> str:
        """Return what to type next: the first thing that waits, in the order of the work."""
        return next((line.next for line in self.state if line.next), "")


def count(number: int, thing: str, many: str = "") -> str:
    """Return a number with its noun: `1 file`, `2 files`."""
    return f"{number} {thing if number == 1 else many or thing + 's'}"


def describe_bytes(size: int) -> str:
    """Return a size with its decimal unit, three digits: `1.25 GB` (1 GB is 10^9 bytes)."""
    scaled, unit = float(size), 0
    while scaled >= _KILO and unit < len(_UNITS) - 1:
        scaled, unit = scaled / _KILO, unit + 1
    return f"{scaled:.{0 if unit == 0 else 2}f} {_UNITS[unit]}"
