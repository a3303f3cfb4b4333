"""Trajectories in the widespread binary form, read in slices; see `ledger.fieldlogs.trajectory`.

Of the 17 doubles of a record these are used: time (GPS seconds of the week), latitude and longitude
(radians), height above the ellipsoid (metres), roll and pitch (radians). The heading is that of a
wander frame and is left out.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np

from ledger.errors import MalformedFileError, UnreadableFileError
from ledger.fieldlogs.series import (
    COLUMNS,
    HEIGHT,
    PITCH,
    ROLL,
    TIME,
    Gathered,
    SeriesBuilder,
    X,
    Y,
)
from ledger.fieldlogs.trajectory import RECORD_BYTES
from ledger.model.phrases import count_things

_SLICE = 50_000
_DOUBLES = RECORD_BYTES // 8
_PLACES = {TIME: 0, Y: 1, X: 2, HEIGHT: 3, ROLL: 7, PITCH: 8}
_ANGLES = (X, Y, ROLL, PITCH)


def read_binary_track(path: Path) -> Gathered:
    """Return the epochs of a binary trajectory; angles in degrees.

    Raises:
        UnreadableFileError: the system refused.
        MalformedFileError: its size is no whole number of records.
    """
    builder = SeriesBuilder()
    try:
        with path.open("rb") as stream:
            while piece := stream.read(_SLICE * RECORD_BYTES):
                if len(piece) % RECORD_BYTES:
                    raise MalformedFileError(
                        "a binary trajectory ends inside a record",
                        found=f"{count_things(len(piece) % RECORD_BYTES, 'byte')} more",
                        expected=f"a multiple of {RECORD_BYTES}",
                        where=str(path),
                        remedy="copy it again",
                    )
                records = np.frombuffer(piece, dtype="<f8").reshape(-1, _DOUBLES)
                rows = np.full((len(records), COLUMNS), np.nan)
                for column, at in _PLACES.items():
                    rows[:, column] = records[:, at]
                for column in _ANGLES:
                    rows[:, column] = np.degrees(rows[:, column])
                builder.add(rows)
    except OSError as error:
        raise UnreadableFileError(
            "the file cannot be read", found=error.strerror or str(error), where=str(path)
        ) from error
    return builder.close()
