"""Small LAS files to damage, byte by byte, at the offsets of the standard."""

from __future__ import annotations

import struct
from collections.abc import Callable
from pathlib import Path

import laspy
import numpy as np
import pytest

Patch = Callable[..., Path]


def write_las(path: Path, version: str, point_format: int, points: int = 10) -> Path:
    """Write a file with a text record and `points` points on a line."""
    header = laspy.LasHeader(version=version, point_format=point_format)
    header.scales, header.offsets = [0.001] * 3, [500_000.0, 4_000_000.0, 100.0]
    header.vlrs.append(laspy.VLR("LASF_Spec", 3, "text", b"made for a test"))
    las = laspy.LasData(header)
    steps = np.arange(points, dtype=np.int32)
    las.X, las.Y, las.Z = steps * 1000, steps * 2000, steps * 10
    las.write(path)
    return path


@pytest.fixture
def las_12(tmp_path: Path) -> Path:
    """Return a LAS 1.2 file of 10 points in format 1."""
    return write_las(tmp_path / "line12.las", "1.2", 1)


@pytest.fixture
def las_14(tmp_path: Path) -> Path:
    """Return a LAS 1.4 file of 10 points in format 6."""
    return write_las(tmp_path / "line14.las", "1.4", 6)


@pytest.fixture
def patch(tmp_path: Path) -> Patch:
    """Return a function that writes a copy with values struck over at byte offsets."""

    def _patch(path: Path, *changes: tuple[int, str, float]) -> Path:
        content = bytearray(path.read_bytes())
        for offset, layout, value in changes:
            struct.pack_into(layout, content, offset, value)
        damaged = tmp_path / f"damaged{path.suffix}"
        damaged.write_bytes(content)
        return damaged

    return _patch
