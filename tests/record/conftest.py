"""A job folder, and tiny point files as a processing program leaves them."""

from __future__ import annotations

import datetime as dt
import os
from collections.abc import Callable
from functools import partial
from pathlib import Path

import laspy
import numpy as np
import pytest
from pyproj import CRS

from ledger.start import start_job

MADE = dt.datetime(2026, 5, 14, 12, 0, tzinfo=dt.UTC)
MADE_DAY = MADE.date()
MakeTile = Callable[..., Path]


@pytest.fixture
def job(tmp_path: Path) -> Path:
    """Return a new job folder."""
    return start_job(tmp_path / "job", "QM-1", "Pit").folder


@pytest.fixture
def make_tile(job: Path) -> MakeTile:
    """Return a writer of small point files, named by their path below the job folder."""
    return partial(write_tile, job)


@pytest.fixture
def make_tile_in() -> MakeTile:
    """Return the same writer for any job folder."""
    return write_tile


def write_tile(
    job: Path,
    name: str,
    *,
    software: str = "demo-proc 4.1.0",
    day: dt.date = MADE_DAY,
    scale: float = 0.001,
    minutes: float = 0,
    points: int = 5,
    epsg: int = 6346,
) -> Path:
    """Write a small point file, as a processing program leaves it."""
    path = job / name
    path.parent.mkdir(parents=True, exist_ok=True)
    header = laspy.LasHeader(version="1.4", point_format=6)
    header.scales, header.offsets = [scale] * 3, [552000, 4272000, 0]
    header.generating_software, header.creation_date = software, day
    header.add_crs(CRS.from_epsg(epsg))
    cloud = laspy.LasData(header)
    offset = sum(name.encode()) / 10
    cloud.x = 552000 + offset + np.arange(points)
    cloud.y = 4272000 + np.arange(points) / 2
    cloud.z = 214 + np.arange(points) / 10
    cloud.write(path)
    set_time(path, minutes)
    return path


def set_time(path: Path, minutes: float) -> None:
    """Set when a file was written, in minutes after noon."""
    moment = MADE.timestamp() + 60 * minutes
    os.utime(path, (moment, moment))


@pytest.fixture
def put_file(job: Path) -> Callable[..., Path]:
    """Return a writer of other files below the job folder."""

    def put(name: str, content: bytes = b"x", minutes: float = 0) -> Path:
        path = job / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(content)
        set_time(path, minutes)
        return path

    return put
