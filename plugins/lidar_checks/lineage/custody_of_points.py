"""Every point and raster file comes from accepted runs and steps, all the way back."""

from __future__ import annotations

from collections import Counter
from collections.abc import Hashable, Iterable, Iterator, Mapping
from dataclasses import replace
from pathlib import PurePosixPath
from typing import Any

from ledger.contract.check import (
    Answer,
    Check,
    DeliveredFile,
    Evidence,
    Finding,
    Grade,
    Plan,
    Where,
)
from ledger.contract.shared import ANY_FILE, SharedFinding
from ledger.model.address import is_address
from ledger.model.artefact import Role
from ledger.model.audit import WHOLE_DELIVERY
from ledger.model.lineage import Custody, CustodyState, MatchedBy, describe_decision
from ledger.model.phrases import agree, count_things
from ledger.model.process import Process
from ledger.model.typed import quote_path
from lidar_checks.lineage.contradicting import Contradiction, find_contradiction
from lidar_checks.lineage.orphan_groups import Orphan, group_orphans

_STALE = ("RH-02",)
_ORPHAN = ("RH-03",)
_SOURCE = "common practice, no source"
_REQUIRED = "accepted runs and steps all the way back to the capture"
# A registered raster of such a role was handed in, not made; points are always made.
_HANDED_IN = frozenset({Role.GEOID, Role.CALIBRATION, Role.CONTROL, Role.BOUNDARY, Role.PHOTO})


class CustodyOfPoints(Check):
    """Names the files that a rejected, undecided or unrecorded process made.

    A file that several runs made, with settings that cannot give the same points, is named too: one
    of these records is wrong.

    Undecided is a minor finding and not *inconclusive*: the records are complete, a person has to
    decide, and whoever accepts the finding has decided.
    """

    id = "custody-of-points"
    title = "Every point and raster file comes from accepted runs"
    catalogue = ("RH-02", "RH-03")
    revision = 3
    always_required = True

    def finish(
        self,
        plan: Plan,  # noqa: ARG002 - part of the contract
        summaries: Mapping[str, Any],  # noqa: ARG002 - part of the contract
        evidence: Evidence,
    ) -> Iterable[Answer]:
        """Judge every point and raster file; documents need no process."""
        traced = [file for file in evidence.files if file.kind in ("points", "raster")]
        if not traced:
            yield self.inconclusive(
                WHOLE_DELIVERY, "The folder holds no point or raster file that could be traced."
            )
        orphans = group_orphans(
            evidence.folder, (file for file in traced if _is_orphan(file, evidence)), evidence.files
        )
        originals = _find_originals(evidence) if orphans else {}
        kinds: dict[Hashable, list[DeliveredFile]] = {}
        for file in traced:
            kind = _find_kind(file)
            orphan = orphans.get(file.path)
            if orphan is not None:
                original = originals.get(PurePosixPath(file.path).name, "")
                yield self._report_orphan(file, orphan, original)
            elif kind is None:
                yield self._judge(file, evidence)
            else:
                kinds.setdefault(kind, []).append(file)
        for alike in kinds.values():
            told = self._judge(replace(alike[0], path=ANY_FILE), evidence)
            yield SharedFinding(told, tuple(file.path for file in alike))

    def _judge(self, file: DeliveredFile, evidence: Evidence) -> Finding:
        custody = file.custody
        where = Where(file=file.path)
        if custody is None:
            return self.not_assessed(
                file.path,
                f"Nobody looked up what made {file.path}.",
                needs=("records",),
                where=where,
            )
        if custody.state is CustodyState.STALE:
            return self._report_stale(file, custody, evidence)
        if custody.state is CustodyState.UNDECIDED:
            return self._report_undecided(file, custody)
        if custody.maker is None:
            return self._report_handed_in(file, evidence)
        if custody.matched_by is MatchedBy.GEOMETRY:
            return self._report_unrecorded_step(file, custody, evidence)
        return self._judge_accepted(file, custody)

    def _judge_accepted(self, file: DeliveredFile, custody: Custody) -> Finding:
        contradiction = find_contradiction(file)
        if contradiction is not None:
            return self._report_contradiction(file, contradiction)
        return self.conforms(
            file.path,
            f"{_describe_origin(file, custody)}.",
            where=Where(file=file.path),
            required=_REQUIRED,
        )

    def _report_stale(self, file: DeliveredFile, custody: Custody, evidence: Evidence) -> Finding:
        others = _describe_others(file, evidence)
        return self.nonconforming(
            Grade.MAJOR,
            file.path,
            f"{_describe_origin(file, custody)}{others}.",
            observed=_describe_culprit(custody),
            required=_REQUIRED,
            criterion_source=_SOURCE,
            remedy=_find_remedy(file, custody, evidence),
            where=Where(file=file.path),
            catalogue=_STALE,
        )

    def _report_contradiction(self, file: DeliveredFile, found: Contradiction) -> Finding:
        one, other = found.one, found.other
        first, second = found.describe(one), found.describe(other)
        return self.nonconforming(
            Grade.MINOR,
            file.path,
            f"{file.path} has the points of {_name(one)} ({first}) and of {_name(other)} "
            f"({second}), which cannot give the same points: one of the records is wrong.",
            observed=f"{_name(one)}: {first}; {_name(other)}: {second}",
            required="settings that can give the same points",
            criterion_source=_SOURCE,
            remedy="Find out which one made it, and set right the record of the other, its settings"
            f' (swathbook amend {other.id} --set {found.settings[0]}=… --reason "…") or its files',
            where=Where(file=file.path),
            catalogue=_ORPHAN,
        )

    def _report_undecided(self, file: DeliveredFile, custody: Custody) -> Finding:
        culprit = custody.culprit
        name = f"{culprit.kind} {culprit.id}" if culprit else "the run"
        return self.nonconforming(
            Grade.MINOR,
            file.path,
            f"{_describe_maker(file, custody)}, and nobody has decided on {name}.",
            observed=_describe_culprit(custody),
            required=_REQUIRED,
            criterion_source=_SOURCE,
            remedy=f"Decide on {name}, accepted or rejected (swathbook record decision "
            f'{culprit.id if culprit else "RUN"} accepted --reason "…")',
            where=Where(file=file.path),
            catalogue=_STALE,
        )

    def _report_orphan(self, file: DeliveredFile, orphan: Orphan, original: str) -> Finding:
        told = f" ({orphan.told})" if orphan.told else ""
        remedy = f"Record what made {'it' if orphan.alone else 'them'} ({orphan.command})"
        sentence = f"No recorded run or step made {file.path}{told}."
        if original:
            sentence = (
                f"{file.path} is not the file of that name that {original}: it was changed after "
                "that, and no recorded step says how."
            )
            remedy = f"Deliver the file as recorded, or record what changed it ({orphan.command})"
        return self.nonconforming(
            Grade.MINOR,
            file.path,
            sentence,
            observed="no recorded run or step",
            required=_REQUIRED,
            criterion_source=_SOURCE,
            remedy=remedy,
            where=Where(file=file.path),
            catalogue=_ORPHAN,
        )

    def _report_handed_in(self, file: DeliveredFile, evidence: Evidence) -> Finding:
        role = evidence.registered[file.sha256].role
        return self.conforms(
            file.path,
            f"{file.path} was registered as {role}; no run had to make it.",
            where=Where(file=file.path),
            required=_REQUIRED,
        )

    def _report_unrecorded_step(
        self, file: DeliveredFile, custody: Custody, evidence: Evidence
    ) -> Finding:
        used = f" --input {custody.maker.id}" if custody.maker else ""
        return self.nonconforming(
            Grade.OBSERVATION,
            file.path,
            f"{_describe_origin(file, custody)}: only its coordinates are the same, so a step after"
            " it changed other fields and was not recorded.",
            observed="the coordinates of a recorded output, with other fields changed",
            required=_REQUIRED,
            criterion_source=_SOURCE,
            remedy=f"Record what changed it (swathbook record step {_spell(evidence, file)}{used})",
            where=Where(file=file.path),
            catalogue=_ORPHAN,
        )


def _find_kind(file: DeliveredFile) -> Hashable | None:
    """Return what files have alike that are told the same; None for a file that stands alone."""
    custody = file.custody
    if custody is None:
        return ("not looked up",)
    if custody.state is not CustodyState.ACCEPTED or custody.matched_by is not MatchedBy.DIGEST:
        return None
    if find_contradiction(file) is not None:
        return None
    return None if custody.maker is None else ("made by", custody.maker.id)


def _describe_culprit(custody: Custody) -> str:
    culprit = custody.culprit
    return f"{_name(culprit)}, {culprit.decision}" if culprit else str(custody.state)


def _is_orphan(file: DeliveredFile, evidence: Evidence) -> bool:
    """Say whether nobody made a file, and nobody handed it in."""
    if file.custody is None or file.custody.maker is not None:
        return False
    record = evidence.registered.get(file.sha256)
    return file.kind != "raster" or record is None or record.role not in _HANDED_IN


def _describe_origin(file: DeliveredFile, custody: Custody) -> str:
    """Return what made a file and what became of that, without a full stop."""
    sentence = _describe_maker(file, custody)
    decisive = custody.culprit or custody.maker
    if decisive is None:
        return sentence
    return f"{sentence}, which was {describe_decision(decisive)}"


def _describe_maker(file: DeliveredFile, custody: Custody) -> str:
    maker, culprit = custody.maker, custody.culprit
    if maker is None:
        return f"Nothing recorded made {file.path}"
    link = f"{file.path} was made by"
    if custody.matched_by is MatchedBy.POINTS:
        link = f"{file.path} has the points of {custody.recorded_path}, made by"
    elif custody.matched_by is MatchedBy.GEOMETRY:
        link = f"{file.path} has the coordinates of {custody.recorded_path}, made by"
    origin = "" if culprit is None or culprit.id == maker.id else f" from files of {_name(culprit)}"
    return f"{link} {_name(maker)}{origin}"


def _describe_others(file: DeliveredFile, evidence: Evidence) -> str:
    """Say which run made the other files, when one made all or most of them."""
    makers = Counter(_list_accepted_makers(evidence, without=file.path))
    if not makers:
        return ""
    (name, files), *_ = makers.most_common(1)
    others = sum(1 for other in evidence.files if _is_traced(other)) - 1
    if files == others:
        return f"; every other file comes from {name}"
    rest = count_things(others, "other file")
    return f"; {files} of the {rest} {agree(files, 'comes', 'come')} from {name}"


def _list_accepted_makers(evidence: Evidence, without: str = "") -> Iterator[str]:
    for other in evidence.files:
        custody = other.custody
        if other.path != without and _is_traced(other) and custody is not None:
            maker = custody.maker
            if maker is not None and custody.state is CustodyState.ACCEPTED:
                yield _name(maker)


def _find_remedy(file: DeliveredFile, custody: Custody, evidence: Evidence) -> str:
    """Name the file of the same name that the run of the other files made, if there is one."""
    name = PurePosixPath(custody.recorded_path or file.path).name
    makers = Counter(_list_accepted_makers(evidence))
    good = [process for process in evidence.processes if makers[_name(process)]]
    for process in sorted(good, key=lambda process: -makers[_name(process)]):
        for output in process.outputs:
            if PurePosixPath(output.file.path).name in (name, PurePosixPath(file.path).name):
                return f"Replace it with {output.file.path} of {_name(process)}"
    culprit, maker = custody.culprit, custody.maker
    if culprit is not None and maker is not None and culprit.id != maker.id:
        return f"Repeat {_name(maker)} on files of an accepted run and deliver those"
    return "Replace it with the file that an accepted run made"


def _find_originals(evidence: Evidence) -> dict[str, str]:
    """Return which run made a file of a name first, as a clause, by the name.

    Only runs of which other files are delivered count, and only a file that none of those is:
    elsewhere an equal name means nothing.
    """
    makers = set(_list_accepted_makers(evidence))
    delivered = {other.sha256 for other in evidence.files}
    found: dict[str, str] = {}
    for process in evidence.processes:
        if _name(process) in makers:
            for output in process.outputs:
                if output.file.sha256 not in delivered:
                    told = f"{_name(process)} made, {output.file.path}"
                    found.setdefault(PurePosixPath(output.file.path).name, told)
    return found


def _is_traced(file: DeliveredFile) -> bool:
    return file.kind in ("points", "raster")


def _name(process: Process) -> str:
    return f"{process.kind} {process.id}"


def _spell(evidence: Evidence, file: DeliveredFile) -> str:
    """Return the path of a file as it is typed in the job folder; of one in a store, a blank."""
    if is_address(evidence.folder):
        return "PATH"
    return quote_path(f"{evidence.folder}/{file.path}")
