"""A bag of the delivery and its papers, which a general library validates wherever it is moved.

Source: BagIt 0.97, written by the library of that name. It differs from RFC 8493 (1.0) in names
that hold a percent sign, which the library does not encode, so that 1.0 is not claimed.
"""

from __future__ import annotations

import logging
import os
import re
import shutil
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path

import bagit

from ledger.audited import AuditedFile
from ledger.errors import ChangedFileError, UnwritableFileError, UsageError
from ledger.handover.package import Listed, Package
from ledger.model.ask import Progress
from ledger.model.phrases import describe_bytes
from ledger.wholefile import flush_folder, flush_tree

NAME = "bag"
_ALGORITHM = "sha256"
_DELIVERY, _PAPERS = "delivery", "papers"
_ODD = re.compile(r"\\|%0[ad]", re.IGNORECASE)
_SPARE = 64 * 1024 * 1024  # bytes that a drive keeps free


def require_names(files: Iterable[AuditedFile]) -> None:
    r"""Refuse what another system, or the library, would read as another name.

    A backslash parts folders on Windows, so that `..\evil` leads out of a bag that is unpacked
    there. The library writes a line feed as `%0A` and reads every `%0A` as one.

    Raises:
        UsageError: a file has such a name.
    """
    odd = sorted(file.name for file in files if _ODD.search(file.name))
    if odd:
        raise UsageError(
            "a bag cannot hold a file of this name",
            found=odd[0],
            expected="a name without a backslash, %0A and %0D",
            remedy="rename it and audit the folder again, or leave out --bag",
        )


def make_bag(
    package: Package, place: Path, files: Sequence[Listed], papers: Path, progress: Progress
) -> Path:
    """Copy a delivery and its papers into a bag beside the papers.

    Args:
        package: what is handed over.
        place: the delivered folder.
        files: its files under their names on this computer.
        papers: the folder of the papers; the bag becomes `bag` in it.
        progress: told the bytes copied.

    Raises:
        UnwritableFileError: there is not enough room, or the system refused.
        ChangedFileError: a copy is not what was handed over.
    """
    target = papers / NAME
    part = papers / f".{NAME}-part"
    _require_room(papers, sum(file.bytes for file in files))
    with _telling(target):
        shutil.rmtree(part, ignore_errors=True)
        progress.start("filling the bag", sum(file.bytes for file in files), "bytes")
        for file in files:
            copy = part / _DELIVERY / file.path
            copy.parent.mkdir(parents=True, exist_ok=True)
            shutil.copyfile(place / file.path, copy)
            progress.advance(file.bytes)
        progress.finish()
        (part / _PAPERS).mkdir(parents=True)
        for paper in papers.iterdir():
            if paper.is_file():
                shutil.copyfile(paper, part / _PAPERS / paper.name)
        _fill(package, part, files)
        flush_tree(part)
        shutil.rmtree(target, ignore_errors=True)
        part.rename(target)
        flush_folder(papers)
    return target


def _require_room(papers: Path, size: int) -> None:
    free = shutil.disk_usage(papers).free
    if free < size + _SPARE:
        raise UnwritableFileError(
            "there is not enough room for a bag",
            found=f"{describe_bytes(free)} free",
            expected=describe_bytes(size + _SPARE),
            where=str(papers),
        )


def _fill(package: Package, part: Path, files: Sequence[Listed]) -> None:
    """Make a bag of the copies, and hold every digest against what was handed over."""
    logging.getLogger("bagit").setLevel(logging.ERROR)
    info = {
        "External-Identifier": f"{package.id} {package.audit.manifest_sha256}",
        "External-Description": f"{package.folder}, revision {package.wishes.revision}",
        "Bagging-Date": package.time[: len("2026-05-14")],
    }
    bag = bagit.make_bag(str(part), info, checksums=[_ALGORITHM])
    entries = bag.payload_entries()
    for file in files:
        found = entries.get(f"data/{_DELIVERY}/{file.path}", {}).get(_ALGORITHM, "")
        if found != file.sha256:
            raise ChangedFileError(
                "the copy in the bag is not what was handed over",
                found=found[:12] or "nothing",
                expected=file.sha256[:12],
                where=file.path,
            )


@contextmanager
def _telling(target: Path) -> Iterator[None]:
    """Turn what the system refuses into one line."""
    try:
        yield
    except (OSError, shutil.Error, bagit.BagError) as error:
        raise UnwritableFileError(
            "the bag cannot be written", found=str(error).splitlines()[0], where=os.fspath(target)
        ) from error
