"""The height of a base antenna above its mark: read twice, and reduced where it was read slant.

Reduction: mark, antenna axis and the point that the tape was held to make a right-angled triangle,
so that h = sqrt(s² - r²) + d, with slant height s, radius r, and d the height of the antenna
reference point above the point on the tape, negative where it lies below. The same formula:
UNAVCO, teqc mailing list, 2019, message 2641, "using surveying slant antenna heights".
"""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal

from ledger.dataclass import dataclass
from ledger.model.known import KnownValue

# Two readings of one height; common practice, no source.
READINGS_APART_M = Decimal("0.003")

_READINGS = ("flight.base_height", "flight.base_height_again")
_KIND = "flight.base_height_kind"
_RADIUS = "flight.base_antenna_radius"
_OFFSET = "flight.base_antenna_offset"
_SLANT = "slant"
BASE_HEIGHT_KEYS = (*_READINGS, _KIND, _RADIUS, _OFFSET)
_TENTH_OF_MM = Decimal("0.0001")


@dataclass(frozen=True)
class BaseHeight:
    """The height of a base antenna as it was recorded, metres.

    Args:
        readings: as they were read, one or two.
        kind: `vertical` or `slant`; empty where nobody said.
        radius: of the antenna, from its axis to where the slant height was read; None for blank.
        offset: antenna reference point above that; None for blank.
    """

    readings: tuple[Decimal, ...]
    kind: str = ""
    radius: Decimal | None = None
    offset: Decimal | None = None

    @property
    def apart(self) -> Decimal | None:
        """Return how far two readings are apart; None where there is one."""
        first, *rest = self.readings
        return abs(first - rest[0]) if rest else None

    @property
    def agrees(self) -> bool:
        """Say whether the readings lie as near to each other as two of one height do."""
        return self.apart is None or self.apart <= READINGS_APART_M

    @property
    def mean(self) -> Decimal:
        """Return the mean of the readings."""
        return sum(self.readings, Decimal(0)) / len(self.readings)

    @property
    def vertical(self) -> Decimal | None:
        """Return the vertical height of the antenna reference point, to a tenth of a millimetre.

        None where nobody said how it was read, a slant height has no radius or offset, or is
        shorter than its radius.
        """
        if self.kind != _SLANT:
            return self.mean if self.kind else None
        if self.radius is None or self.offset is None or self.mean <= self.radius:
            return None
        return reduce_slant(self.mean, self.radius, self.offset)


def reduce_slant(slant: Decimal, radius: Decimal, offset: Decimal) -> Decimal:
    """Return the vertical height of the antenna reference point, metres.

    Args:
        slant: from the mark to the point that the tape was held to, metres.
        radius: of that point from the axis of the antenna, metres, less than the slant height.
        offset: antenna reference point above that point, metres, negative below it.
    """
    return ((slant * slant - radius * radius).sqrt() + offset).quantize(_TENTH_OF_MM)


def read_base_height(values: Mapping[str, KnownValue]) -> BaseHeight | None:
    """Return the height of the base antenna of a flight; None where nothing was read.

    Args:
        values: of the flight, by field key.
    """
    readings = [_read(values.get(key)) for key in _READINGS]
    known = tuple(reading for reading in readings if reading is not None)
    if not known:
        return None
    kind = values.get(_KIND)
    return BaseHeight(
        known,
        str(kind.value) if kind is not None else "",
        _read(values.get(_RADIUS)),
        _read(values.get(_OFFSET)),
    )


def _read(known: KnownValue | None) -> Decimal | None:
    """Return a length in metres; None for a blank, or one in a unit that no form stores."""
    if known is None or known.unit != "m":
        return None
    return Decimal(str(known.value))
