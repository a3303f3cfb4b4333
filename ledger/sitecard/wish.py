"""What a person asks a site card for, and what in that makes no sense."""

from __future__ import annotations

import math
from datetime import date
from pathlib import Path

from ledger.dataclass import dataclass
from ledger.errors import UsageError

_FASTEST_M_PER_S = 100.0
_LOWEST_M, _HIGHEST_M = -1_000.0, 10_000.0


@dataclass(frozen=True)
class SiteWish:
    """What a person asked for.

    Args:
        day: the day of the work.
        at: coordinates as typed; empty for none.
        file: a file that says where the site lies; None for none.
        crs: map system as typed; empty for that of the job, or the UTM zone of the place.
        frame: frame of the work as typed; empty for that of the system, or one of the place.
        height_m: height of the ground above the ellipsoid, metres; None where nobody knows.
        speed_m_per_s: speed over ground.
        grids: geoid grids that were named.

    Raises:
        UsageError: two places, or a number that no drone has.
    """

    day: date
    at: str = ""
    file: Path | None = None
    crs: str = ""
    frame: str = ""
    height_m: float | None = None
    speed_m_per_s: float = 5.0
    grids: tuple[Path, ...] = ()

    def __post_init__(self) -> None:
        """Refuse what makes no sense."""
        if self.at and self.file is not None:
            raise UsageError(
                "a file and --at exclude each other", found=f"{self.file} and --at {self.at}"
            )
        if not 0 < self.speed_m_per_s <= _FASTEST_M_PER_S:
            raise UsageError(
                "--speed is no speed of a drone",
                found=f"{self.speed_m_per_s:g}",
                expected=f"metres a second, up to {_FASTEST_M_PER_S:g}",
            )
        height = self.height_m
        if height is not None and not (math.isfinite(height) and _LOWEST_M <= height <= _HIGHEST_M):
            raise UsageError(
                "--height is no height of a site",
                found=f"{height:g}",
                expected=f"metres above the ellipsoid, {_LOWEST_M:g} to {_HIGHEST_M:g}",
            )
