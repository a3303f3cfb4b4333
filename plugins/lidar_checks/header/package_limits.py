"""Can the client's computer hold and unpack the folder: names, lengths of paths, sizes of files.

What Windows and FAT32 allow is written from memory and checked on no such computer here; a breach
is an observation.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from itertools import accumulate
from typing import Any

from pydantic import Field

from ledger.contract.check import Check, Criteria, Plan
from ledger.contract.evidence import Evidence
from ledger.model.audit import WHOLE_DELIVERY
from ledger.model.finding import Finding, Grade, Where
from ledger.model.phrases import count_things
from lidar_checks.header.file_check import name_source, require_criteria, tell_no_point_file

_NAMES = "names that Windows allows, from memory"
_FORBIDDEN = re.compile(r'[<>:"\\|?*\x00-\x1f]')
_DEVICES = re.compile(r"(con|prn|aux|nul|com[1-9]|lpt[1-9])(\..*)?", re.IGNORECASE)
_SHOWN = 3


class PackageLimitsCriteria(Criteria):
    """What the client's computer takes."""

    path_max: int = Field(
        default=240,
        ge=1,
        description="common practice, no source: 260 characters of Windows, less a folder",
    )
    file_max_bytes: int = Field(
        default=4_294_967_295,
        ge=1,
        description="common practice, no source: largest file on a FAT32 drive, from memory",
    )


class PackageLimits(Check):
    """Names, paths and sizes survive the way to the client."""

    id = "package-limits"
    title = "Names, paths and sizes of files survive the way to the client"
    catalogue = ("FT-12",)
    criteria = PackageLimitsCriteria

    def finish(
        self, plan: Plan, summaries: Mapping[str, Any], evidence: Evidence
    ) -> Iterator[Finding]:
        """Look at every name of the folder."""
        del summaries
        if not evidence.point_files:
            yield tell_no_point_file(self, evidence)
            return
        asked = require_criteria(plan, PackageLimitsCriteria)
        paths = [file.path for file in evidence.files]
        large = [file.path for file in evidence.files if file.bytes > asked.file_max_bytes]
        long = [path for path in paths if len(path) > asked.path_max]
        strange = [path for path in paths if is_refused(path)]
        found = [
            *self._tell(
                strange,
                "cannot be unpacked on Windows",
                _NAMES,
                "Give them names of letters, digits, - and _, and deliver the folder again.",
            ),
            *self._tell(
                long,
                f"have paths of more than {asked.path_max} characters",
                name_source(plan, "path_max"),
                "Use shorter names of folders and files.",
            ),
            *self._tell(
                find_clashes(paths),
                "differ in upper and lower case only, so that on Windows one overwrites the other",
                _NAMES,
                "Give them different names.",
            ),
            *self._tell(
                large,
                f"are larger than {count_things(asked.file_max_bytes, 'byte')} and do not fit on "
                "a drive with FAT32",
                name_source(plan, "file_max_bytes"),
                "Send them on a drive with another file system, or cut into tiles.",
            ),
        ]
        yield from found
        if not found:
            yield self.conforms(
                WHOLE_DELIVERY,
                f"Names, paths and sizes of {count_things(len(paths), 'file')} are taken by any "
                "computer.",
            )

    def _tell(
        self, paths: Sequence[str], fault: str, source: str, remedy: str
    ) -> Iterator[Finding]:
        if not paths:
            return
        number = count_things(len(paths), "file")
        more = f" and {len(paths) - _SHOWN} more" if len(paths) > _SHOWN else ""
        fault = fault if len(paths) > 1 else _make_singular(fault)
        yield self.nonconforming(
            Grade.OBSERVATION,
            WHOLE_DELIVERY,
            f"{number} {fault}: {', '.join(paths[:_SHOWN])}{more}.",
            observed="; ".join(paths),
            criterion_source=source,
            remedy=remedy,
            where=Where(paths[0]) if len(paths) == 1 else Where(),
        )


def _make_singular(fault: str) -> str:
    verb, _, rest = fault.partition(" ")
    return f"{ {'have': 'has', 'are': 'is', 'differ': 'differs'}.get(verb, verb) } {rest}".strip()


def is_refused(path: str) -> bool:
    """Say whether Windows refuses a part of a path."""
    return any(
        _FORBIDDEN.search(part) or _DEVICES.fullmatch(part) or part.endswith((" ", "."))
        for part in path.split("/")
    )


def find_clashes(paths: Sequence[str]) -> list[str]:
    """Return the paths that are others with other capitals, folders included."""
    written: dict[str, str] = {}
    clashing = []
    for path in paths:
        for each in accumulate(path.split("/"), "{}/{}".format):
            if written.setdefault(each.casefold(), each) != each:
                clashing.append(path)
                break
    return clashing
