"""Point files with every field filled by chance, whole and damaged."""

from __future__ import annotations

import struct
from collections.abc import Callable
from pathlib import Path
from typing import Any

import laspy
import numpy as np
import pytest
from laspy import LazBackend

from ledger.lasheader import read_las_header
from ledger.lattice import choose_lattice
from ledger.model.chunk import PointChunk
from ledger.points import read_points

WAVES = ("return_point_wave_location", "x_t", "y_t", "z_t")


def _fill(point_format: int, count: int, *, extra: bool = True) -> laspy.LasData:
    """Return points whose fields hold every bit by chance; times rise, floats are numbers."""
    header = laspy.LasHeader(version="1.4", point_format=point_format)
    header.scales, header.offsets = [0.001] * 3, [500_000.0, 4_000_000.0, 100.0]
    if extra:
        header.add_extra_dim(laspy.ExtraBytesParams("Reflectance", "i2"))
        header.add_extra_dim(laspy.ExtraBytesParams("Normal", "3f4"))
    las = laspy.LasData(header)
    las.points = laspy.ScaleAwarePointRecord.zeros(count, header=header)
    rng = np.random.default_rng(20_240_615 + point_format)
    raw = las.points.array.view(np.uint8).reshape(count, las.points.array.itemsize)
    raw[:] = rng.integers(0, 256, raw.shape, dtype=np.uint8)
    names = las.points.array.dtype.names
    if "gps_time" in names:
        las.points.array["gps_time"] = 3e8 + np.cumsum(rng.random(count))
    for name in WAVES:
        if name in names:
            las.points.array[name] = rng.random(count)
    if extra:
        las.points.array["Normal"] = rng.random((count, 3))
    return las


@pytest.fixture
def fill() -> Callable[..., laspy.LasData]:
    """Return the function that makes points of a format, filled by chance."""
    return _fill


@pytest.fixture
def save(tmp_path: Path) -> Callable[..., Path]:
    """Return a function that writes points, with values struck over at byte offsets."""

    def _save(las: laspy.LasData, name: str, *changes: tuple[int, str, float]) -> Path:
        path = tmp_path / name
        las.write(path, laz_backend=LazBackend.Lazrs)
        content = bytearray(path.read_bytes())
        for offset, layout, value in changes:
            struct.pack_into(layout, content, offset, value)
        path.write_bytes(content)
        return path

    return _save


@pytest.fixture
def read() -> Callable[..., list[PointChunk]]:
    """Return a function that reads all slices of a file on its own lattice."""

    def _read(path: Path, *args: Any, **kwargs: Any) -> list[PointChunk]:
        header = read_las_header(path)
        return list(read_points(path, header, choose_lattice(header), *args, **kwargs))

    return _read
