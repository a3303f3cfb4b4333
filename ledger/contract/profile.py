"""Published criteria as data: what a customer means who only names a document."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import field
from typing import Any

from ledger.canonical import compute_digest, encode, make_decimals
from ledger.dataclass import dataclass
from ledger.model.document import FROM_MEMORY, Known, NotTested


@dataclass(frozen=True)
class Clause:
    """One published value.

    Args:
        value: the value, as it would stand in `job.toml`.
        clause: where the document states it.
        known: how the value is known. One from memory decides nothing: what rests on it is
            *inconclusive* until somebody states it in `job.toml`.
    """

    value: Any
    clause: str
    known: Known = Known.DOCUMENT

    @property
    def is_recalled(self) -> bool:
        """Say whether the value is known from memory only."""
        return self.known is Known.MEMORY

    @property
    def place(self) -> str:
        """Return the clause, and that its value is from memory where it is."""
        return f"{self.clause} ({FROM_MEMORY})" if self.is_recalled else self.clause


@dataclass(frozen=True)
class Profile:
    """The criteria of one edition of one document.

    Args:
        id: kebab case, with edition and level (the name that `criteria.profile` holds).
        title: title of the document.
        edition: its edition.
        criteria: by check id and field name. A check that is named here with a value that is not
            from memory is required.
        not_tested: what the document asks for and no check tests; told with every audit.
        content: the bytes of the file that it was read from; empty for none.
    """

    id: str
    title: str
    edition: str
    criteria: Mapping[str, Mapping[str, Clause]] = field(default_factory=dict)
    not_tested: tuple[NotTested, ...] = ()
    content: bytes = field(default=b"", repr=False)

    @property
    def document(self) -> str:
        """Return title and edition as one text."""
        return f"{self.title}, {self.edition}"

    @property
    def sha256(self) -> str:
        """Return the digest of its file, or of its canonical values where it has none."""
        return compute_digest(self.content or self._list_values())

    def requires(self, check: str) -> bool:
        """Say whether a check may not be left open: some value for it is not from memory."""
        fields = self.criteria.get(check)
        if fields is None:
            return False
        return not fields or not all(clause.is_recalled for clause in fields.values())

    def _list_values(self) -> bytes:
        criteria = {
            check: {
                name: [make_decimals(each.value), each.clause, str(each.known)]
                for name, each in fields.items()
            }
            for check, fields in self.criteria.items()
        }
        asked = [[each.asks, each.clause, each.known] for each in self.not_tested]
        return encode([self.id, self.title, self.edition, criteria, asked])
