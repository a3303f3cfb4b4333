"""Recorded values by field key, for one run or step and one of its flights.

Keys that stand for another field, depending on the run:

- `run.…`: of a step, its own field of the same name;
- `source.height_type`, `source.frame`, `source.epoch`: what went into it: of the flight, or of what
  was done before;
- `run.system`, `run.trajectory_system`: the coordinate system that a recorded text names;
- `run.operation_accuracy`: how good the registry says the recorded change of frame is;
- `site.geoid_difference`: how far the grid of the run and the specified one differ at the site;
- `site.shift_to_run`, `site.shift_to_job`: how far points lie off there when the frame of what went
  in, or of the run, is taken for that of the run, or of the job;
- `files.system`, `files.scale`: of the headers of the delivered files behind which it stands;
- `job.…`: what follows from the coordinate system that the job asks for;
- `limit.…`: a criterion of the check that only the customer can state;
- `rig.lever_arm`: the measured arm of the antenna that the run says its arm starts at;
- `rig.…`: as the rig was when it was flown, where it was altered since;
- `specification.…`: what the job asks for; a value carried from the last job is not confirmed.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import Any

from ledger.contract.evidence import Evidence
from ledger.expected import find_operation_accuracy
from ledger.model.antenna import BASE_HEIGHT_KEYS, read_base_height
from ledger.model.known import KnownBy, KnownValue
from ledger.model.process import Card
from ledger.model.rig import find_state, is_other
from ledger.model.sitegeoid import compare_site_geoids
from lidar_checks.settings.chain import Chain
from lidar_checks.settings.file_facts import FILE_FACTS
from lidar_checks.settings.job_facts import (
    count_checkpoint_tables,
    find_claim,
    list_antenna_heights,
)
from lidar_checks.settings.operand import SPECIFICATION, Operand
from lidar_checks.settings.site_shift import describe_shift
from lidar_checks.settings.systems import SYSTEMS, read_system, read_wish

_UNSURE = "{rig} was altered on the day of {flight}, or the take-off of {flight} is not recorded"

_ARM_FIELDS = {
    "aircraft antenna": "rig.lever_arm_aircraft",
    "scanner antenna": "rig.lever_arm_scanner",
}


_NAMES_OF_FILE_FACTS = {"files.system": "header CRS", "files.scale": "header scale in metres"}

# By key: the field of the flight, what a process before put out, and what this one took it for.
_SOURCES = {
    "source.height_type": ("flight.height_type", "output_height_type", "input_height_type"),
    "source.frame": ("flight.frame", "frame", "frame"),
    "source.epoch": ("flight.epoch", "epoch", "epoch"),
}


# By key: the frame that positions are in, and the one that they are taken for.
_SHIFTS = {
    "site.shift_to_run": ("source.frame", "run.frame"),
    "site.shift_to_job": ("run.frame", "job.frame"),
}


class Finder:
    """Finds operands for one run and one flight.

    Args:
        chain: the run with what it was made from.
        flight: one of its flights; None where none is known.
        evidence: everything else.
    """

    def __init__(self, chain: Chain, flight: Card | None, evidence: Evidence) -> None:
        """Keep where to look."""
        self._chain = chain
        self._flight = flight
        self._evidence = evidence

    def find(self, key: str) -> Operand:
        """Return the operand of a key."""
        if key.startswith("source."):
            return self._find_source(*_SOURCES[key])
        if key == "rig.lever_arm":
            arm_from = self._chain.process.values.get("run.lever_arm_from")
            start = str(arm_from.value) if arm_from is not None else ""
            return self.find(_ARM_FIELDS.get(start, "rig.lever_arm_aircraft"))
        if key in SYSTEMS:
            return self._find_system(key)
        if key == "run.operation_accuracy":
            return self._find_operation_accuracy()
        return self._find_by[key.split(".", 1)[0]](self, key)

    def _find_of_run(self, key: str) -> Operand:
        """Return a value of the run, or of the step that stands in its place."""
        process = self._chain.process
        own = key.replace("run.", f"{process.kind}.", 1)
        return Operand(own, process.id, process.values.get(own))

    def _find_operation_accuracy(self) -> Operand:
        recorded = self._find_of_run("run.frame_operation")
        if recorded.known is None:
            return recorded
        metres = find_operation_accuracy(str(recorded.known.value))
        if metres is None:
            return replace(recorded, known=None)
        return replace(recorded, known=replace(recorded.known, value=f"{metres:g}", unit="m"))

    def _find_of_flight(self, key: str) -> Operand:
        if self._flight is None:
            return Operand(key, "", None, f"{self._chain.process.id} names no flight")
        return Operand(key, self._flight.id, self._flight.values.get(key))

    def _find_of_rig(self, key: str) -> Operand:
        named = self._find_of_flight("flight.rig")
        if named.known is None:
            return named
        wanted = str(named.known.value).strip().casefold()
        rig = next(
            (r for r in self._evidence.rigs if wanted in (r.id.casefold(), r.name.casefold())), None
        )
        if rig is None:
            return Operand(key, f"rig {named.known.value}", None)
        known, is_sure = self._read_as_flown(rig, key)
        doubt = "" if is_sure else _UNSURE.format(rig=rig.id, flight=named.owner)
        if known is not None and not (named.known.can_prove and is_sure):
            known = KnownValue(known.value, known.unit, KnownBy.ASSUMED, confirmed=False)
        return Operand(key, rig.id, known, doubt=doubt)

    def _read_as_flown(self, rig: Card, key: str) -> tuple[KnownValue | None, bool]:
        """Return a value of a rig as it was at the flight, and whether that is sure."""
        takeoff = self._find_of_flight("flight.takeoff").known
        state, is_sure = find_state(rig.states, "" if takeoff is None else str(takeoff.value))
        if state is None:
            return rig.values.get(key), True
        known = state.values.get(key)
        return known, is_sure or not any(is_other(known, s.values.get(key)) for s in rig.states)

    def _find_of_job(self, key: str) -> Operand:
        name = key.removeprefix(SPECIFICATION)
        return self._tell_wish(key, _READ_SPECIFICATION[name](self._evidence))

    def _tell_wish(self, key: str, value: Any) -> Operand:  # noqa: ANN401 - of any type
        name = key.removeprefix(SPECIFICATION)
        if not value:
            return Operand(key, "job.toml", None)
        confirmed = self._evidence.specification.is_confirmed(name)
        known_by = KnownBy.TYPED if confirmed else KnownBy.CARRIED
        return Operand(key, "job.toml", KnownValue(value, known_by=known_by, confirmed=confirmed))

    def _find_source(self, of_flight: str, put_out: str, taken_for: str) -> Operand:
        """Return what went in; of several sources one that leaves something open."""
        if not self._chain.earlier:
            return self._find_of_flight(of_flight)
        found = [
            Operand(f"{each.kind}.{put_out}", each.id, each.find_value(put_out))
            for each in self._chain.earlier
        ]
        taken = self._chain.process.find_value(taken_for)
        odd = (
            operand
            for operand in found
            if operand.known is None or (taken is not None and operand.known.value != taken.value)
        )
        return next(odd, found[0])

    def _find_system(self, key: str) -> Operand:
        """Return the coordinate system that a text of the run names."""
        named = self._find_of_run(SYSTEMS[key])
        if named.known is None:
            return named
        system = replace(named.known, value=read_system(str(named.known.value)))
        return replace(named, known=system)

    def _find_of_files(self, key: str) -> Operand:
        """Return what the headers of the delivered files of the run say."""
        files = [file for file in self._evidence.files if file.path in self._chain.files]
        path, known = FILE_FACTS[key](files, self._find_system("run.system").known)
        return Operand(_NAMES_OF_FILE_FACTS[key], path or "no delivered file", known)

    def _find_of_log(self, key: str) -> Operand:
        """Return the height of the antenna in a base log of the flight; one that differs first."""
        card = self._find_antenna(key).known
        flight = "" if self._flight is None else self._flight.id
        found = list_antenna_heights(self._evidence, flight)
        differing = [each for each in found if card is not None and each[1] != card.value]
        for path, height in (*differing, *found):
            return Operand("base log", path, KnownValue(height, "m", KnownBy.READ))
        return Operand("base log", flight or "the flight", None)

    def _find_antenna(self, key: str) -> Operand:
        """Return the vertical height of the base antenna by the card of the flight."""
        del key
        read = self._find_of_flight("flight.base_height")
        if read.known is None or self._flight is None:
            return read
        height = read_base_height(self._flight.values)
        vertical = None if height is None else height.vertical
        if vertical is None:
            return self._find_of_flight("flight.base_height_kind")
        parts = {key: self._flight.values.get(key) for key in BASE_HEIGHT_KEYS}
        doubtful = [key for key, part in parts.items() if part is not None and not part.can_prove]
        weakest = self._find_of_flight(doubtful[0]) if doubtful else read
        known = weakest.known or read.known
        return replace(weakest, known=replace(known, value=f"{vertical:f}"))

    def _find_wish(self, key: str) -> Operand:
        if key == "job.claim":
            return find_claim(self._evidence)
        if key == "job.checkpoint_tables":
            tables = count_checkpoint_tables(self._evidence)
            return Operand("checkpoints", "job", KnownValue(tables, known_by=KnownBy.READ))
        name, value = read_wish(key, self._evidence)
        return self._tell_wish(f"{SPECIFICATION}{name}", value)

    def _find_at_site(self, key: str) -> Operand:
        """Return by how many metres the grid of the run differs from the specified one, at most."""
        geoids = self._evidence.geoids
        used = self._find_of_run("run.geoid_file")
        mine = None if used.known is None else geoids.get(str(used.known.value))
        asked = geoids.get(self._evidence.geoid_sha256)
        if mine is None or asked is None or mine.sha256 == asked.sha256:
            return Operand(key, "the site", None)
        largest = compare_site_geoids(mine, asked).largest_m
        if largest is None:
            return Operand(key, "the site", None)
        return Operand(key, "the site", KnownValue(f"{largest:.4f}", "m", KnownBy.MEASURED))

    def _find_of_site(self, key: str) -> Operand:
        if key in _SHIFTS:
            return self._find_shift(key)
        return self._find_at_site(key)

    def _find_shift(self, key: str) -> Operand:
        """Return by how much points in one frame lie off in another, in words."""
        positions, taken_for = (self.find(name).known for name in _SHIFTS[key])
        takeoff = self._find_of_flight("flight.takeoff").known
        if positions is None or taken_for is None or takeoff is None:
            return Operand(key, "the site", None)
        frames = str(positions.value), str(taken_for.value)
        told = describe_shift(*frames, str(takeoff.value), self._evidence)
        known = KnownValue(told, known_by=KnownBy.MEASURED) if told else None
        return Operand(key, "the site", known)

    _find_by: Mapping[str, Callable[[Finder, str], Operand]] = {
        "run": _find_of_run,
        "flight": _find_of_flight,
        "rig": _find_of_rig,
        "base": _find_antenna,
        "files": _find_of_files,
        "log": _find_of_log,
        "job": _find_wish,
        "site": _find_of_site,
        "specification": _find_of_job,
    }


def _read_geoid(part: str) -> Callable[[Evidence], str]:
    def read(evidence: Evidence) -> str:
        geoid = evidence.specification.coordinates.geoid
        return (getattr(geoid, part) or "") if geoid is not None else ""

    return read


def _write(number: float | None) -> str:
    return "" if number is None else repr(number)


_READ_SPECIFICATION: dict[str, Callable[[Evidence], str | None]] = {
    "coordinates.vertical": lambda evidence: evidence.specification.coordinates.vertical or "",
    "coordinates.geoid.name": _read_geoid("name"),
    "coordinates.geoid.version": _read_geoid("version"),
    "coordinates.geoid.file": lambda evidence: evidence.geoid_sha256,
    "coordinates.epoch": lambda evidence: _write(evidence.specification.coordinates.epoch),
    "coordinates.scale_basis": lambda evidence: evidence.specification.coordinates.scale_basis,
    "coordinates.combined_factor": lambda evidence: _write(
        evidence.specification.coordinates.combined_factor
    ),
}
