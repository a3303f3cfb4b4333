"""Do names of files say what is in them: coordinates in the name, and the kind by its ending.

How a job writes coordinates into names is found from the names themselves: places and a unit that
fit most of them. Where none fits, names are taken for names.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from itertools import permutations
from pathlib import PurePosixPath
from typing import Any

from ledger.contract.check import Check, Plan
from ledger.contract.evidence import DeliveredFile, Evidence
from ledger.dataclass import dataclass
from ledger.model.audit import WHOLE_DELIVERY
from ledger.model.finding import Finding, Grade, Where
from ledger.model.header import LasHeader
from ledger.model.phrases import count_things
from lidar_checks.header.box import Box, find_best_box
from lidar_checks.header.file_check import COMMON_PRACTICE, tell_no_point_file

_NUMBER = re.compile(r"(?<!\d)(\d{3,7})(?!\d)")
_SCALES = (1, 10, 100, 1000)
_FEWEST = 3
_SHARE_THAT_FITS = 2 / 3
# A place is only told from chance where it is many tiles away from zero.
_FAR = 5


@dataclass(frozen=True)
class _Named:
    """A file whose name holds numbers, and where its points are."""

    file: DeliveredFile
    numbers: tuple[int, ...]
    box: Box


@dataclass(frozen=True)
class Scheme:
    """How names write coordinates.

    Args:
        x: which number of the name is the easting.
        y: which one is the northing.
        scale: units of the file in one of the name.
        reach: how far the middle of a tile may be from the place in its name, file units.
    """

    x: int
    y: int
    scale: int
    reach: float

    def fits(self, named: _Named) -> bool:
        """Say whether points lie where the name says, which may be any corner or the middle."""
        x, y = named.box.corners()[-1]
        return (
            abs(x - named.numbers[self.x] * self.scale) <= self.reach
            and abs(y - named.numbers[self.y] * self.scale) <= self.reach
        )


class FileNames(Check):
    """Names of files say what is in them."""

    id = "file-names"
    title = "Names of files say where their points are and of what kind they are"
    catalogue = ("FT-10",)

    def finish(
        self, plan: Plan, summaries: Mapping[str, Any], evidence: Evidence
    ) -> Iterator[Finding]:
        """Compare names with what the files hold."""
        del plan, summaries
        if not evidence.point_files:
            yield tell_no_point_file(self, evidence)
            return
        named = [*_list_named(evidence.point_files)]
        scheme = find_scheme(named)
        headers = [(f, f.header) for f in evidence.point_files if f.header is not None]
        found = [
            *(each for file, header in headers for each in self._judge_ending(file, header)),
            *self._judge_places(named, scheme),
        ]
        yield from found
        lost = len(evidence.point_files) - len(headers)
        if lost:
            yield self.not_assessed(
                WHOLE_DELIVERY,
                f"{count_things(lost, 'file')} without a readable header: names not compared.",
                ("header",),
            )
        elif not found:
            held = (
                f"{count_things(len(named), 'name')} with coordinates fit"
                if scheme
                else ("no way of writing coordinates is seen in the names")
            )
            yield self.conforms(
                WHOLE_DELIVERY,
                f"Names fit what the files are; {held}{' the points' if scheme else ''}.",
            )

    def _judge_ending(self, file: DeliveredFile, header: LasHeader) -> Iterator[Finding]:
        name = file.path.casefold()
        if name.endswith(".copc.laz") and not header.copc:
            fault, right = "is named COPC and is none", ".laz"
        elif name.endswith(".laz") and not header.compressed:
            fault, right = "is named LAZ and is not compressed", ".las"
        elif name.endswith(".las") and header.compressed:
            fault, right = "is named LAS and is compressed", ".laz"
        else:
            return
        yield self.nonconforming(
            Grade.OBSERVATION,
            file.path,
            f"{file.path} {fault}; some programs choose by the ending.",
            observed=PurePosixPath(file.path).name,
            required=right,
            criterion_source=COMMON_PRACTICE,
            remedy=f"Export it again with the ending {right}.",
            where=Where(file.path),
        )

    def _judge_places(self, named: Sequence[_Named], scheme: Scheme | None) -> Iterator[Finding]:
        if scheme is not None:
            yield from (self._tell_place(each, scheme) for each in named if not scheme.fits(each))

    def _tell_place(self, named: _Named, scheme: Scheme) -> Finding:
        x, y = (named.numbers[i] * scheme.scale for i in (scheme.x, scheme.y))
        west, south = named.box.low[:2]
        path = named.file.path
        return self.nonconforming(
            Grade.OBSERVATION,
            path,
            f"{path}: its name says {x:,} east, {y:,} north, as the others are named; its points "
            f"begin at {west:,.2f}, {south:,.2f}.",
            observed=f"{west:.2f} {south:.2f}",
            required=f"{x} {y}",
            criterion_source=COMMON_PRACTICE,
            remedy="Name it after where its points are, or see whether two files were exchanged.",
            where=Where(path, xy=(west, south)),
        )


def _list_named(files: Sequence[DeliveredFile]) -> Iterator[_Named]:
    for file in files:
        box = find_best_box(file)
        # Cut as text: a path made of every name takes longer than all else here (measured).
        stem = file.path.rpartition("/")[2].rpartition(".")[0]
        numbers = tuple(map(int, _NUMBER.findall(stem)))
        if box is not None and len(numbers) > 1:
            yield _Named(file, numbers, box)


def find_scheme(named: Sequence[_Named]) -> Scheme | None:
    """Return how most names write coordinates; None where no way fits enough of them."""
    if len(named) < _FEWEST:
        return None
    reach = 1.1 * max(
        max(each.box.high[axis] - each.box.low[axis] for axis in (0, 1)) for each in named
    )
    first = named[0].box.corners()[-1]
    if min(map(abs, first)) < _FAR * reach:
        return None
    length = min(len(each.numbers) for each in named)
    schemes = (
        Scheme(x, y, scale, max(reach, float(scale)))
        for x, y in permutations(range(length), 2)
        for scale in _SCALES
    )
    best = max(schemes, key=lambda scheme: sum(scheme.fits(each) for each in named), default=None)
    if best is None:
        return None
    fitting = sum(best.fits(each) for each in named)
    return best if fitting >= max(_SHARE_THAT_FITS * len(named), 2) else None
