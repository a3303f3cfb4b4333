"""One value that a rule needs, with where it belongs."""

from __future__ import annotations

from ledger.dataclass import dataclass
from ledger.model.fields import FIELDS
from ledger.model.known import KnownValue

SPECIFICATION = "specification."


@dataclass(frozen=True)
class Operand:
    """One value that a rule needs.

    Args:
        key: the record field or key of `job.toml` that holds it.
        owner: where it belongs: `R1`, `F2`, `G1` or `job.toml`.
        known: the value; None when it is not recorded.
        absent: why there is no owner, as a clause; empty where there is one.
        doubt: why it is not sure that this is the value, as a clause; empty where it is.
    """

    key: str
    owner: str
    known: KnownValue | None
    absent: str = ""
    doubt: str = ""

    def describe_blank(self) -> str:
        """Return what is missing and what that costs, without a final full stop."""
        field = FIELDS.get(self.key)
        if field is None:
            return f"{self.owner} does not say {self.key.removeprefix(SPECIFICATION)}"
        cost = f"; {field.why}" if field.why else ""
        asked = f"“{field.question}” ({self.key}){cost}"
        if self.absent:
            return f"{self.absent}, so nothing answers {asked}"
        return f"{self.owner} has no answer to {asked}"
