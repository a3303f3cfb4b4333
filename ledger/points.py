"""Points of LAS and LAZ files in slices, counted here whatever the header says.

The only module that reads points with laspy and its decoder. Invariants:

- The header was read by `ledger.lasheader` first; nothing that sizes memory reaches the decoder
  unchecked.
- Every error of the libraries, and every panic of the decoder, leaves as an error of ours.
- A slice offers the fields that were asked for and no others, compressed or not: an unselected
  field of a LAZ file repeats stale values and looks alive (measured with lazrs 0.8.2).
- Fewer points than stated is always an error, raised after the last good slice.
"""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from typing import Any, BinaryIO

import laspy
import numpy as np
from laspy.point.dims import ALL_POINT_FORMATS_DTYPE, COMPOSED_FIELDS
from numpy.typing import NDArray

from ledger.chunktable import require_sound_table
from ledger.dataclass import dataclass
from ledger.errors import (
    ChangedFileError,
    MalformedFileError,
    ShortFileError,
    SwathbookError,
    UnreadableFileError,
)
from ledger.latticepoints import to_lattice
from ledger.model.ask import NoProgress, Progress
from ledger.model.chunk import Int64Array, Lattice, PointChunk
from ledger.model.header import LasHeader
from ledger.model.phrases import count_things
from ledger.remote.files import Place, RemoteFile, open_place
from ledger.storesupply import find_supply_in_store
from ledger.supply import Supply, find_supply, require_complete

# Asked for in place of names: every field of the point format and all extra bytes.
ALL_DIMENSIONS = frozenset({"*"})

EXTRA_PREFIX = "extra:"

# Large enough to keep a parallel decoder busy, small enough for memory (measured; larger gains
# nothing).
CHUNK_SIZE = 1_000_000

# Decoding wants large pieces, everything after it small ones that stay in the processor's cache.
SLICE_SIZE = 125_000

# Records that stay in the nearer cache while their fields are taken out; a third faster, measured.
_BLOCK_SIZE = 16_384

# Bounds memory where extra bytes make a record of tens of kilobytes.
_CHUNK_BYTES = 1 << 28

_SILENT = NoProgress()

Span = tuple[int, int]

_Selection = laspy.DecompressionSelection
_FLAGS = (
    "synthetic",
    "key_point",
    "withheld",
    "overlap",
    "scan_direction_flag",
    "edge_of_flight_line",
)
_WAVEFORM = (
    "wavepacket_index",
    "wavepacket_offset",
    "wavepacket_size",
    "return_point_wave_location",
    "x_t",
    "y_t",
    "z_t",
)
# What has to be decompressed for a field of formats 6 to 10; X, Y, return numbers and the scanner
# channel always are.
_SELECTIONS = {
    "classification": _Selection.CLASSIFICATION,
    "intensity": _Selection.INTENSITY,
    "scan_angle": _Selection.SCAN_ANGLE,
    "user_data": _Selection.USER_DATA,
    "point_source_id": _Selection.POINT_SOURCE_ID,
    "gps_time": _Selection.GPS_TIME,
    "nir": _Selection.NIR,
    **dict.fromkeys(_FLAGS, _Selection.FLAGS),
    **dict.fromkeys(("red", "green", "blue"), _Selection.RGB),
    **dict.fromkeys(_WAVEFORM, _Selection.WAVEPACKET),
}


@dataclass(frozen=True)
class _Job:
    """One reading of one file: what is read, and what is offered of it."""

    place: Place
    header: LasHeader
    lattice: Lattice
    dimensions: frozenset[str]
    chunk_size: int
    parallel: bool
    span: Span | None

    @property
    def where(self) -> str:
        return str(self.place)


def read_points(  # noqa: PLR0913, PLR0917 - what is read, what is offered, and how
    path: Place,
    header: LasHeader,
    lattice: Lattice,
    dimensions: frozenset[str] = frozenset(),
    progress: Progress = _SILENT,
    chunk_size: int = CHUNK_SIZE,
    *,
    parallel: bool = False,
    span: Span | None = None,
) -> Iterator[PointChunk]:
    """Yield the points of a file in slices, in file order.

    Args:
        path: the file.
        header: what `read_las_header` said about it.
        lattice: lattice of the coordinates.
        dimensions: fields to offer beside x, y and z, by LAS name in snake case, extra bytes as
            `extra:NAME` (as stored, without their own scale), or `ALL_DIMENSIONS`. A field that the
            point format does not have is not offered.
        progress: advanced by points; started and finished by the caller.
        chunk_size: points of one slice.
        parallel: decode LAZ on all cores; wrong inside a worker process.
        span: number of the first point to read and of the first one after those to read, as
            `ledger.supply.find_cuts` gives them; None to read all.

    Raises:
        UnreadableFileError: the system refused to open or read it.
        ChangedFileError: size or time differ between beginning and end.
        ShortFileError: it holds fewer points than stated, or ends before its last record; raised
            after the last good slice.
        MalformedFileError: coordinates cannot be computed, the decoder gave up, or the file holds
            more compressed points than stated.
        StoreError: the store that holds it was lost.
    """
    job = _Job(path, header, lattice, dimensions, chunk_size, parallel, span)
    try:
        with open_place(path, "decoded") as stream:
            before = _stamp(path, stream)
            if before[0] != header.file_size:
                raise ChangedFileError(
                    "the file changed since its header was read", where=job.where
                )
            try:
                yield from _read(stream, job, progress)
            except MalformedFileError:
                _require_unchanged(path, before)
                raise
            _require_unchanged(path, before)
    except OSError as error:
        raise UnreadableFileError(
            "the file cannot be read", found=error.strerror or str(error), where=job.where
        ) from error


def _stamp(path: Place, stream: BinaryIO | None = None) -> tuple[int, int]:
    """Return size and time of a file, of an opened one whatever has its name by now."""
    if isinstance(path, RemoteFile):
        return path.size, path.mtime_ns  # whatever is read of it is of this version
    status = path.stat() if stream is None else os.fstat(stream.fileno())
    return status.st_size, status.st_mtime_ns


def _require_unchanged(path: Place, before: tuple[int, int]) -> None:
    try:
        after = _stamp(path)
    except FileNotFoundError:
        after = (-1, -1)
    if after != before:
        raise ChangedFileError(
            "the file changed while its points were read",
            where=str(path),
            remedy="read it again when nothing writes to it",
        )


def _read(stream: BinaryIO, job: _Job, progress: Progress) -> Iterator[PointChunk]:
    """Yield the slices; raise where they do not add up to what the header states."""
    header = job.header
    decoded, end = job.span or (0, header.point_count)
    with _guard(job, decoded):
        supply = _find_supply(stream, job)
    stop = min(end, supply.points)
    step = max(min(job.chunk_size, _CHUNK_BYTES // header.record_length), 1)
    if decoded < stop:
        with _guard(job, decoded):
            if header.compressed and supply.in_chunks:
                # Chunks of one size do not say it; those of varying sizes say each its own.
                most = None if supply.chunk else supply.points + supply.surplus
                require_sound_table(stream, header, most)
                stream.seek(0)
            reader = _open(stream, job, parallel=job.parallel and supply.in_chunks)
            layout = _lay_out(reader.header.point_format, job.dimensions)
            if decoded:
                reader.seek(decoded)
        while decoded < stop:
            with _guard(job, decoded):
                wanted = min(step, stop - decoded)
                raw = reader.point_source.read_n_points(wanted)
                records = np.frombuffer(raw, dtype=layout.record)
            decoded += len(records)
            for start in range(0, len(records), SLICE_SIZE):
                with _guard(job, decoded):
                    chunk = _make_chunk(records[start : start + SLICE_SIZE], layout, job)
                yield chunk
                progress.advance(len(chunk))
            if len(records) < wanted:
                break
            del raw, records  # else the next piece is read beside this one
    with _guard(job, decoded):
        require_complete(header, decoded + header.point_count - end, supply.surplus)


def _find_supply(stream: BinaryIO, job: _Job) -> Supply:
    """Return what the file can give; of one in a store, without fetching what lies between."""
    if isinstance(job.place, RemoteFile):
        return find_supply_in_store(job.place, job.header)
    return find_supply(stream, job.header)


@contextmanager
def _guard(job: _Job, decoded: int) -> Iterator[None]:
    """Turn whatever the libraries raise into one of our errors.

    A panic of the decoder is a `BaseException`, so that `except Exception` would let it through.
    """
    try:
        yield
    except (KeyboardInterrupt, SystemExit, MemoryError, OSError):
        raise
    except SwathbookError as error:
        raise _place(error, job.where) from error
    except BaseException as error:
        kind = ShortFileError if job.header.missing_bytes else MalformedFileError
        words = " ".join(str(error).split())[:200] or type(error).__name__
        raise kind(
            f"the points cannot be decoded ({words})",
            found=f"{decoded:,}",
            expected=count_things(job.header.point_count, "point"),
            where=job.where,
            remedy="copy it again from where it was made, or export it again",
        ) from error


def _place(error: SwathbookError, where: str) -> SwathbookError:
    """Return the error with the file named in each fault."""
    return type(error).from_faults(tuple(replace(fault, where=where) for fault in error.faults))


def _open(stream: BinaryIO, job: _Job, *, parallel: bool) -> Any:  # noqa: ANN401 - laspy publishes no types
    selection = _Selection.all()
    if job.dimensions.isdisjoint(ALL_DIMENSIONS):
        selection = _Selection.base() | _Selection.Z
        for name in job.dimensions:
            is_extra = name.startswith(EXTRA_PREFIX)
            selection |= (
                _Selection.ALL_EXTRA_BYTES if is_extra else _SELECTIONS.get(name, selection)
            )
    stream.seek(0)
    return laspy.LasReader(
        stream,
        closefd=False,
        laz_backend=laspy.LazBackend.LazrsParallel if parallel else laspy.LazBackend.Lazrs,
        read_evlrs=False,
        decompression_selection=selection,
    )


@dataclass(frozen=True)
class _Layout:
    """What is taken out of the records of a file.

    Args:
        record: type of a record, extra bytes under names that no standard field can have.
        plain: wanted fields that fill bytes of their own, with their types.
        packed: wanted fields that share a byte, by its name: field, mask, lowest bit.
    """

    record: np.dtype[np.void]
    plain: dict[str, np.dtype[Any]]
    packed: dict[str, list[tuple[str, np.uint8, np.uint8]]]


def _lay_out(point_format: Any, wanted: frozenset[str]) -> _Layout:  # noqa: ANN401 - laspy has no types
    record = _describe_record(point_format)
    takes_all = bool(wanted & ALL_DIMENSIONS)
    packed: dict[str, list[tuple[str, np.uint8, np.uint8]]] = {}
    for holder, fields in COMPOSED_FIELDS[point_format.id].items():
        parts = [
            (
                field.name,
                np.uint8(field.mask),
                np.uint8((field.mask & -field.mask).bit_length() - 1),
            )
            for field in fields
            if takes_all or field.name in wanted
        ]
        if parts:
            packed[holder] = parts
    held = {"X", "Y", "Z", *COMPOSED_FIELDS[point_format.id]}
    names = [name for name in record.names or () if name not in held]
    plain = {name: record[name] for name in names if takes_all or name in wanted}
    return _Layout(record, plain, packed)


def _describe_record(point_format: Any) -> np.dtype[np.void]:  # noqa: ANN401 - laspy has no types
    fields = list(ALL_POINT_FORMATS_DTYPE[point_format.id].descr)
    taken: set[str] = set()
    for extra in point_format.extra_dimensions:
        name = f"{EXTRA_PREFIX}{extra.name}"
        while name in taken:
            name += "+"
        taken.add(name)
        fields.append((name, extra.type_str()))
    return np.dtype(fields)


def _make_chunk(records: NDArray[np.void], layout: _Layout, job: _Job) -> PointChunk:
    """Return a slice, taken apart block by block: each field is a walk over all the records."""
    count, rounded = len(records), False
    axes = [np.empty(count, dtype=np.int64) for _ in "XYZ"]
    fields: dict[str, NDArray[np.generic]] = {
        name: np.empty((count, *kind.shape), dtype=kind.base) for name, kind in layout.plain.items()
    }
    for parts in layout.packed.values():
        fields.update((name, np.empty(count, dtype=np.uint8)) for name, _, _ in parts)
    for start in range(0, count, _BLOCK_SIZE):
        block = slice(start, start + _BLOCK_SIZE)
        part = records[block]
        rounded |= _place_points(part, job, [values[block] for values in axes])
        for name in layout.plain:
            fields[name][block] = part[name]
        for holder, parts in layout.packed.items():
            held = np.ascontiguousarray(part[holder])
            for name, mask, lowest_bit in parts:
                bits = np.bitwise_and(held, mask, out=fields[name][block])
                if lowest_bit:
                    bits >>= lowest_bit
    x, y, z = axes
    return PointChunk(
        x,
        y,
        z,
        job.lattice,
        fields,
        rounded=rounded,
        is_complete=bool(job.dimensions & ALL_DIMENSIONS),
    )


def _place_points(records: NDArray[np.void], job: _Job, axes: list[Int64Array]) -> bool:
    """Write coordinates on the lattice, and say whether anything was rounded."""
    header, lattice = job.header, job.lattice
    rounded = False
    for index, steps in enumerate((lattice.steps_xy, lattice.steps_xy, lattice.steps_z)):
        stored = records["XYZ"[index]]
        scale, offset = header.scale[index], header.offset[index]
        rounded |= to_lattice(stored, scale, offset, steps, axes[index])[1]
    return rounded
