"""A job folder, tiny point files as a processing program leaves them, and a scripted person."""

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

from ledger.model.ask import Question
from ledger.start import start_job

MADE = dt.datetime(2026, 5, 14, 12, 0, tzinfo=dt.UTC)
MADE_DAY = MADE.date()
MakeTile = Callable[..., Path]


class Scripted:
    """A person who answers by key and notes what was asked."""

    interactive = True

    def __init__(
        self,
        answers: dict[str, str] | None = None,
        *,
        yes: tuple[bool, ...] = (),
        ticks: tuple[int, ...] = (),
        at: str = "",
    ) -> None:
        """Keep what to answer.

        Args:
            answers: texts by key; Enter for others.
            yes: what to say to confirmations, in turn; their default when used up.
            ticks: places of the choices to tick, from 0.
            at: key at which the person presses Ctrl-C.
        """
        self._answers = answers or {}
        self._yes = list(yes)
        self._ticks = ticks
        self._at = at
        self.asked: list[Question] = []
        self.told: list[str] = []

    def answer(self, question: Question) -> str:
        """Answer by key."""
        self.asked.append(question)
        if question.key == self._at:
            raise KeyboardInterrupt
        return self._answers.get(question.key, question.default)

    def confirm(self, question: Question) -> bool:
        """Say yes or no in turn."""
        self.asked.append(question)
        return self._yes.pop(0) if self._yes else question.default == "yes"

    def choose_many(self, question: Question) -> tuple[str, ...]:
        """Tick the places that were told."""
        self.asked.append(question)
        return tuple(question.choices[place] for place in self._ticks)

    def tell(self, line: str) -> None:
        """Keep what is said between questions."""
        self.told.append(line)

    def texts(self, key: str) -> list[str]:
        """Return what was asked under a key."""
        return [question.text for question in self.asked if question.key == key]


@pytest.fixture
def person() -> type[Scripted]:
    """Return the class of a scripted person."""
    return Scripted


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
