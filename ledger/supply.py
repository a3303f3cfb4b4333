"""How many points a LAS or LAZ file can give, told without decoding any.

The header, the size of the file and, where points are compressed, the sizes of its chunks say it.
What reading the points would find wrong with them as a whole is therefore known at once: a file
that was cut, a count that is too high, coordinates that cannot be computed. What only decoding
shows (a damaged chunk) stays for whoever decodes.
"""

from __future__ import annotations

from dataclasses import replace
from typing import BinaryIO

from ledger.dataclass import dataclass
from ledger.errors import (
    Fault,
    MalformedFileError,
    ShortFileError,
    StoreError,
    SwathbookError,
    UnreadableFileError,
)
from ledger.lasrecords import walk_records
from ledger.lattice import choose_lattice, require_computable
from ledger.lazlayout import (
    POINT_BY_POINT,
    VARIABLE_CHUNKS,
    HeldPoints,
    LazLayout,
    count_held_points,
    read_laz_layout,
)
from ledger.model.header import LasHeader
from ledger.model.phrases import count_things
from ledger.remote.files import Place, RemoteFile, open_place

# Of plain records any number will do; LASzip compresses so many at once by default.
_PLAIN_CHUNK = 50_000


@dataclass(frozen=True)
class Supply:
    """How many points a file can be asked for.

    Args:
        points: how many to read.
        surplus: how many more than its header states it certainly holds.
        in_chunks: whether several cores can decode it at once; points compressed one after the
            other in one run cannot be shared out.
        chunk: points after which reading can begin anew at little cost; 0 where it cannot.
    """

    points: int
    surplus: int = 0
    in_chunks: bool = True
    chunk: int = 0


def find_supply(stream: BinaryIO, header: LasHeader, *, walks: bool = True) -> Supply:
    """Return how many points the file can give.

    Args:
        stream: the file.
        header: what `read_las_header` said about it.
        walks: count what the chunks say themselves, at the head of each; else the stated count is
            taken, and whoever reads the points finds out.

    Raises:
        ShortFileError: it ends before the table without which no compressed point can be decoded.
        MalformedFileError: the decoder must not be given this file.
    """
    if not header.compressed:
        whole = (header.file_size - header.offset_to_points) // header.record_length
        return Supply(min(header.point_count, whole), chunk=_PLAIN_CHUNK)
    stated = sum(not vlr.extended for vlr in header.vlrs)
    records = walk_records(
        stream, header.header_size, header.offset_to_points, stated, extended=False
    ).records
    layout = read_laz_layout(
        stream, records, header.offset_to_points, header.record_length, header.file_size
    )
    if layout.fault:
        raise MalformedFileError(layout.fault, remedy="export it again")
    return _weigh_chunks(stream, layout, header, walks=walks)


def _weigh_chunks(stream: BinaryIO, layout: LazLayout, header: LasHeader, *, walks: bool) -> Supply:
    """Hold the stated count against the chunks of a LAZ file.

    Asked for more points than there are, the decoder may go on and invent some: measured with lazrs
    0.8.2, a count one too high gives one more point and no error.
    """
    count = header.point_count
    if count == 0:
        return Supply(0)
    if layout.missing_bytes:
        raise ShortFileError(
            "the file ends before its chunk table, without which no point can be decoded",
            found=count_things(header.file_size, "byte"),
            expected=f"{header.file_size + layout.missing_bytes:,} or more",
            remedy="copy it again from where it was made",
        )
    held = HeldPoints(0, 0, count)
    if walks:
        held = count_held_points(stream, layout, header.offset_to_points, header.record_length)
    points = count if count <= held.most else held.certain
    in_chunks = layout.compressor != POINT_BY_POINT
    # In chunks of varying size the decoder loses its place (measured with lazrs 0.8.2).
    can_seek = in_chunks and layout.chunk_size != VARIABLE_CHUNKS
    return Supply(
        points,
        surplus=max(held.least - count, 0),
        in_chunks=in_chunks,
        chunk=layout.chunk_size if can_seek else 0,
    )


def require_complete(header: LasHeader, points: int, surplus: int) -> None:
    """Refuse a file that does not give what its header states.

    Args:
        header: what `read_las_header` said about it.
        points: how many points it gave, or can give.
        surplus: how many more it holds.

    Raises:
        ShortFileError: it gives fewer points than stated, or ends before its last record.
        MalformedFileError: it holds more compressed points than stated.
    """
    if points < header.point_count:
        raise ShortFileError(
            "the file holds fewer points than its header states",
            found=str(points),
            expected=str(header.point_count),
            remedy="copy it again from where it was made, or export it again",
        )
    if header.missing_bytes:
        raise ShortFileError(
            "the file ends before its last record",
            found=count_things(header.file_size, "byte"),
            expected=f"{header.file_size + header.missing_bytes:,} or more",
            remedy="copy it again from where it was made",
        )
    if surplus:
        raise MalformedFileError(
            "the file holds more points than its header states",
            found=f"{header.point_count + surplus} or more",
            expected=str(header.point_count),
            remedy="export it again",
        )


def find_cuts(path: Place, header: LasHeader, parts: int) -> tuple[int, ...]:
    """Return where the points of a file can be cut, so that each part is read by itself.

    Args:
        path: the file.
        header: what `read_las_header` said about it.
        parts: how many parts are wanted.

    Returns:
        First point of each part, at multiples of the decoder's chunk, the first of all among them;
        that one alone where anything is wrong with the file: only reading it whole tells what.

    Raises:
        StoreError: the store that holds it was lost.
    """
    try:
        with open_place(path) as stream:
            # In a store each head is a request, and every part of the file is walked anyway.
            supply = find_supply(stream, header, walks=not isinstance(path, RemoteFile))
            require_complete(header, supply.points, supply.surplus)
    except StoreError:
        raise
    except (OSError, SwathbookError):
        return (0,)
    if not supply.chunk or parts < 1:
        return (0,)
    chunks = -(-supply.points // supply.chunk)
    each = max(-(-chunks // parts), 1) * supply.chunk
    return tuple(range(0, supply.points, each)) or (0,)


def find_shortfalls(path: Place, header: LasHeader) -> tuple[Fault, ...]:
    """Return why the points of a file cannot all be read, as far as that shows undecoded.

    Args:
        path: the file.
        header: what `read_las_header` said about it.

    Returns:
        What is wrong, without the place of the file; empty where nothing shows.

    Raises:
        UnreadableFileError: the system refused to open or read it.
    """
    try:
        with open_place(path) as stream:
            faults = _judge_amount(stream, header)
    except OSError as error:
        raise UnreadableFileError(
            "the file cannot be read", found=error.strerror or str(error), where=str(path)
        ) from error
    return (*faults, *_judge_coordinates(header)) if header.point_count else faults


def _judge_amount(stream: BinaryIO, header: LasHeader) -> tuple[Fault, ...]:
    try:
        supply = find_supply(stream, header)
        require_complete(header, supply.points, supply.surplus)
    except SwathbookError as error:
        return error.faults
    return ()


def _judge_coordinates(header: LasHeader) -> tuple[Fault, ...]:
    """Return what is wrong with the first axis that cannot be computed."""
    lattice = choose_lattice(header)
    steps = (lattice.steps_xy, lattice.steps_xy, lattice.steps_z)
    for axis, scale, offset, size in zip("XYZ", header.scale, header.offset, steps, strict=True):
        try:
            require_computable(scale, offset, size)
        except MalformedFileError as error:
            (fault,) = error.faults
            return (replace(fault, what=f"{axis} {fault.what}", remedy="export it again"),)
    return ()
