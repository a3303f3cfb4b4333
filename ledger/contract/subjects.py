"""Which bytes stand behind the subject of a finding.

An acceptance lapses when what was accepted changes. So a finding carries digests: of the files it
names, delivered or behind the delivery, of the record it names, and of every file of the delivery
where it names none of these.
"""

from __future__ import annotations

import hashlib
import re
from collections.abc import Mapping
from functools import cached_property
from typing import Any

from ledger.canonical import encode
from ledger.contract.evidence import Evidence
from ledger.model.known import KnownValue

_SEPARATORS = re.compile(r" (?:\||\+|and|to|against) |, ")


class Subjects:
    """Finds the digests behind findings about one delivery."""

    def __init__(self, evidence: Evidence) -> None:
        """Take the files and records of the delivery, and the raw files and logs behind it."""
        self._files = {file.path: file.sha256 for file in evidence.files}
        self._behind = {
            **{raw.file.path: raw.file.sha256 for raw in evidence.job.raw},
            **{log.file.path: log.file.sha256 for log in evidence.logs.bases},
            **{log.file.path: log.file.sha256 for log in evidence.logs.tracks},
        }
        self._records = {
            **{each.id: _digest(each.values) for each in evidence.processes},
            **{each.id: _digest(each.values) for each in (*evidence.flights, *evidence.rigs)},
        }
        self._found: dict[tuple[str, str], tuple[str, ...]] = {}
        everything = "".join(f"{sha} {path}\n" for path, sha in sorted(self._files.items()))
        self._delivery = hashlib.sha256(everything.encode("utf-8", "surrogatepass")).hexdigest()

    @cached_property
    def digests_of_files(self) -> dict[str, tuple[str, ...]]:
        """Return the digests of findings about one delivered file, by its path."""
        return {path: self.find_digests(path, path) for path in self._files}

    def is_file(self, subject: str) -> bool:
        """Say whether a subject is the path of a delivered file."""
        return subject in self._files

    def find_digests(self, subject: str, file: str) -> tuple[str, ...]:
        """Return the digests of what a finding is about, sorted.

        Args:
            subject: its subject.
            file: the file of its place; empty for none.
        """
        key = subject, file
        if key not in self._found:  # most checks speak of the same files
            names = {subject, file, *_SEPARATORS.split(subject)}
            found = {known[name] for name in names for known in self._known if name in known}
            self._found[key] = tuple(sorted(found or {self._delivery}))
        return self._found[key]

    @property
    def _known(self) -> tuple[dict[str, str], ...]:
        return self._files, self._records, self._behind


def _digest(values: Mapping[str, KnownValue]) -> str:
    stored: dict[str, Any] = {key: value.to_values() for key, value in values.items()}
    return hashlib.sha256(encode(stored)).hexdigest()
