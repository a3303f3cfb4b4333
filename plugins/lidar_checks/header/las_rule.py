"""One rule of the LAS specification that a header can break: a row of the tables `las_rules_*`."""

from __future__ import annotations

from collections.abc import Callable
from functools import cached_property

from ledger.contract.evidence import DeliveredFile
from ledger.dataclass import dataclass
from ledger.model.finding import Grade
from ledger.model.header import LasHeader

LAS = "ASPRS LAS 1.4 R15"
LAS_15 = "ASPRS LAS 1.5 R00"
FIRST_EXTENDED_FORMAT = 6

PROJECTION = "LASF_Projection"
SPECIFICATION = "LASF_Spec"
WKT_RECORD = 2112
KEY_DIRECTORY = 34735


# What tiles of one export have alike, as far as rules look at it: fields of the header, and `crs`.
KIND = (
    "crs",
    "version",
    "point_format",
    "compressed",
    "copc",
    "record_length",
    "global_encoding",
    "header_size",
    "vlrs",
    "time_range",
    "vlr_count",
    "evlr_count",
    "wkt_terminated",
    "other_wkts",
    "described_bytes",
)


@dataclass(frozen=True)
class HeaderCase:
    """One header, with what a rule may look at beside it.

    Args:
        file: the file.
        header: its header.
        companions: paths of all delivered files, in lower case.
    """

    file: DeliveredFile
    header: LasHeader
    companions: frozenset[str] = frozenset()

    @cached_property
    def minor(self) -> int:
        """Return the second number of the version: 4 for LAS 1.4."""
        return int(self.header.version.rpartition(".")[2])

    @property
    def is_extended(self) -> bool:
        """Say whether the point format is one of 6 to 10."""
        return self.header.point_format >= FIRST_EXTENDED_FORMAT

    def has_bit(self, bit: int) -> bool:
        """Say whether a bit of the global encoding is set."""
        return bool(self.header.global_encoding >> bit & 1)

    def count_records(self, user_id: str, record_id: int) -> int:
        """Return how many records of a kind the file has."""
        return len(self.list_sizes(user_id, record_id))

    def list_sizes(self, user_id: str, *record_ids: int) -> list[int]:
        """Return the payloads of all records of some kinds, bytes."""
        return [
            record.size
            for record in self.header.vlrs
            if record.user_id == user_id and record.record_id in record_ids
        ]


@dataclass(frozen=True)
class LasRule:
    """One rule.

    Args:
        id: its own id, unique in the tables and permanent.
        clause: document, edition and clause that states it.
        grade: minor where programs read such a file wrongly or not at all, else an observation.
        find: what is wrong, as a clause of a sentence; empty when the rule is kept.
        remedy: one thing to do.
        catalogue: failures that it points to.
        clause_15: the clause of LAS 1.5 that states it for such a file; empty for the same one.
        is_of_one_file: it looks at counts, places of bytes or the path, which no two files have
            alike; the others look at `KIND` alone.
    """

    id: str
    clause: str
    grade: Grade
    find: Callable[[HeaderCase], str]
    remedy: str
    catalogue: tuple[str, ...] = ()
    clause_15: str = ""
    is_of_one_file: bool = False

    def name_clause(self, case: HeaderCase) -> str:
        """Return the clause that states the rule for a file."""
        return self.clause_15 if self.clause_15 and case.minor >= 5 else self.clause
