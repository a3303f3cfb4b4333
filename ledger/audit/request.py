"""What an audit is asked for: settled before a byte of the folder is read."""

from __future__ import annotations

import os
from dataclasses import replace
from pathlib import Path

from ledger.audit.assembly import Delivery
from ledger.audit.criteria import Settled
from ledger.audit.profiles import asks_installed
from ledger.audit.specified import Specified, add_files
from ledger.audit.wishes import settle_wishes
from ledger.contract.guard import Guard
from ledger.contract.registry import build_registry
from ledger.dataclass import dataclass
from ledger.errors import SpecificationError, UnreadableFileError, UsageError
from ledger.fixity import read_fixity
from ledger.jobfolder import SPECIFICATION_NAME
from ledger.model.address import Address
from ledger.model.artefact import FileRecord, Role
from ledger.model.audit import AuditOptions, PluginFault
from ledger.model.filename import make_book_path
from ledger.model.specification import Specification
from ledger.shortfile import read_short_file
from ledger.specfile.reading import read_leniently


@dataclass(frozen=True)
class Request:
    """What an audit is asked for.

    Args:
        job: the job folder, absolute.
        folder: the folder to audit, absolute, or its address in a store.
        options: how.
        content: the bytes of `job.toml`.
        specification: what they say.
        settled: the checks and their criteria.
        specified: what the specification names.
        unread: keys of it that no check and no command reads.
        faults: plugins that could not be used.
        checkpoints: the table of checkpoints that came later; None for those in the job.
    """

    job: Path
    folder: Path | Address
    options: AuditOptions
    content: bytes
    specification: Specification
    settled: Settled
    specified: Specified
    unread: tuple[str, ...]
    faults: tuple[PluginFault, ...]
    checkpoints: FileRecord | None

    @property
    def book_folder(self) -> str:
        """Return the folder as the book writes it."""
        return self._written[0]

    @property
    def delivery(self) -> Delivery:
        """Return what is audited, against what."""
        return Delivery(
            folder=self.book_folder,
            specification=self.specification,
            specified=self.specified,
            quick=self.options.quick,
            checkpoints=self.checkpoints,
        )

    @property
    def folder_bytes(self) -> str:
        """Return the raw bytes of its path in hex, where `book_folder` is not exactly it."""
        return self._written[1]

    @property
    def _written(self) -> tuple[str, str]:
        if isinstance(self.folder, Address):
            return str(self.folder), ""
        return make_book_path(self.folder, self.job)


def read_request(job: Path, folder: Path | Address, options: AuditOptions, guard: Guard) -> Request:
    """Read the specification and settle what is asked for.

    Args:
        job: the job folder.
        folder: the folder to audit, or its address in a store.
        options: how.
        guard: calls what plugins wrote.

    Raises:
        UsageError: the job lies inside the folder.
        SpecificationError: `job.toml` cannot be used, with every fault in it.
        UnreadableFileError: the table of checkpoints cannot be read.
    """
    home = Path(os.path.realpath(job))
    place = folder if isinstance(folder, Address) else _find_folder(folder, home)
    content = _read_content(home / SPECIFICATION_NAME)
    reading = read_leniently(content, SPECIFICATION_NAME)
    registry = build_registry(guard, with_profiles=asks_installed(reading.specification))
    wishes = settle_wishes(reading, registry, guard, home)
    return Request(
        job=home,
        folder=place,
        options=options,
        content=content,
        specification=wishes.specification,
        settled=wishes.settled,
        specified=add_files(wishes.specified, wishes.specification, home),
        unread=wishes.unread,
        faults=(*registry.faults, *wishes.settled.faults),
        checkpoints=_read_checkpoints(options.checkpoints, home),
    )


def _find_folder(folder: Path, home: Path) -> Path:
    # Not Path.resolve(), which raises where links lead round in a circle.
    place = Path(os.path.realpath(folder))
    if home.is_relative_to(place):
        raise UsageError(
            "the job folder lies inside this folder",
            where=str(folder),
            remedy="name the folder that is to be sent",
        )
    return place


def _read_content(path: Path) -> bytes:
    try:
        return read_short_file(path, path.name)
    except UnreadableFileError as error:
        remedy = "an audit needs to know what the deliverable has to meet"
        told = tuple(replace(fault, remedy=remedy) for fault in error.faults)
        raise SpecificationError.from_faults(told) from None


def _read_checkpoints(path: Path | None, job: Path) -> FileRecord | None:
    if path is None:
        return None
    fixity = read_fixity(path)
    name, raw = make_book_path(Path(os.path.realpath(path)), job)
    role = str(Role.CHECKPOINTS)
    return FileRecord(name, fixity.sha256, fixity.bytes, fixity.mtime_ns, role, path_bytes=raw)
