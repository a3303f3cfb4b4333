"""Everything that a `job.toml` asks for, and every fault in it, in one reading."""

from __future__ import annotations

from pathlib import Path

from ledger.audit.criteria import Settled, settle_checks
from ledger.audit.specified import Specified, read_specified
from ledger.contract.guard import Guard
from ledger.contract.needs import list_specification_keys
from ledger.contract.registry import Registry
from ledger.dataclass import dataclass
from ledger.model.specification import Specification
from ledger.specfile.reading import Reading
from ledger.specfile.uses import list_unread


@dataclass(frozen=True)
class Wishes:
    """What is asked for.

    Args:
        specification: what the file says.
        settled: the checks and their criteria.
        specified: what its coordinates section names.
        unread: keys that it fills and that no check of the audit and no command reads.
    """

    specification: Specification
    settled: Settled
    specified: Specified
    unread: tuple[str, ...]


def settle_wishes(
    reading: Reading, registry: Registry, guard: Guard | None = None, home: Path | None = None
) -> Wishes:
    """Settle the checks and read the coordinate systems of a specification.

    Args:
        reading: the file as read, with its faults so far.
        registry: what is installed.
        guard: calls what plugins wrote; None for one of its own.
        home: the job folder, which may hold a profile file; None for none.

    Raises:
        SpecificationError: with every fault of every kind, in the order of the lines.
    """
    settled = settle_checks(registry, reading.specification, reading.faults, guard, home)
    specified = read_specified(reading.specification, reading.faults)
    reading.faults.require_none()
    read = (key for each in settled.enabled for key in list_specification_keys(each.check))
    unread = list_unread(reading.specification, read)
    return Wishes(reading.specification, settled, specified, unread)
