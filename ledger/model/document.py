"""Published documents as data: what they state, how it is known, and what nobody tests here yet."""

from __future__ import annotations

from collections.abc import Iterable
from enum import StrEnum

from ledger.dataclass import dataclass
from ledger.model.phrases import agree

_UNITS = {
    "pts_per_m2": "points/m²",
    "m2": "m²",
    "km": "km",
    "mm": "mm",
    "m": "m",
    "deg": "°",
    "days": "days",
    "h": "h",
    "s": "s",
}
"""Unit by the last words of a field's name: units of a criterion stand in its name."""


class Known(StrEnum):
    """How a value of a document is known, in the words of a profile file."""

    DOCUMENT = "document"
    LATER = "later-edition"
    ACCOUNT = "account"
    COMPUTED = "computed"
    REPRODUCED = "reproduced"
    MEMORY = "memory"
    AGREED = "agreed"


MEANINGS = {
    Known.DOCUMENT: "read in a copy of the document itself",
    Known.LATER: "read in a later edition, whose history of changes names none here",
    Known.ACCOUNT: "read in somebody else's account of the document",
    Known.COMPUTED: "computed from values that were read in the document",
    Known.REPRODUCED: "recalled, and reproduced by computation to every digit printed",
    Known.MEMORY: "from memory, confirm: it decides nothing by itself",
    Known.AGREED: "agreed for one job, in place of what the document states",
}
"""What each of them means, as a person is told."""

FROM_MEMORY = "from memory, confirm"


@dataclass(frozen=True)
class NotTested:
    """Something that a document asks for and that no check tests.

    Args:
        asks: what it asks for, with its number and unit.
        clause: where it says so; empty for a check that is not installed.
        known: how that is known; empty for a check that is not installed.
    """

    asks: str
    clause: str = ""
    known: str = ""

    @property
    def phrase(self) -> str:
        """Return it with its clause, as it stands in a list of what is not tested."""
        notes = [self.clause] if self.clause else []
        if self.known == Known.MEMORY:
            notes.append(FROM_MEMORY)
        return f"{self.asks} ({', '.join(notes)})" if notes else self.asks


@dataclass(frozen=True)
class AppliedProfile:
    """The profile that an audit applied.

    Args:
        id: its id.
        title: title of the document.
        edition: its edition.
        sha256: digest of the profile's file, or of its canonical values where it has no file.
        file: the profile file in the job folder; empty for one that a plugin supplies.
        plugin: the plugin that supplies it; empty for a file in the job folder.
        not_tested: what the document asks for beside what is tested.
    """

    id: str
    title: str
    edition: str
    sha256: str
    file: str = ""
    plugin: str = ""
    not_tested: tuple[NotTested, ...] = ()

    @property
    def document(self) -> str:
        """Return title and edition as one text."""
        return f"{self.title}, {self.edition}"


def find_unit(field: str) -> str:
    """Return the unit that the name of a criterion ends with; empty for none."""
    for ending, unit in _UNITS.items():
        if field == ending or field.endswith(f"_{ending}"):
            return unit
    return ""


def tell_recalled(fields: Iterable[str]) -> tuple[str, str]:
    """Return that these criteria are known from memory only, and what to do about it."""
    listed = list(fields)
    names, them = " and ".join(listed), agree(len(listed), "it", "them")
    rests = agree(len(listed), "is", "are")
    told = f"But {names} {rests} known from memory only, which decides nothing."
    remedy = f"Look {them} up in the document; if right, state {them} in job.toml for this check."
    return told, remedy
