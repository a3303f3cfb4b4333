"""Which registered files stand behind a delivery as raw data, and how sentences name them."""

from __future__ import annotations

from collections.abc import Iterable

from ledger.contract.evidence import Evidence
from ledger.model.artefact import Role
from ledger.model.jobrecords import RawFile
from ledger.model.phrases import count_things

# What a rerun needs and what nobody can make again.
RAW_ROLES = (Role.CAPTURE, Role.BASE_LOG, Role.FLIGHT_LOG, Role.TRAJECTORY)
_NAMED = 4
NO_RAW = "No raw file of a flight behind these files is registered."
NEEDS_RAW = ("capture",)


def list_raw(evidence: Evidence, roles: Iterable[Role] = RAW_ROLES) -> tuple[RawFile, ...]:
    """Return the raw files behind the delivery that have one of these roles, each once."""
    wanted = {str(role) for role in roles}
    found = {
        (raw.file.sha256, raw.file.path, raw.flight): raw
        for raw in evidence.job.raw
        if raw.file.role in wanted
    }
    return tuple(found.values())


def group_by_flight(files: Iterable[RawFile]) -> dict[str, list[RawFile]]:
    """Return raw files by the id of their flight; under an empty text those of none."""
    groups: dict[str, list[RawFile]] = {}
    for raw in files:
        groups.setdefault(raw.flight, []).append(raw)
    return groups


def name_flight(flight: str) -> str:
    """Return how a flight is named: `F1`, or that a file belongs to none."""
    return flight or "no flight"


def name_files(files: Iterable[RawFile]) -> str:
    """Return some files by their paths, the rest as a number."""
    paths = list(dict.fromkeys(raw.file.path for raw in files))
    more = len(paths) - _NAMED
    told = ", ".join(paths[:_NAMED])
    return f"{told} and {count_things(more, 'more file')}" if more > 0 else told


def name_users(evidence: Evidence, raw: RawFile) -> str:
    """Return the runs that used a raw file, as a clause: ` (used by R1, R2)`; empty for none."""
    users = [
        process.id
        for process in evidence.processes
        if any(
            (used.flight and used.flight == raw.flight) or used.sha256 == raw.file.sha256
            for used in process.inputs
        )
    ]
    return f" (used by {', '.join(users)})" if users else ""
