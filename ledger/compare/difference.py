"""What differs between two runs, as plain records."""

from __future__ import annotations

from decimal import Decimal

from ledger.dataclass import dataclass
from ledger.model.known import KnownValue
from ledger.model.weight import Weight


@dataclass(frozen=True)
class Effect:
    """How far a difference can move the result here.

    Args:
        metres: the amount, second run less first run; None where nothing can be said.
        sentence: what moves, or why nothing can be said.
    """

    metres: Decimal | None
    sentence: str


@dataclass(frozen=True)
class Difference:
    """One setting that two runs do not share.

    Args:
        field: name of the setting, without the kind of record.
        before: value of the first run.
        after: value of the second run.
        weight: what it can do to the result.
        effect: how far, here.
    """

    field: str
    before: KnownValue
    after: KnownValue
    weight: Weight
    effect: Effect


@dataclass(frozen=True)
class WrittenDifference:
    """One setting that a program wrote, which no record field asks for.

    Args:
        key: where it stands in the settings of the program, in flat form.
        before: its text for the first run; None where that has no such key.
        after: its text for the second run.
    """

    key: str
    before: str | None
    after: str | None


@dataclass(frozen=True)
class RunComparison:
    """Two runs or steps, held against each other.

    Args:
        first: id of the first.
        second: id of the second.
        differences: settings with different values, worst first.
        alike: number of settings with equal values.
        one_sided: names of settings that only one of them has, with the id of that one.
        inputs: inputs that only one of them used, with the id of that one.
        written: settings in files of the programs that differ and that no field asks for.
    """

    first: str
    second: str
    differences: tuple[Difference, ...]
    alike: int
    one_sided: tuple[tuple[str, str], ...]
    inputs: tuple[tuple[str, str], ...]
    written: tuple[WrittenDifference, ...] = ()

    @property
    def is_same(self) -> bool:
        """Say whether nothing that was recorded differs."""
        return not (self.differences or self.one_sided or self.inputs or self.written)
