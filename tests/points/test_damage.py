"""A damaged file ends in one error of ours, after its last good slice, and never in a pass.

Offsets are those of ASPRS LAS 1.4 R15, public header block.
"""

from __future__ import annotations

import io
import math
import os
import random
import struct
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import laspy
import lazrs
import numpy as np
import pytest

from ledger.errors import (
    ChangedFileError,
    MalformedFileError,
    ShortFileError,
    SwathbookError,
    UnreadableFileError,
)
from ledger.lasheader import read_las_header
from ledger.lasrecords import VLR_HEAD
from ledger.lattice import choose_lattice
from ledger.points import ALL_DIMENSIONS, read_points

Save = Callable[..., Path]
Fill = Callable[..., laspy.LasData]

# Points of a compressed chunk, as the library writes them.
LAZ_CHUNK = 50_000

COUNT_14, SCALE_X, OFFSET_X = 247, 131, 155
EVLRS = 235
OFFSET_TO_POINTS = 96
REAL = Path(__file__).parents[1] / "real"


def read_until_error(path: Path, **options: Any) -> tuple[int, SwathbookError | None]:
    """Return how many points came, and the error that ended them."""
    header = read_las_header(path)
    came = 0
    try:
        for chunk in read_points(path, header, choose_lattice(header), **options):
            came += len(chunk)
    except SwathbookError as error:
        return came, error
    return came, None


def cut(path: Path, length: int) -> Path:
    """Cut a file to a length and return it."""
    os.truncate(path, length)
    return path


@pytest.mark.parametrize(("missing", "whole"), [(0, 100), (30, 99), (1, 99), (45, 98), (3000, 0)])
def test_a_cut_las_file_gives_its_whole_points_and_is_short(
    fill: Fill, save: Save, missing: int, whole: int
) -> None:
    """Cut on a record boundary or inside a record, all whole points come, then the error."""
    path = save(fill(6, 100, extra=False), "cut.las")
    came, error = read_until_error(cut(path, path.stat().st_size - missing), chunk_size=40)
    assert came == whole
    if missing:
        assert isinstance(error, ShortFileError)
        assert f"found {whole}, expected 100" in str(error)
    else:
        assert error is None


@pytest.mark.parametrize("share", [0.2, 0.6, 0.99])
def test_a_cut_laz_file_is_short(fill: Fill, save: Save, share: float) -> None:
    """A LAZ file without its chunk table gives no points and says that it is short."""
    path = save(fill(6, 2000), "cut.laz")
    came, error = read_until_error(cut(path, int(path.stat().st_size * share)))
    assert came == 0
    assert isinstance(error, ShortFileError)


def test_a_copc_file_that_lost_its_tail_is_short_though_all_points_decode(tmp_path: Path) -> None:
    """All points of a COPC file cut behind them are read, and the cut is told."""
    content = (REAL / "1.2-with-color.copc.laz").read_bytes()
    path = tmp_path / "tail.copc.laz"
    path.write_bytes(content[: int(len(content) * 0.99)])
    came, error = read_until_error(path)
    assert came == 1065
    assert isinstance(error, ShortFileError)
    assert "ends before its last record" in str(error)


@pytest.mark.parametrize("name", ["many.las", "many.laz"])
def test_a_count_of_2_to_the_60_gives_what_is_there_at_once(
    fill: Fill, save: Save, name: str
) -> None:
    """An absurd count costs neither memory nor time: the points that exist come, then the error."""
    path = save(fill(6, 1000), name, (COUNT_14, "<Q", 2**60))
    began = time.process_time()
    came, error = read_until_error(path)
    assert time.process_time() - began < 2
    assert came == 1000
    assert isinstance(error, ShortFileError)
    assert f"found 1000, expected {2**60}" in str(error)


def test_a_count_one_too_high_is_seen_in_layered_laz(fill: Fill, save: Save) -> None:
    """The decoder would invent one more point; the chunks are counted before it is asked."""
    path = save(fill(6, LAZ_CHUNK + 1000), "one.laz", (COUNT_14, "<Q", LAZ_CHUNK + 1001))
    came, error = read_until_error(path)
    assert came == LAZ_CHUNK + 1000
    assert isinstance(error, ShortFileError)


def test_a_count_too_low_is_seen_in_laz(fill: Fill, save: Save) -> None:
    """Points that a LAZ header does not count are told: other programs would pass over them."""
    path = save(fill(6, 1000), "low.laz", (COUNT_14, "<Q", 900))
    came, error = read_until_error(path)
    assert came == 900
    assert "holds more points than its header states" in str(error)


def test_a_count_beyond_the_chunks_of_old_laz_gives_the_whole_chunks(
    fill: Fill, save: Save
) -> None:
    """Old compressed formats do not say how many points their last chunk holds."""
    path = save(fill(1, LAZ_CHUNK + 10), "old.laz", (COUNT_14, "<Q", 3 * LAZ_CHUNK))
    came, error = read_until_error(path)
    assert came == LAZ_CHUNK
    assert isinstance(error, ShortFileError)


@pytest.mark.parametrize(
    ("place", "value", "told"),
    [
        (SCALE_X, 0.0, "coordinates cannot be computed"),
        (SCALE_X, math.nan, "coordinates cannot be computed"),
        (SCALE_X, math.inf, "coordinates cannot be computed"),
        (OFFSET_X, math.nan, "coordinates cannot be computed"),
        (SCALE_X, 1e300, "pass the range"),
        (OFFSET_X, -1e300, "pass the range"),
    ],
)
def test_coordinates_that_cannot_be_computed_are_malformed(
    fill: Fill, save: Save, place: int, value: float, told: str
) -> None:
    """Zero, NaN, infinite and overflowing scales and offsets refuse the points, naming the file."""
    path = save(fill(6, 10), "scale.las", (place, "<d", value))
    came, error = read_until_error(path)
    assert came == 0
    assert isinstance(error, MalformedFileError)
    assert told in str(error)
    assert str(error).startswith(str(path))


def test_a_panic_of_the_decoder_is_malformed(tmp_path: Path) -> None:
    """A panic is no `Exception`; it still becomes one error of ours (lazrs 0.8.2)."""
    content = bytearray((REAL / "point-version-1-point-wise.laz").read_bytes())
    record = content.find(b"laszip encoded") - 2 + 54
    struct.pack_into("<I", content, record + 12, 0xFFFFFFFF)  # chunks of their own size, no table
    path = tmp_path / "panic.laz"
    path.write_bytes(content)
    came, error = read_until_error(path)
    assert came == 0
    assert type(error) is MalformedFileError
    cause = error.__cause__
    assert cause is not None
    assert not isinstance(cause, Exception)


@pytest.mark.parametrize("raised", [KeyboardInterrupt, SystemExit])
def test_a_person_can_always_interrupt(
    fill: Fill, save: Save, monkeypatch: pytest.MonkeyPatch, raised: type[BaseException]
) -> None:
    """What stops the program is never taken for damage."""
    path = save(fill(6, 10), "stop.laz")

    def stop(*_: object, **__: object) -> None:
        raise raised

    monkeypatch.setattr(laspy, "LasReader", stop)
    header = read_las_header(path)
    with pytest.raises(raised):
        list(read_points(path, header, choose_lattice(header)))


def test_a_chunk_table_of_thousands_of_millions_does_not_end_the_program(
    fill: Fill, save: Save
) -> None:
    """A damaged number of chunks is refused; the decoder would abort the whole process."""
    path = save(fill(6, 1000), "table.laz")
    content = bytearray(path.read_bytes())
    start = struct.unpack_from("<I", content, OFFSET_TO_POINTS)[0]
    table = struct.unpack_from("<q", content, start)[0]
    struct.pack_into("<I", content, table + 4, 4_000_000_000)
    path.write_bytes(content)
    came, error = read_until_error(path)
    assert came == 0
    assert "the chunk table states 4,000,000,000 chunks" in str(error)


@pytest.mark.parametrize(
    ("chunk", "said"),
    [
        ((107, 2517), ""),
        ((107, 2700), "found chunks of 2,700 bytes, expected "),
        ((108, 2517), "found chunks of 108 points, expected 107 or less"),
    ],
)
def test_a_table_of_chunks_that_take_more_than_there_is_is_refused(
    tmp_path: Path, chunk: tuple[int, int], said: str
) -> None:
    """The decoder asks for memory by a damaged table, and ends the process where there is none.

    The file has one chunk of varying size; its table is written anew, and nothing comes after it.
    """
    content = bytearray((REAL / "autzen.copc.laz").read_bytes())
    described = content.index(b"laszip encoded") - 2 + VLR_HEAD.size
    vlr = lazrs.LazVlr(bytes(content[described : described + 46]))
    table = struct.unpack_from(
        "<q", content, struct.unpack_from("<I", content, OFFSET_TO_POINTS)[0]
    )[0]
    written = io.BytesIO()
    lazrs.write_chunk_table(written, [chunk], vlr)
    struct.pack_into("<QI", content, EVLRS, 0, 0)
    path = tmp_path / "table.laz"
    path.write_bytes(content[:table] + written.getvalue())
    if said:
        came, error = read_until_error(path)
        assert came == 0
        assert said in str(error)
    else:
        header = read_las_header(path)
        assert sum(map(len, read_points(path, header, choose_lattice(header)))) == 107


def test_layers_larger_than_their_chunk_are_refused(fill: Fill, save: Save) -> None:
    """One damaged byte in a layer size would make the decoder ask for gigabytes."""
    path = save(fill(6, 1000, extra=False), "layer.laz")
    content = bytearray(path.read_bytes())
    start = struct.unpack_from("<I", content, OFFSET_TO_POINTS)[0]
    struct.pack_into("<I", content, start + 8 + 30 + 4, 0xFFFFFF00)
    path.write_bytes(content)
    came, error = read_until_error(path)
    assert came == 0
    assert "a compressed chunk contradicts itself" in str(error)


@pytest.mark.parametrize(
    ("change", "told"),
    [
        ((2, "<H", 15), "unknown coder"),
        ((12, "<I", 0), "chunks of 0 points"),
        ((32, "<H", 900), "ends before 900 items"),
        ((36, "<H", 31), "describes points of 31 bytes"),
    ],
)
def test_a_laszip_record_that_contradicts_itself_is_refused(
    fill: Fill, save: Save, change: tuple[int, str, int], told: str
) -> None:
    """What the LASzip record says of the points has to fit the header."""
    path = save(fill(6, 100, extra=False), "record.laz")
    content = bytearray(path.read_bytes())
    record = content.find(b"laszip encoded") - 2 + 54
    offset, layout, value = change
    struct.pack_into(layout, content, record + offset, value)
    path.write_bytes(content)
    came, error = read_until_error(path)
    assert came == 0
    assert told in str(error)


def test_compressed_points_without_a_laszip_record_are_refused(fill: Fill, save: Save) -> None:
    """The compression bit alone does not make a LAZ file."""
    path = save(fill(6, 100), "bit.las", (104, "<B", 6 | 0x80))
    came, error = read_until_error(path)
    assert came == 0
    assert "without a readable LASzip record" in str(error)


def test_a_file_that_changes_between_header_and_points_is_told(fill: Fill, save: Save) -> None:
    """Points are not read under a header that is no longer theirs."""
    path = save(fill(6, 10), "change.las")
    header = read_las_header(path)
    path.write_bytes(path.read_bytes() + b"more")
    with pytest.raises(ChangedFileError, match="since its header was read"):
        list(read_points(path, header, choose_lattice(header)))


@pytest.mark.parametrize("change", ["touched", "removed", "grown", "cut"])
def test_a_file_that_changes_while_it_is_read_is_told(fill: Fill, save: Save, change: str) -> None:
    """Size and time are compared before and after; a file that went away changed too."""
    path = save(fill(6, 10), "change.las")
    header = read_las_header(path)
    slices = read_points(path, header, choose_lattice(header), chunk_size=4)
    next(slices)
    if change == "touched":
        os.utime(path, ns=(1, 1))
    elif change == "removed":
        if os.name == "nt":
            pytest.skip("an open file cannot be removed on this system")
        path.unlink()
    elif change == "cut":
        os.truncate(path, header.offset_to_points + 6 * header.record_length)
    else:
        with path.open("ab") as stream:
            stream.write(b"x")
    with pytest.raises(ChangedFileError, match="while its points were read"):
        list(slices)


def test_a_file_that_went_away_is_unreadable(fill: Fill, save: Save) -> None:
    """A file that is gone before it is opened is the system's refusal."""
    path = save(fill(6, 10), "gone.las")
    header = read_las_header(path)
    path.unlink()
    with pytest.raises(UnreadableFileError):
        list(read_points(path, header, choose_lattice(header)))


@pytest.mark.parametrize("name", ["chance.las", "chance.laz"])
def test_no_damage_by_chance_escapes_as_another_error(fill: Fill, save: Save, name: str) -> None:
    """Bytes struck over by chance give points or one of our errors, nothing else."""
    las = fill(7, 300)
    whole = save(las, name).read_bytes()
    path = save(las, f"struck-{name}")
    rng = random.Random(7)
    ends = 0
    for _ in range(150):
        content = bytearray(whole)
        for _ in range(rng.choice((1, 2, 4))):
            content[rng.randrange(24, len(content))] = rng.choice((0, 1, 255, rng.randrange(256)))
        path.write_bytes(content)
        try:
            came, error = read_until_error(path, dimensions=ALL_DIMENSIONS)
        except SwathbookError:
            ends += 1
            continue
        ends += error is not None
        header = read_las_header(path)
        assert error is not None or came == header.point_count
    assert ends > 0


def test_points_of_a_header_box_gone_wrong_are_counted_anyway(fill: Fill, save: Save) -> None:
    """The box in the header is never taken for that of the points."""
    las = fill(6, 100)
    path = save(las, "box.las", (179, "<d", -1.0), (187, "<d", 1.0))
    header = read_las_header(path)
    chunks = list(read_points(path, header, choose_lattice(header)))
    stored = las.points.array["X"].astype(np.int64)
    assert header.maximum[0] == -1.0
    assert chunks[0].x.max() == stored.max() * 10 + 5_000_000_000


def test_by_return_counts_may_be_stale(fill: Fill, save: Save) -> None:
    """Counts by return in a header are kept as stated beside what the points say."""
    path = save(fill(6, 100), "returns.las", (255, "<Q", 9_999))
    header = read_las_header(path)
    (chunk,) = read_points(path, header, choose_lattice(header), frozenset({"return_number"}))
    assert header.by_return[0] == 9_999
    assert int((chunk["return_number"] == 1).sum()) < 100


def test_times_that_are_no_times_come_as_they_are(fill: Fill, save: Save) -> None:
    """GPS times that are zero, no number or absurd reach the checks unaltered."""
    las = fill(6, 4)
    las.points.array["gps_time"] = [0.0, math.nan, 1e300, -0.0]
    path = save(las, "times.laz")
    header = read_las_header(path)
    (chunk,) = read_points(path, header, choose_lattice(header), frozenset({"gps_time"}))
    assert chunk["gps_time"].tobytes() == las.points.array["gps_time"].tobytes()
