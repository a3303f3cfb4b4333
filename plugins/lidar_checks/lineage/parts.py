"""Files that a capture was split into, told by their names.

`cap_0412_p1.bin`, `cap_0412_p2.bin` and `scan.001`, `scan.002` count up. A number beside a word for
a part is surely a part number; a bare one may as well count captures, so less is said of it. Longer
numbers are dates and times and count nothing.
"""

from __future__ import annotations

import re
from collections.abc import Iterable

from ledger.dataclass import dataclass
from ledger.model.jobrecords import RawFile

# The last run of one to three digits of a name, with what stands before and behind it.
_NUMBERED = re.compile(r"^(.*?)(\d{1,3})(\D*)$")
_WORD_FOR_PART = re.compile(
    r"(?:^|[^a-z])(?:p|part|pt|seg|segment|split|chunk)[ ._-]?$", re.IGNORECASE
)
_COUNTED_SUFFIX = re.compile(r"\.\d{3}$")


@dataclass(frozen=True)
class Sequence:
    """Files whose names differ in one number.

    Args:
        pattern: their name with `#` for the number.
        files: by number, each number once.
        twins: numbers that more than one file has.
        is_certain: the names say that the numbers are those of parts.
    """

    pattern: str
    files: dict[int, RawFile]
    twins: tuple[int, ...] = ()
    is_certain: bool = False

    @property
    def missing(self) -> tuple[int, ...]:
        """Return the numbers that are left out: within the sequence, or before a part 2 or more."""
        first, last = min(self.files), max(self.files)
        begin = 1 if self.is_certain and first > 1 else first
        return tuple(number for number in range(begin, last) if number not in self.files)

    @property
    def last(self) -> int:
        """Return the highest number."""
        return max(self.files)

    def name(self, number: int) -> str:
        """Return the path that a part would have, with as many digits as its neighbours."""
        known = self.files[min(self.files)].file.path
        split = _split(known)
        width = len(split[1]) if split is not None else 1
        return self.pattern.replace("#", f"{number:0{width}d}")


def find_sequences(files: Iterable[RawFile]) -> tuple[Sequence, ...]:
    """Return the sequences among some files, sorted; a file without a number is in none."""
    groups: dict[str, dict[int, list[RawFile]]] = {}
    certain: dict[str, bool] = {}
    for raw in files:
        split = _split(raw.file.path)
        if split is None:
            continue
        before, number, behind = split
        pattern = f"{before}#{behind}"
        groups.setdefault(pattern, {}).setdefault(int(number), []).append(raw)
        name = before.rpartition("/")[2]
        is_suffix = _COUNTED_SUFFIX.search(raw.file.path) is not None
        certain[pattern] = is_suffix or _WORD_FOR_PART.search(name) is not None
    return tuple(
        Sequence(
            pattern,
            {number: listed[0] for number, listed in numbers.items()},
            tuple(sorted(n for n, listed in numbers.items() if len(listed) > 1)),
            certain[pattern],
        )
        for pattern, numbers in sorted(groups.items())
    )


def _split(path: str) -> tuple[str, str, str] | None:
    """Return a path around its number: before, digits, behind; None where there is no such one."""
    folder, slash, name = path.rpartition("/")
    match = _NUMBERED.match(name)
    if match is None or match[1][-1:].isdigit():
        return None
    return f"{folder}{slash}{match[1]}", match[2], match[3]
