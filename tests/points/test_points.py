"""Points come in slices with the fields that were asked for, equal to what laspy decodes."""

from __future__ import annotations

import struct
from collections.abc import Callable
from pathlib import Path

import laspy
import numpy as np
import pytest

from ledger.errors import ContractError
from ledger.lasheader import read_las_header
from ledger.lattice import choose_lattice
from ledger.latticepoints import to_lattice
from ledger.model.ask import NoProgress
from ledger.model.chunk import PointChunk
from ledger.points import ALL_DIMENSIONS, EXTRA_PREFIX, SLICE_SIZE, read_points

Read = Callable[..., list[PointChunk]]
Save = Callable[..., Path]
Fill = Callable[..., laspy.LasData]

# Points of a compressed chunk, as the library writes them.
LAZ_CHUNK = 50_000

# Without waveform: those packets lie outside the file.
LAZ_FORMATS = (1, 3, 6, 7, 8)


def join(chunks: list[PointChunk], name: str) -> np.ndarray:
    """Return one field of all slices, or a coordinate."""
    return np.concatenate([getattr(c, name) if name in "xyz" else c[name] for c in chunks])


def expect(las: laspy.LasData, name: str) -> np.ndarray:
    """Return the same field as laspy has it; extra bytes as stored."""
    if name in "xyz":
        index = "xyz".index(name)
        stored, header = las.points.array[name.upper()], las.header
        return to_lattice(stored, header.scales[index], header.offsets[index], 10_000)[0]
    if name.startswith(EXTRA_PREFIX):
        return las.points.array[name.removeprefix(EXTRA_PREFIX)]
    return np.array(las[name])


@pytest.mark.parametrize("point_format", range(11))
def test_every_field_of_every_format_equals_laspy(
    fill: Fill, point_format: int, save: Save, read: Read
) -> None:
    """All fields of the eleven point formats come back as they were written."""
    las = fill(point_format, 500)
    chunks = read(save(las, "all.las"), ALL_DIMENSIONS)
    names = set(las.point_format.standard_dimension_names) - {"X", "Y", "Z"}
    assert chunks[0].names == names | {"extra:Reflectance", "extra:Normal"}
    for name in ("x", "y", "z", *chunks[0].names):
        assert np.array_equal(join(chunks, name), expect(las, name)), name


@pytest.mark.parametrize("point_format", LAZ_FORMATS)
def test_each_field_asked_for_alone_is_decoded(
    fill: Fill, point_format: int, save: Save, read: Read
) -> None:
    """Selective decompression gives the true values of a field whichever one is asked for.

    More points than one compressed chunk holds: what is not decompressed repeats within a chunk.
    """
    las = fill(point_format, LAZ_CHUNK + 7)
    path = save(las, "all.laz")
    for name in sorted(read(path, ALL_DIMENSIONS)[0].names):
        chunks = read(path, frozenset({name}))
        assert chunks[0].names == {name}
        for each in ("x", "y", "z", name):
            assert np.array_equal(join(chunks, each), expect(las, each)), (name, each)


def test_a_field_that_was_not_asked_for_is_not_offered(fill: Fill, save: Save, read: Read) -> None:
    """Asking a slice for a field outside the selection raises, in LAS as in LAZ."""
    las = fill(6, 100)
    for name in ("some.las", "some.laz"):
        (chunk,) = read(save(las, name), frozenset({"classification"}))
        with pytest.raises(ContractError, match="gps_time"):
            chunk["gps_time"]


def test_a_field_that_the_format_lacks_is_not_offered(fill: Fill, save: Save, read: Read) -> None:
    """GPS time of a format without it is absent, not zero."""
    (chunk,) = read(save(fill(2, 10), "old.las"), frozenset({"gps_time", "red"}))
    assert chunk.names == {"red"}


def test_chunk_size_changes_nothing(fill: Fill, save: Save, read: Read) -> None:
    """The same points come in the same order however many are decoded at a time."""
    path = save(fill(7, 10_007), "size.laz")
    whole = read(path, ALL_DIMENSIONS)
    for size in (999, 10_006):
        parts = read(path, ALL_DIMENSIONS, chunk_size=size)
        assert max(len(part) for part in parts) <= size
        for name in ("x", "y", "z", *whole[0].names):
            assert np.array_equal(join(parts, name), join(whole, name))


def test_slices_stay_small(fill: Fill, save: Save, read: Read) -> None:
    """A large decode is handed out in slices that fit a processor's cache."""
    lengths = [len(c) for c in read(save(fill(0, SLICE_SIZE + 1, extra=False), "large.las"))]
    assert lengths == [SLICE_SIZE, 1]


def test_the_parallel_decoder_gives_the_same(fill: Fill, save: Save, read: Read) -> None:
    """Both decoders of the library agree to the last bit."""
    path = save(fill(6, LAZ_CHUNK + 100), "both.laz")
    one, many = read(path, ALL_DIMENSIONS), read(path, ALL_DIMENSIONS, parallel=True)
    for name in ("x", "y", "z", *one[0].names):
        assert np.array_equal(join(one, name), join(many, name))


def test_slices_cannot_be_written_to(fill: Fill, save: Save, read: Read) -> None:
    """No check can alter what the next one sees."""
    (chunk,) = read(save(fill(6, 10), "frozen.las"), ALL_DIMENSIONS)
    for array in (chunk.x, chunk.y, chunk.z, *(chunk[name] for name in chunk.names)):
        with pytest.raises(ValueError, match="read-only"):
            array[0] = 0


def test_rounding_to_the_lattice_is_told(fill: Fill, save: Save, read: Read) -> None:
    """A scale finer than the lattice is said; a millimetre needs no rounding."""
    las = fill(6, 50)
    assert not read(save(las, "fine.las"))[0].rounded
    las.header.scales = [0.00001] * 3
    las.points.scales = las.header.scales
    assert read(save(las, "finer.las"))[0].rounded


def test_extra_bytes_may_share_a_standard_name(save: Save, read: Read) -> None:
    """Extra bytes called like a standard field, or alike twice, hide neither."""
    header = laspy.LasHeader(version="1.4", point_format=6)
    for name in ("AAAAAAAAA", "BBBBBBBBB"):
        header.add_extra_dim(laspy.ExtraBytesParams(name, "u2"))
    las = laspy.LasData(header)
    las.X = [1, 2]
    las.intensity = [10, 20]
    las["AAAAAAAAA"], las["BBBBBBBBB"] = [30, 40], [50, 60]
    path = save(las, "alike.las")
    content = path.read_bytes()
    for made in (b"AAAAAAAAA", b"BBBBBBBBB"):
        content = content.replace(made, b"intensity")
    path.write_bytes(content)
    (chunk,) = read(path, ALL_DIMENSIONS)
    assert chunk["intensity"].tolist() == [10, 20]
    assert chunk["extra:intensity"].tolist() == [30, 40]
    assert chunk["extra:intensity+"].tolist() == [50, 60]


def test_progress_is_told_of_every_point(fill: Fill, save: Save) -> None:
    """What is advanced adds up to the points."""
    told: list[int] = []

    class Progress(NoProgress):
        def start(self, label: str, total: int, unit: str) -> None:
            raise AssertionError

        def finish(self) -> None:
            raise AssertionError

        def advance(self, amount: int) -> None:
            told.append(amount)

    path = save(fill(6, 1000), "told.laz")
    header = read_las_header(path)
    for _ in read_points(path, header, choose_lattice(header), frozenset(), Progress(), 300):
        pass
    assert told == [300, 300, 300, 100]


def test_a_file_without_points_gives_no_slice(fill: Fill, save: Save, read: Read) -> None:
    """No points is no slice and no error, compressed or not."""
    for name in ("none.las", "none.laz"):
        assert read(save(fill(6, 0), name)) == []


def test_a_chunk_table_at_the_end_of_the_file_is_found(fill: Fill, save: Save, read: Read) -> None:
    """A writer that could not seek back leaves -1 and puts the offset of the table last."""
    las = fill(6, 1000)
    path = save(las, "stream.laz")
    content = bytearray(path.read_bytes())
    start = struct.unpack_from("<I", content, 96)[0]
    table = content[start : start + 8]
    content[start : start + 8] = struct.pack("<q", -1)
    path.write_bytes(bytes(content) + bytes(table))
    assert np.array_equal(join(read(path), "x"), expect(las, "x"))
