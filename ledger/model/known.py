"""A recorded value together with how it is known."""

from __future__ import annotations

from collections.abc import Mapping
from enum import StrEnum
from typing import Any

from ledger.dataclass import dataclass

# The values that say nothing.
NOTHING: tuple[object, ...] = (None, "", [], ())


class KnownBy(StrEnum):
    """How a value is known, best first."""

    READ = "read"
    MEASURED = "measured"
    TYPED = "typed"
    CARRIED = "carried"
    ASSUMED = "assumed"


@dataclass(frozen=True)
class KnownValue:
    """One value of a record.

    Args:
        value: canonical text, boolean, whole number or a list of texts. Measured numbers are
            decimal texts, so that no digit is added or lost.
        unit: unit of a measured number, empty for none.
        known_by: how the value is known.
        confirmed: whether a person looked at it in this record.
        where: for a read value, the file and key it was read from.
    """

    value: Any
    unit: str = ""
    known_by: KnownBy = KnownBy.TYPED
    confirmed: bool = True
    where: str = ""

    @property
    def can_prove(self) -> bool:
        """Say whether a check may pass on this value.

        An assumed value, or a carried one that nobody confirmed, can make a check fail but
        never pass.
        """
        if self.known_by is KnownBy.ASSUMED:
            return False
        return self.confirmed or self.known_by is not KnownBy.CARRIED

    def to_values(self) -> dict[str, Any]:
        """Return the canonical mapping that an entry stores."""
        stored: dict[str, Any] = {
            "value": self.value,
            "known_by": str(self.known_by),
            "confirmed": self.confirmed,
        }
        if self.unit:
            stored["unit"] = self.unit
        if self.where:
            stored["where"] = self.where
        return stored

    @classmethod
    def from_values(cls, stored: Mapping[str, Any]) -> KnownValue:
        """Read back what `to_values` stored.

        Raises:
            KeyError: a part is absent.
            TypeError: a part is not of its type, as somebody else may have written it.
        """
        unit, where = stored.get("unit", ""), stored.get("where", "")
        confirmed = stored["confirmed"]
        if not (isinstance(unit, str) and isinstance(where, str) and isinstance(confirmed, bool)):
            raise TypeError(f"unit {unit!r}, where {where!r}, confirmed {confirmed!r}")
        return cls(stored["value"], unit, KnownBy(stored["known_by"]), confirmed, where)


def show_value(known: KnownValue) -> str:
    """Return a value as it is echoed, with its unit: `1.523 m`, `0.12 -0.03 0.25 m`, `yes`."""
    if isinstance(known.value, bool):
        return "yes" if known.value else "no"
    value = known.value
    text = " ".join(map(str, value)) if isinstance(value, (list, tuple)) else str(value)
    return f"{text} {known.unit}" if known.unit else text
