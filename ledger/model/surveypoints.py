"""Tables of surveyed points: control that a run may be fitted to, checkpoints that test it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import field
from decimal import Decimal

from ledger.dataclass import dataclass
from ledger.model.known import KnownValue

CONTROL = "control"
CHECKPOINTS = "checkpoints"

HEIGHT_KINDS = ("orthometric", "ellipsoidal", "site")
"""What heights are above, where no code of a height system says it."""

# What `SurveyPoint.stratum` says where the file says it in one of the two words of the trade.
NONVEGETATED = "nonvegetated"
VEGETATED = "vegetated"


@dataclass(frozen=True)
class SurveyPoint:
    """One surveyed point, with the digits that the file has.

    Args:
        id: its name in the table; "row 7" where the table has no names.
        east: easting, or longitude in degrees, in the unit of the table.
        north: northing, or latitude in degrees.
        height: height in the vertical unit of the table; None where the cell is empty.
        stratum: `NONVEGETATED`, `VEGETATED` or what the file says; empty where it says nothing.
        sigma_horizontal_m: standard deviation of the survey in plan, metres.
        sigma_vertical_m: standard deviation of the survey in height, metres.
        surveyed: when it was surveyed, ISO 8601; empty where the file does not say.
        measured: easting, northing and height of the same target as picked in the cloud, in the
            unit of the table; None where the table has no such columns.
        row: line of the file, from 1.
    """

    id: str
    east: Decimal
    north: Decimal
    height: Decimal | None
    stratum: str = ""
    sigma_horizontal_m: Decimal | None = None
    sigma_vertical_m: Decimal | None = None
    surveyed: str = ""
    measured: tuple[Decimal, Decimal, Decimal | None] | None = None
    row: int = 0


@dataclass(frozen=True)
class PointTable:
    """One table of surveyed points, as somebody declared it.

    Args:
        path: the file as the book writes it.
        sha256: digest of its bytes.
        kind: `CONTROL` or `CHECKPOINTS`; empty where nobody said.
        declared: what somebody or the file itself said of it, by name: `horizontal` (text of a
            coordinate system), `epoch`, `vertical` (a height kind or the text of a vertical
            system), `geoid`, `unit_horizontal`, `unit_vertical`, `base`, `surface`; a name that
            nobody said anything of is absent.
        understood: the column behind each meaning: its name, or `column 3`.
        points: in the order of the file.
        skipped: rows that hold no point: line of the file, and why.
        fault: why the file could not be read as it was declared; empty otherwise.
        contradicted: where a person declared something else than the file says of itself, one
            clause each; what the person declared counts.
    """

    path: str
    sha256: str
    kind: str
    declared: Mapping[str, KnownValue] = field(default_factory=dict)
    understood: Mapping[str, str] = field(default_factory=dict)
    points: tuple[SurveyPoint, ...] = ()
    skipped: tuple[tuple[int, str], ...] = ()
    fault: str = ""
    contradicted: tuple[str, ...] = ()
