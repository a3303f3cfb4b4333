"""Files that no process made, grouped by folder and header, each with one command for its group.

Files of one export lie in one folder and have headers alike, so they are recorded together. A
command names a group by its folder or by a pattern of names only where that means the group and
nothing else; of a file that cannot be told from others so, it names the file alone.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable
from itertools import takewhile
from pathlib import PurePosixPath

from ledger.contract.evidence import DeliveredFile
from ledger.dataclass import dataclass
from ledger.model.address import is_address
from ledger.model.traits import Traits, read_traits
from ledger.model.typed import quote_path

_MOST_NAMED = 4

# A run or step is recorded with files of a drive; they are known in a store by their digests.
_ON_A_DRIVE = "swathbook record PATH, where the same files lie on a drive"


@dataclass(frozen=True)
class Orphan:
    """One file that no process made.

    Args:
        told: its header in a few words; empty without one.
        command: what records its group.
        alone: nothing else is in its group.
    """

    told: str
    command: str
    alone: bool = True


def group_orphans(
    folder: str, orphans: Iterable[DeliveredFile], everything: Iterable[DeliveredFile]
) -> dict[str, Orphan]:
    """Return how each orphan is recorded, by path.

    Args:
        folder: the audited folder, as it is typed in the job folder.
        orphans: the files that no process made.
        everything: every file of the audited folder.
    """
    paths = [PurePosixPath(file.path) for file in everything]
    groups = _sort(orphans)
    by_place: dict[PurePosixPath, list[PurePosixPath]] = {}
    for (place, _), members in groups.items():
        by_place.setdefault(place, []).extend(members)
    found: dict[str, Orphan] = {}
    for (place, traits), members in groups.items():
        told = traits.describe() if traits is not None else ""
        named = _name_group(folder, members, paths)
        together = ""
        if not named and len(by_place[place]) > len(members):
            together = _name_group(folder, by_place[place], paths)
        for path in members:
            command = _write_command(named or _type(folder, path), together)
            if is_address(folder):
                command = _ON_A_DRIVE
            found[str(path)] = Orphan(told, command, alone=not named or len(members) == 1)
    return found


_Key = tuple[PurePosixPath, Traits | None]


def _sort(orphans: Iterable[DeliveredFile]) -> dict[_Key, list[PurePosixPath]]:
    """Return paths by folder and header; rasters go with the only point files beside them."""
    groups: dict[_Key, list[PurePosixPath]] = {}
    for file in orphans:
        path = PurePosixPath(file.path)
        groups.setdefault((path.parent, read_traits(file.header)), []).append(path)
    for key in [key for key in groups if key[1] is None]:
        beside = [other for other in groups if other[0] == key[0] and other[1] is not None]
        if len(beside) == 1:
            groups[beside[0]] += groups.pop(key)
    return groups


def _write_command(words: str, together: str) -> str:
    command = f"swathbook record {words}"
    if not together:
        return command
    return f"{command}; where one run made them all: swathbook record {together} --together"


def _name_group(
    folder: str, group: Collection[PurePosixPath], everything: Collection[PurePosixPath]
) -> str:
    """Return what means these files and no other, as it is typed; empty for nothing short."""
    if len(group) <= _MOST_NAMED:
        return " ".join(_type(folder, path) for path in sorted(group))
    place = next(iter(group)).parent
    if {path for path in everything if place in path.parents} == set(group):
        return quote_path(folder if place == PurePosixPath() else f"{folder}/{place}")
    patterns = []
    for suffix in sorted({path.suffix for path in group}):
        names = [path.name for path in group if path.suffix == suffix]
        others = {path.name for path in everything if path.parent == place} - set(names)
        pattern = _find_pattern(names, suffix, others)
        if not pattern:
            return ""
        patterns.append(f"{_type(folder, place)}/{pattern}")
    return " ".join(patterns)


def _find_pattern(names: Collection[str], suffix: str, others: Collection[str]) -> str:
    """Return `*.laz` or `tile_*.laz`, whichever no other name fits; empty where one does."""
    first, last = min(names).removesuffix(suffix), max(names)
    same = (a == b for a, b in zip(first, last, strict=False))
    common = first[: sum(1 for _ in takewhile(bool, same))]
    for start in ("", common.rstrip("0123456789"), common):
        fits = (name.startswith(start) and name.endswith(suffix) for name in others)
        if not any(fits) and quote_path(f"{start}{suffix}") == f"{start}{suffix}":
            return f"{start}*{suffix}"
    return ""


def _type(folder: str, path: PurePosixPath) -> str:
    return quote_path(folder if path == PurePosixPath() else f"{folder}/{path}")
