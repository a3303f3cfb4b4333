"""The files of a capture are whole: none empty, none cut at the limit of a card, no part missing.

Cards of the FAT kind hold files of 4 GiB less one byte at most: a file of exactly that size goes on
in another one, or was cut there (Microsoft, FAT32 File System Specification 1.03: the size of a
file is a 32-bit number of bytes).
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import Any

from ledger.contract.check import Check, Evidence, Finding, Grade, Plan, Where
from ledger.model.artefact import Role
from ledger.model.audit import WHOLE_DELIVERY
from ledger.model.jobrecords import RawFile
from ledger.model.phrases import count_things
from ledger.model.process import Card
from lidar_checks.lineage.capture_rate import MAX_APART, OddRate, find_odd_rates
from lidar_checks.lineage.foreign_parts import find_lent, find_other_days
from lidar_checks.lineage.parts import Sequence, find_sequences
from lidar_checks.lineage.raw_files import (
    NEEDS_RAW,
    NO_RAW,
    group_by_flight,
    list_raw,
    name_flight,
)

LARGEST_ON_FAT = 2**32 - 1
_COMMON = "common practice, no source"
_FAT = "Microsoft FAT32 File System Specification 1.03: sizes of files are 32-bit numbers"
_PARTS = "flight.capture_parts"
_FETCH = "Copy it from the card again, register it (swathbook register PATH --flight F1)"


class CaptureFiles(Check):
    """Looks at sizes, names and digests of the registered captures of each flight."""

    id = "capture-files"
    title = "Captures are whole, with all their parts"
    catalogue = ("RC-01", "RC-02")
    revision = 3
    fields = (
        _PARTS,
        "flight.capture_started",
        "flight.capture_ended",
        "flight.takeoff",
        "flight.landing",
    )

    def finish(
        self,
        plan: Plan,  # noqa: ARG002 - part of the contract
        summaries: Mapping[str, Any],  # noqa: ARG002 - part of the contract
        evidence: Evidence,
    ) -> Iterable[Finding]:
        """Judge the captures flight by flight."""
        captures = list_raw(evidence, [Role.CAPTURE])
        if not captures:
            yield self.not_assessed(WHOLE_DELIVERY, NO_RAW, needs=NEEDS_RAW)
        cards = {card.id: card for card in evidence.flights}
        groups = group_by_flight(captures)
        odd = {each.flight: each for each in find_odd_rates(groups, cards)}
        for flight, files in groups.items():
            sequences = find_sequences(files)
            found = [
                *self._judge_sizes(files, sequences),
                *self._judge_twins(flight, files),
                *self._judge_gaps(sequences, evidence),
                *self._judge_count(cards.get(flight), files),
                *self._judge_days(cards.get(flight), files),
                *self._judge_rate(odd.get(flight)),
            ]
            yield from found
            if not found:
                yield self.conforms(
                    flight or WHOLE_DELIVERY,
                    f"{count_things(len(files), 'capture file')} of {name_flight(flight)}: none is "
                    "empty or cut at 4 GiB, no number is left out.",
                )

    def _judge_sizes(
        self, files: Iterable[RawFile], sequences: Iterable[Sequence]
    ) -> Iterator[Finding]:
        followed = {
            raw.file.path
            for sequence in sequences
            for number, raw in sequence.files.items()
            if number + 1 in sequence.files
        }
        for raw in files:
            size, path = raw.file.bytes, raw.file.path
            if size == 0:
                yield self._tell(
                    path,
                    f"Capture file {path} is empty.",
                    observed="0 bytes",
                    required="a file with content",
                    criterion_source=_COMMON,
                    remedy=_FETCH,
                )
            elif size == LARGEST_ON_FAT and path not in followed:
                yield self._tell(
                    path,
                    f"Capture file {path} has exactly {count_things(size, 'byte')}, the most that "
                    "a FAT card holds in one file, and no part that follows it is registered: it "
                    "was cut.",
                    observed=f"{count_things(size, 'byte')}, no following part",
                    required=f"less than {count_things(size, 'byte')}, or a following part",
                    criterion_source=_FAT,
                    remedy=f"Look for the part that follows on the card. {_FETCH}",
                )

    def _tell(self, path: str, sentence: str, **parts: str) -> Finding:
        where = Where(file=path)
        return self.nonconforming(
            Grade.MAJOR, path, sentence, where=where, catalogue=("RC-01",), **parts
        )

    def _judge_twins(self, flight: str, files: Iterable[RawFile]) -> Iterator[Finding]:
        """Yield the parts that hold the same bytes under several names."""
        paths: dict[str, list[str]] = {}
        for raw in files:
            if raw.file.bytes:
                paths.setdefault(raw.file.sha256, []).append(raw.file.path)
        for same in paths.values():
            names = {path.rpartition("/")[2] for path in same}
            if len(names) > 1:
                yield self.nonconforming(
                    Grade.MAJOR,
                    same[-1],
                    f"{' and '.join(sorted(same))} of {name_flight(flight)} hold the same bytes: "
                    "one of them took the place of another part.",
                    observed="the same bytes twice",
                    required="parts with bytes of their own",
                    criterion_source=_COMMON,
                    remedy=_FETCH,
                    where=Where(file=same[-1]),
                    catalogue=("RC-02",),
                )

    def _judge_gaps(self, sequences: Iterable[Sequence], evidence: Evidence) -> Iterator[Finding]:
        known = {file.path for file in evidence.registered.values()}
        lenders = {one.pattern: other.pattern for one, other in find_lent(sequences)}
        for sequence in sequences:
            missing = [n for n in sequence.missing if sequence.name(n) not in known]
            if not missing:
                continue
            numbers = ", ".join(str(number) for number in missing)
            lender = lenders.get(sequence.pattern)
            yield self.nonconforming(
                Grade.MAJOR if sequence.is_certain else Grade.OBSERVATION,
                sequence.pattern,
                f"Of {sequence.pattern} there is no number {numbers}, up to {sequence.last}"
                + (": a part is missing" if sequence.is_certain else ", if these are parts")
                + (f"; {lender} has them, so parts of two captures are mixed." if lender else "."),
                observed=f"without {numbers}",
                required=f"every number up to {sequence.last}",
                criterion_source=_COMMON,
                remedy=f"Look for {sequence.name(missing[0])} on the card. {_FETCH}",
                where=Where(file=sequence.name(missing[0])),
                catalogue=("RC-02",),
            )

    def _judge_days(self, card: Card | None, files: Iterable[RawFile]) -> Iterator[Finding]:
        for other in find_other_days(card, files):
            flight = "" if card is None else card.id
            yield self.nonconforming(
                Grade.OBSERVATION,
                other.path,
                f"{other.path} is named for {other.day}, when {flight} was not flown anywhere on "
                "Earth: it is of another capture, or the clock of the scanner was wrong.",
                observed=f"{other.day}",
                required="the day of take-off, in any time zone",
                criterion_source=_COMMON,
                remedy=f"Look which capture is that of {flight}, and register it with its own "
                "flight",
                where=Where(file=other.path),
                catalogue=("RC-02",),
            )

    def _judge_rate(self, odd: OddRate | None) -> Iterator[Finding]:
        if odd is None:
            return
        why = "it was cut, or lacks a part" if odd.rate < odd.usual else "it holds files of another"
        yield self.nonconforming(
            Grade.OBSERVATION,
            odd.flight,
            f"The capture of {odd.flight} has {odd.rate:.1f} MB for each second, and "
            f"{count_things(odd.flights, 'flight')} of its scanner have {odd.usual:.1f} in the "
            f"middle: {why}, or the scanner was set otherwise.",
            observed=f"{odd.rate:.2f}",
            required=f"{odd.usual:.2f} within {MAX_APART:.0%}",
            unit="MB/s",
            criterion_source=_COMMON,
            remedy="Look at its files on the card, and whether begin and end on record are right "
            f"(swathbook record flight {odd.flight})",
            catalogue=("RC-01",),
        )

    def _judge_count(self, card: Card | None, files: Iterable[RawFile]) -> Iterator[Finding]:
        stated = None if card is None else card.values.get(_PARTS)
        if card is None or stated is None:
            return
        wanted, here = int(stated.value), len({raw.file.sha256 for raw in files})
        if here > wanted:
            yield self.nonconforming(
                Grade.OBSERVATION,
                card.id,
                f"The capture of {card.id} was split into {count_things(wanted, 'file')}, and "
                f"{here} are registered with it: some are of another capture, or are no parts.",
                observed=str(here),
                required=str(wanted),
                unit="files",
                criterion_source="the field card of the flight",
                remedy="Look which of them the scanner wrote in this flight, and put the count on "
                f"record right (swathbook record flight {card.id})",
                catalogue=("RC-02",),
            )
        if here < wanted:
            yield self.nonconforming(
                Grade.MAJOR,
                card.id,
                f"The capture of {card.id} was split into {count_things(wanted, 'file')}, and "
                f"{here} of them {'is' if here == 1 else 'are'} registered.",
                observed=str(here),
                required=str(wanted),
                unit="files",
                criterion_source="the field card of the flight",
                remedy=f"Copy what is missing from the card, register it (swathbook register PATH "
                f"--flight {card.id})",
                catalogue=("RC-02",),
            )
