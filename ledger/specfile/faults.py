"""The faults of one file: collected by every reader of it, told once, in the order of the lines."""

from __future__ import annotations

from dataclasses import dataclass, field

from ledger.errors import Fault, SpecificationError
from ledger.loading import load_part
from ledger.specfile.text import KeyPath, shorten

VALUE, NAME = "value", "name"
"""What a fault is about: the value of a key, or the name that a key is."""


@dataclass
class FaultList:
    """What is wrong with one file so far.

    Of several faults of one value the first is kept: later readers only stumble over the same.

    Args:
        text: the whole file, to find lines in.
        where: its name in messages.
    """

    text: str
    where: str
    _found: dict[tuple[KeyPath, str], Fault] = field(default_factory=dict)

    def __len__(self) -> int:
        return len(self._found)

    def add(  # noqa: PLR0913 - the parts of a fault
        self,
        path: KeyPath,
        what: str,
        *,
        found: str = "",
        expected: str = "",
        remedy: str = "",
        about: str = VALUE,
    ) -> None:
        """Add a fault.

        Args:
            path: the key, names from the outermost section inwards.
            what: what is wrong with it, as the end of a sentence that begins with its name.
            found: the value met.
            expected: what would have been right.
            remedy: what to do.
            about: `VALUE` or `NAME`.
        """
        if (path, about) in self._found:
            return
        told = f"{name_key(path)} {what}"
        # What finds lines is needed where something is wrong, and takes as long as a small library.
        line = load_part("ledger.specfile.lines", "locate")(self.text, path)
        self._found[path, about] = Fault(told, found, expected, self.where, line, remedy)

    def listed(self) -> tuple[Fault, ...]:
        """Return the faults in the order of their lines, those without a line last."""
        faults = self._found.values()
        return tuple(sorted(faults, key=lambda fault: (fault.line is None, fault.line or 0)))

    def require_none(self) -> None:
        """Do nothing where there is no fault.

        Raises:
            SpecificationError: there are some; it holds them all.
        """
        if self._found:
            raise SpecificationError.from_faults(self.listed())


def name_key(path: KeyPath) -> str:
    """Return a key path as it is written: `coordinates.unit.vertical`, a list place as `[2]`."""
    parts: list[str] = []
    for part in path:
        if isinstance(part, int):
            parts[-1:] = [f"{parts[-1]}[{part + 1}]"] if parts else [f"[{part + 1}]"]
        else:
            parts.append(part)
    return shorten(".".join(parts))
