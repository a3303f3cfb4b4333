"""The processes behind a delivery that a check of settings judges, each with what it was made from.

Settings of a capture (mount mode, lever arm …) are judged on runs on raw data. A program that only
cleans, classifies or tiles has none, so every way back from a delivered file is followed up to the
run that has. Heights are judged there too, and wherever a later process changed them; so are frame,
zone, unit and scale.

Invariant: only processes that are accepted or undecided are returned. A rejected one behind a
delivered file is a stale file, which another check tells.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import field

from ledger.contract.evidence import Evidence
from ledger.dataclass import dataclass
from ledger.model.process import Process
from lidar_checks.settings.ancestry import JUDGED, Ancestry, Flights, Walk
from lidar_checks.settings.stance import (
    NO_GEOID,
    Stance,
    find_height_stance,
    find_position_stance,
)


@dataclass(frozen=True)
class Chain:
    """One run or step and what it was made from.

    Args:
        process: the run or step.
        flights: flights that it used, or that those before it used.
        earlier: what settled its heights or positions, nearest only; empty for a run on raw data.
        files: paths of the delivered files behind which it stands, sorted.
        delivers: nothing that changed them stands between it and some delivered file.
        silent_before: what was done to its input and does not say whether it changed them.
        silent_after: the same for what was done to its output before it was delivered.
        about: what was followed: `heights` or `positions`.
    """

    process: Process
    flights: Flights = field(default_factory=Flights)
    earlier: tuple[Process, ...] = ()
    files: tuple[str, ...] = ()
    delivers: bool = True
    silent_before: tuple[Process, ...] = ()
    silent_after: tuple[Process, ...] = ()
    about: str = "heights"


def find_capture_chains(evidence: Evidence) -> tuple[Chain, ...]:
    """Return the runs on raw data behind the delivery, in order of entry."""
    ancestry = Ancestry(evidence)
    return tuple(
        Chain(
            process,
            flights=ancestry.find_flights(process),
            files=files,
        )
        for process, files in _list_with_files(evidence, ancestry, ancestry.is_on_raw_data)
    )


def find_height_chains(evidence: Evidence) -> tuple[Chain, ...]:
    """Return the processes behind the delivery that settled its heights, in order of entry."""
    return _find_settling_chains(evidence, "heights")


def find_position_chains(evidence: Evidence) -> tuple[Chain, ...]:
    """Return the processes behind the delivery that settled where it lies, in order of entry."""
    return _find_settling_chains(evidence, "positions")


def _find_settling_chains(evidence: Evidence, about: str) -> tuple[Chain, ...]:
    ways = _Ways(Ancestry(evidence), _STANCES[about])
    after: dict[str, dict[str, Process]] = {}
    for file in evidence.files:
        walk = ways.find_settling(ways.ancestry.find_heads(file))
        for process in walk.ends:
            silent = {each.id: each for each in ways.list_silent(walk)}
            after.setdefault(process.id, {}).update(silent)
    chains = []
    for process, files in _list_with_files(evidence, ways.ancestry, ways.settles):
        before = ways.find_settling(ways.ancestry.find_sources(process))
        chains.append(
            Chain(
                process,
                flights=ways.ancestry.find_flights(process),
                earlier=before.ends,
                files=files,
                delivers=process.id in after,
                silent_before=ways.list_silent(before),
                silent_after=tuple(after.get(process.id, {}).values()),
                about=about,
            )
        )
    return tuple(chains)


@dataclass(frozen=True)
class _Ways:
    """The ways back along what settles one quantity.

    Args:
        ancestry: the processes behind the delivery.
        find_stance: what a process says of that quantity.
    """

    ancestry: Ancestry
    find_stance: Callable[[Process], Stance]

    def settles(self, process: Process) -> bool:
        """Say whether a process settles the quantity."""
        on_raw_data = self.ancestry.is_on_raw_data(process)
        return on_raw_data or self.find_stance(process) is Stance.SETTLES

    def find_settling(self, heads: tuple[Process, ...]) -> Walk:
        """Return the nearest processes that settle it."""
        return self.ancestry.walk_back(heads, self.settles)

    def list_silent(self, walk: Walk) -> tuple[Process, ...]:
        """Return the processes on the way that say nothing of it."""
        return tuple(each for each in walk.passed if self.find_stance(each) is Stance.SILENT)


_STANCES = {"heights": find_height_stance, "positions": find_position_stance}


def find_geoid_makers(evidence: Evidence) -> dict[str, tuple[Process, ...]]:
    """Return, by path of each delivered file, what gave its heights their geoid.

    A process that applied no geoid to what others made is passed, and so is one that left heights
    alone or says nothing of them.
    """
    ancestry = Ancestry(evidence)
    found: dict[str, tuple[Process, ...]] = {}
    for file in evidence.files:
        walk = ancestry.walk_back(
            ancestry.find_heads(file), lambda process: _made_geoid(ancestry, process)
        )
        found[file.path] = tuple(each for each in walk.ends if each.decision in JUDGED)
    return found


def list_behind(evidence: Evidence) -> tuple[tuple[Process, tuple[str, ...]], ...]:
    """Return every run and step behind the delivery with the paths of its files."""
    return _list_with_files(evidence, Ancestry(evidence), lambda _: True)


def find_rootless(evidence: Evidence) -> tuple[Process, ...]:
    """Return the processes behind which some points come from no judged run on raw data."""
    ancestry = Ancestry(evidence)
    found: dict[str, Process] = {}
    met: dict[str, Process] = {}
    for head in _list_heads(evidence, ancestry):
        behind = ancestry.list_behind([head])
        met |= {process.id: process for process in behind}
        if not any(p.decision in JUDGED and ancestry.is_on_raw_data(p) for p in behind):
            found[head.id] = head
    found |= {
        process.id: process
        for process in met.values()
        if not ancestry.is_on_raw_data(process) and ancestry.has_unknown_source(process)
    }
    judged = (process for process in found.values() if process.decision in JUDGED)
    return tuple(sorted(judged, key=lambda process: process.entry))


def _list_heads(evidence: Evidence, ancestry: Ancestry) -> tuple[Process, ...]:
    heads = (process for file in evidence.files for process in ancestry.find_heads(file))
    return tuple({process.id: process for process in heads}.values())


def _list_with_files(
    evidence: Evidence, ancestry: Ancestry, is_meant: Callable[[Process], bool]
) -> tuple[tuple[Process, tuple[str, ...]], ...]:
    files: dict[str, list[str]] = {}
    known: dict[str, Process] = {}
    for file in evidence.files:
        for process in ancestry.list_behind(ancestry.find_heads(file)):
            known[process.id] = process
            files.setdefault(process.id, []).append(file.path)
    meant = [each for each in known.values() if each.decision in JUDGED and is_meant(each)]
    return tuple(
        (process, tuple(sorted(files[process.id])))
        for process in sorted(meant, key=lambda process: process.entry)
    )


def _made_geoid(ancestry: Ancestry, process: Process) -> bool:
    if ancestry.is_on_raw_data(process):
        return True
    geoid = process.find_value("geoid_name")
    applied_none = geoid is not None and geoid.value == NO_GEOID
    return find_height_stance(process) is Stance.SETTLES and not applied_none
