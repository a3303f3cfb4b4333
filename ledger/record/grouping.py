"""Which files belong together, so that nothing is attributed to a run in bulk.

Pure rules. Point files of one processing agree in the program that wrote them, coordinate system,
scale and creation day; files found in the folder of outputs also in their sub-folder, and they were
written without a long pause. The day stays a criterion when files were written around midnight: a
tile of yesterday's rejected run looks the same.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from itertools import pairwise
from pathlib import Path

from ledger.dataclass import dataclass
from ledger.model.filename import escape_for_screen
from ledger.model.moments import from_file_time
from ledger.model.phrases import count_things
from ledger.model.traits import Traits, read_traits
from ledger.record.candidates import Candidate

# A pause between two exports that parts two sessions; common practice, no source.
PAUSE_NS = 3600 * 1_000_000_000

_NAMED = 3


@dataclass(frozen=True)
class Group:
    """Files that belong together.

    Args:
        files: the files, sorted by path.
        traits: what its point files share; None when it has none with a header.
        folder: their sub-folder, empty for the folder of outputs itself.
    """

    files: tuple[Candidate, ...]
    traits: Traits | None = None
    folder: str = ""

    def describe(self) -> str:
        """Return one line that tells this group from others."""
        place = f" in {escape_for_screen(self.folder)}" if self.folder else ""
        written = f"written {_show_span(*_span(self.files))} UTC"
        traits = f"{self.traits.describe()}, " if self.traits else ""
        count = count_things(len(self.files), "file")
        return f"{count}{place} ({self.list_names()}): {traits}{written}"

    def list_names(self) -> str:
        """Return the names of the first files, safe for a screen."""
        names = ", ".join(escape_for_screen(each.path.name) for each in self.files[:_NAMED])
        return f"{names}, …" if len(self.files) > _NAMED else names


def _show_span(first_ns: int, last_ns: int) -> str:
    first, last = _show_time(first_ns), _show_time(last_ns)
    day, _, time = last.partition(" ")
    if first == last:
        return first
    return f"{first} to {time if first.startswith(day) else last}"


def _show_time(mtime_ns: int) -> str:
    moment = from_file_time(mtime_ns)
    return "a time beyond the calendar" if moment is None else f"{moment:%Y-%m-%d %H:%M}"


def group_found(files: Iterable[Candidate], folder: Path) -> tuple[Group, ...]:
    """Return the groups among files found below a folder, by time.

    Other files (rasters, reports, damaged point files) go with the point files of their sub-folder
    where these form one group and no pause lies between.
    """
    points: dict[tuple[str, Traits], list[Candidate]] = {}
    others: dict[str, list[Candidate]] = {}
    for each in files:
        part = _find_part(each, folder)
        traits = read_traits(each.header)
        if traits is None:
            others.setdefault(part, []).append(each)
        else:
            points.setdefault((part, traits), []).append(each)
    groups = [
        Group(session, traits, part)
        for (part, traits), members in points.items()
        for session in _split_by_pause(members)
    ]
    for part, members in others.items():
        groups = _join(groups, part, members)
    return tuple(sorted(groups, key=lambda group: (_span(group.files)[0], group.files[0].stored)))


def _find_part(each: Candidate, folder: Path) -> str:
    parts = each.path.relative_to(folder).parts
    return parts[0] if len(parts) > 1 else ""


def _split_by_pause(members: Sequence[Candidate]) -> list[tuple[Candidate, ...]]:
    ordered = sorted(members, key=lambda each: each.stamp.mtime_ns)
    sessions: list[list[Candidate]] = [[ordered[0]]]
    for before, each in pairwise(ordered):
        if each.stamp.mtime_ns - before.stamp.mtime_ns > PAUSE_NS:
            sessions.append([])
        sessions[-1].append(each)
    return [tuple(sorted(session, key=lambda each: each.stored)) for session in sessions]


def _span(files: Sequence[Candidate]) -> tuple[int, int]:
    times = [each.stamp.mtime_ns for each in files]
    return min(times), max(times)


def _join(groups: list[Group], part: str, members: list[Candidate]) -> list[Group]:
    """Return the groups with files without traits put where they belong."""
    alone: list[Candidate] = []
    for each in members:
        near = [
            place
            for place, group in enumerate(groups)
            if group.folder == part and group.traits is not None and _is_near(each, group)
        ]
        if len(near) == 1:
            group = groups[near[0]]
            files = tuple(sorted((*group.files, each), key=lambda file: file.stored))
            groups[near[0]] = Group(files, group.traits, part)
        else:
            alone.append(each)
    sessions = _split_by_pause(alone) if alone else []
    return [*groups, *(Group(session, None, part) for session in sessions)]


def _is_near(each: Candidate, group: Group) -> bool:
    first, last = _span(group.files)
    return first - PAUSE_NS <= each.stamp.mtime_ns <= last + PAUSE_NS


@dataclass(frozen=True)
class Sorted:
    """Files that a person named, sorted by whether they look alike.

    Args:
        alike: files that share the traits of most point files, and files without traits.
        odd: groups of point files that differ from most, each with what it shares.
        usual: the traits of most; None when there is no most.
    """

    alike: tuple[Candidate, ...]
    odd: tuple[Group, ...]
    usual: Traits | None


def sort_named(files: Iterable[Candidate]) -> Sorted:
    """Return which of the files look like most of them.

    Where no traits are those of more than half of the point files, nothing is usual and every
    group is odd.
    """
    listed = [(each, read_traits(each.header)) for each in files]
    counts = Counter(traits for _, traits in listed if traits is not None)
    usual = next((kind for kind, count in counts.items() if count * 2 > counts.total()), None)
    odd = tuple(
        _name_place([each for each, traits in listed if traits == kind], kind)
        for kind in counts
        if kind != usual
    )
    alike = tuple(each for each, traits in listed if traits is None or traits == usual)
    return Sorted(alike, odd, usual)


def _name_place(files: Sequence[Candidate], traits: Traits) -> Group:
    """Return a group that says where it lies, when its files lie in one folder."""
    parents = {each.stored.rpartition("/")[0] for each in files}
    return Group(tuple(files), traits, parents.pop() if len(parents) == 1 else "")
