"""What is checked: every installed check, what supplies it, and its criteria with their sources."""

from __future__ import annotations

import os
from pathlib import Path

from ledger.audit.wishes import settle_wishes
from ledger.contract.guard import Guard
from ledger.contract.registry import build_registry
from ledger.jobfolder import SPECIFICATION_NAME
from ledger.model.ask import Progress
from ledger.model.audit import ChecksResult
from ledger.shortfile import read_short_file
from ledger.specfile.reading import read_leniently


def list_checks(job: Path | None = None, progress: Progress | None = None) -> ChecksResult:
    """Return every installed check.

    Args:
        job: a job folder, whose `job.toml` fills the criteria; None for the defaults alone.
        progress: told of a plugin that takes very long; None for nobody.

    Raises:
        SpecificationError: the job's `job.toml` cannot be used.
        UnreadableFileError: it cannot be read.
    """
    reading = read_leniently(_read_content(job), SPECIFICATION_NAME)
    with Guard(progress) as guard:
        registry = build_registry(guard)
        wishes = settle_wishes(reading, registry, guard, job)
    return ChecksResult(
        checks=wishes.settled.facts,
        plugins=registry.plugins,
        faults=(*registry.faults, *wishes.settled.faults),
        unread=wishes.unread,
        profile=wishes.settled.profile,
        profiles=tuple(each.profile.id for each in registry.profiles),
    )


def _read_content(job: Path | None) -> bytes:
    """Return `job.toml`, or nothing where there is none: this works without a job."""
    path = None if job is None else job / SPECIFICATION_NAME
    if path is None or not os.path.lexists(path):
        return b""
    return read_short_file(path, SPECIFICATION_NAME)
