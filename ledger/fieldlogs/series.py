"""Positions gathered epoch by epoch into arrays of bounded size.

What is told of every epoch (steps, gaps, times that do not go forward) is counted before anything
is thinned. Where a log has more epochs than are kept, one is kept for each even step of time, and
each at which the fix quality changes.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ledger.dataclass import dataclass
from ledger.fieldlogs.spacing import Spacing, SpacingFacts

Floats = NDArray[np.float64]

# Columns of the arrays, in order; NaN for what an epoch has not.
TIME, X, Y, HEIGHT, QUALITY, SATELLITES, HDOP, PDOP, AGE, SIGMA, ROLL, PITCH, HEADING = range(13)
COLUMNS = 13

MOST_KEPT = 200_000
_FIRST_STEP_S = 0.1
_LATEST_S = 1e12  # up to here a double tells one millisecond from the next


@dataclass(frozen=True, eq=False)
class Gathered:
    """The epochs of a log.

    Args:
        rows: one row an epoch, rising in time, columns as above, float64, (n, 13).
        spacing: how all epochs lie in time, thinned or not.
        epochs: epochs that had a time and went forward.
        bad: epochs whose time is no number, or no time.
        step_s: one epoch was kept for each so many seconds; 0 for all.
    """

    rows: Floats
    spacing: SpacingFacts
    epochs: int
    bad: int
    step_s: float


def have_times(rows: Floats) -> NDArray[np.bool_]:
    """Say of each epoch, (n, 13), whether it has a time that seconds can be counted to."""
    return np.abs(rows[:, TIME]) < _LATEST_S  # NaN is not


class SeriesBuilder:
    """Takes in epochs in slices."""

    def __init__(self, most: int = MOST_KEPT) -> None:
        """Start without an epoch; keep no more than twice as many rows as asked, at any time."""
        self._most = most
        self._parts: list[Floats] = []
        self._kept = 0
        self._step = 0.0
        self._last: float | None = None
        self._spacing = Spacing()
        self.epochs = self.bad = 0

    def add(self, rows: Floats) -> None:
        """Take in the next epochs, (n, 13)."""
        timed = have_times(rows)
        self.bad += int(len(rows) - timed.sum())
        forward = self._keep_forward(rows[timed])
        if not len(forward):
            return
        self.epochs += len(forward)
        kept = self._thin(forward) if self._step else forward
        self._parts.append(kept)
        self._kept += len(kept)
        while self._kept > self._most:
            self._step = self._step * 2 if self._step else _FIRST_STEP_S
            self._parts = [self._thin(np.concatenate(self._parts))]
            self._kept = len(self._parts[0])

    def close(self) -> Gathered:
        """Return what was gathered."""
        rows = np.concatenate(self._parts) if self._parts else np.empty((0, COLUMNS))
        rows.flags.writeable = False
        return Gathered(rows, self._spacing.close(), self.epochs, self.bad, self._step)

    def _keep_forward(self, rows: Floats) -> Floats:
        """Return the rows that are later than all before them, and count the steps between."""
        if not len(rows):
            return rows
        times = rows[:, TIME]
        before = -np.inf if self._last is None else self._last
        highest = np.concatenate([[before], np.maximum.accumulate(np.maximum(times, before))[:-1]])
        steps = times - highest
        self._spacing.add_faults(int((steps == 0).sum()), int((steps < 0).sum()))
        forward = rows[steps > 0]
        if len(forward):
            self._count_steps(forward[:, TIME])
            self._last = float(forward[-1, TIME])
        return np.asarray(forward, dtype=np.float64)

    def _count_steps(self, times: Floats) -> None:
        begins = times[:-1] if self._last is None else np.concatenate([[self._last], times[:-1]])
        steps = times[len(times) - len(begins) :] - begins
        keys, first, counts = np.unique(
            np.rint(steps * 1000), return_index=True, return_counts=True
        )
        # Of each length the first is named; long steps are told one by one, so that none is lost.
        usual = keys[np.argmax(counts)] if len(keys) else 0.0
        for key, at, count in zip(keys.tolist(), first.tolist(), counts.tolist(), strict=True):
            if key <= 1.5 * usual:
                self._spacing.add_step(float(begins[at]), float(steps[at]), count)
        for at in np.flatnonzero(np.rint(steps * 1000) > 1.5 * usual).tolist():
            self._spacing.add_step(float(begins[at]), float(steps[at]))

    def _thin(self, rows: Floats) -> Floats:
        if not len(rows):
            return rows
        bins = np.floor(rows[:, TIME] / self._step)
        quality = np.nan_to_num(rows[:, QUALITY], nan=-1.0)
        keep = np.ones(len(rows), dtype=bool)
        keep[1:] = (np.diff(bins) != 0) | (np.diff(quality) != 0)
        return rows[keep]
