"""What the headers of one processing share, by which its files are told from others."""

from __future__ import annotations

from datetime import datetime

from ledger.dataclass import dataclass
from ledger.model.header import LasHeader


@dataclass(frozen=True)
class Traits:
    """What all files of one processing share.

    Args:
        software: generating software of the header.
        crs: the CRS record as written.
        scale: X, Y, Z scale.
        year: creation year, 0 when not set.
        day: creation day of the year, 0 when not set.
    """

    software: str
    crs: str
    scale: tuple[float, float, float]
    year: int
    day: int

    def describe(self) -> str:
        """Return the traits as a person tells files apart."""
        made = f"made {_show_day(self.year, self.day)}" if self.day else "no creation day"
        return f"{self.software or 'no program named'}, {made}, scale {self.scale[0]:g}"

    def differ(self, other: Traits) -> str:
        """Return in what this differs from other traits, in words."""
        pairs = (
            ("program", self.software or "none", other.software or "none"),
            ("made", _show_day(self.year, self.day), _show_day(other.year, other.day)),
            ("scale", f"{self.scale[0]:g}", f"{other.scale[0]:g}"),
        )
        told = [f"{what} {mine} against {theirs}" for what, mine, theirs in pairs if mine != theirs]
        if self.scale != other.scale and self.scale[0] == other.scale[0]:
            told.append("scale of Y or Z")
        if self.crs != other.crs:
            told.append("coordinate system")
        return ", ".join(told)


def _show_day(year: int, day: int) -> str:
    """Return the creation day of a header as a date; as it stands where the calendar has none."""
    try:
        return f"{datetime.strptime(f'{year:04d} {day:03d}', '%Y %j'):%Y-%m-%d}"  # noqa: DTZ007
    except ValueError:
        return f"on day {day} of {year}"


def read_traits(header: LasHeader | None) -> Traits | None:
    """Return the traits of a point file; None without a header."""
    if header is None:
        return None
    keys = "" if header.geo_keys is None else repr(sorted(header.geo_keys.items()))
    return Traits(
        software=header.generating_software.strip(),
        crs=header.wkt if header.wkt is not None else keys,
        scale=header.scale,
        year=header.creation_year,
        day=header.creation_day,
    )
