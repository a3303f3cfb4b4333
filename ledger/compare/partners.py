"""How many points of one set have a partner in another, exactly, in bounded memory.

The hashes of each side are spilled into files by their highest bits; equal hashes come into files
of equal number, which are sorted and counted one after the other. 16 bytes a point on disk; in
memory one file of each side, one part in `BUCKETS`.
"""

from __future__ import annotations

import shutil
from contextlib import ExitStack
from pathlib import Path
from typing import BinaryIO, Self

import numpy as np
from numpy.typing import NDArray

from ledger.dataclass import dataclass
from ledger.errors import UnwritableFileError
from ledger.model.phrases import describe_bytes
from ledger.pointwords import Uint64Array

BUCKETS = 128
BYTES_A_POINT = 16
_SHIFT = np.uint64(64 - 7)
_RECORD = np.dtype([("geometry", "<u8"), ("full", "<u8")])


@dataclass(frozen=True)
class Partners:
    """Points that have a partner, counted with their multiplicity.

    Args:
        places: points at the same place in both.
        points: points that are the same in every field in both.
    """

    places: int
    points: int


class Spill:
    """The hashes of one side.

    Use it as a context manager; its files go when it ends.
    """

    def __init__(self, folder: Path, points: int) -> None:
        """Make room.

        Args:
            folder: where the files go; made here.
            points: points that are expected.

        Raises:
            UnwritableFileError: there is no room for them, or the system refuses.
        """
        self._folder = folder
        self._open: dict[int, BinaryIO] = {}
        self._stack = ExitStack()
        try:
            folder.mkdir(parents=True)
            free = shutil.disk_usage(folder).free
        except OSError as error:
            raise _refuse(folder, error.strerror or str(error)) from error
        needed = points * BYTES_A_POINT
        if free < needed:
            folder.rmdir()
            told = f"{describe_bytes(needed)} needed, {describe_bytes(free)} free"
            raise _refuse(folder, told)

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self._stack.close()
        shutil.rmtree(self._folder, ignore_errors=True)

    def add(self, geometry: Uint64Array, full: Uint64Array) -> None:
        """Take in the hashes of some points, uint64, (n,).

        Raises:
            UnwritableFileError: the system refuses to write them.
        """
        records = np.empty(len(geometry), _RECORD)
        records["geometry"], records["full"] = geometry, full
        buckets = (geometry >> _SHIFT).astype(np.uint8)
        order = np.argsort(buckets, kind="stable")
        ordered = records[order]
        ends = np.cumsum(np.bincount(buckets, minlength=BUCKETS))
        start = 0
        for bucket, end in enumerate(ends):
            if end > start:
                self._write(bucket, ordered[start:end])
            start = end

    def _write(self, bucket: int, records: NDArray[np.void]) -> None:
        try:
            if bucket not in self._open:
                stream = (self._folder / f"{bucket:03d}").open("wb")
                self._open[bucket] = self._stack.enter_context(stream)
            self._open[bucket].write(records.tobytes())
        except OSError as error:
            raise _refuse(self._folder, error.strerror or str(error)) from error

    def close(self) -> None:
        """End writing: every hash is in its file."""
        self._stack.close()
        self._open.clear()

    def read(self, bucket: int) -> NDArray[np.void]:
        """Return the records of one file, (n,)."""
        path = self._folder / f"{bucket:03d}"
        if not path.exists():
            return np.empty(0, _RECORD)
        return np.fromfile(path, dtype=_RECORD)


def count_partners(first: Spill, second: Spill) -> Partners:
    """Return how many points of both have a partner in the other; both must be closed."""
    places = points = 0
    for bucket in range(BUCKETS):
        one, two = first.read(bucket), second.read(bucket)
        places += count_shared(one["geometry"], two["geometry"])
        points += count_shared(one["full"], two["full"])
    return Partners(places, points)


def count_shared(one: Uint64Array, two: Uint64Array) -> int:
    """Return the size of what two multisets of numbers have in common."""
    (mine, often), (theirs, as_often) = _count(one), _count(two)
    _, here, there = np.intersect1d(mine, theirs, assume_unique=True, return_indices=True)
    return int(np.minimum(often[here], as_often[there]).sum())


def _count(values: Uint64Array) -> tuple[Uint64Array, NDArray[np.int64]]:
    """Return distinct values in order and how often each occurs; a sort is the fastest way."""
    if not len(values):
        return np.empty(0, np.uint64), np.empty(0, np.int64)
    ordered = np.sort(values)
    starts = np.flatnonzero(np.concatenate([[True], ordered[1:] != ordered[:-1]]))
    counts = np.diff(np.append(starts, len(ordered)))
    return ordered[starts], counts


def _refuse(folder: Path, why: str) -> UnwritableFileError:
    return UnwritableFileError(
        "there is no room to compare the points in",
        found=why,
        where=str(folder),
        remedy="free some space there",
    )
