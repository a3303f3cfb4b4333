"""Is it stated anywhere which heights these are, and by which geoid model.

A WKT names the vertical datum but normally no geoid model, so the model may come from the
specification or from the record of the run. Whether the heights are the right ones is judged
elsewhere; here it only counts that nobody has to guess.
"""

from __future__ import annotations

from collections.abc import Hashable, Iterator, Mapping
from typing import Any

from ledger.contract.check import Answer, Plan
from ledger.contract.evidence import DeliveredFile, Evidence
from ledger.dataclass import dataclass
from ledger.model.finding import Finding, Grade, Where
from ledger.model.header import LasHeader
from ledger.model.process import Process
from lidar_checks.header.file_check import LAS_SOURCE, FileCheck, find_crs
from lidar_checks.header.specified import VERTICAL_KEYS, find_specified_vertical
from lidar_checks.settings.chain import find_geoid_makers
from lidar_checks.settings.remedies import write_command
from lidar_checks.settings.stance import NO_GEOID

VERTICAL_SOURCE = f"{LAS_SOURCE}, coordinate reference system; common practice for the geoid"
_NAMES = ("vertical_datum", "output_height_type", "geoid_name")
_ELLIPSOIDAL = "ellipsoidal"
_GEOID_KEYS = ("specification.coordinates.geoid", "run.geoid_name")

Runs = tuple[Process, ...]


class VerticalPlan(Plan):
    """A plan that knows what gave each file its heights."""

    def __init__(self, plan: Plan, evidence: Evidence) -> None:
        """Take over a plan, and find what made the heights of all files once."""
        super().__init__(plan.criteria, plan.lattice)
        makers = find_geoid_makers(evidence)
        # What made a file hangs on its custody, which a file without a name still has.
        self._makers = {id(file.custody): makers[file.path] for file in evidence.files}

    def list_makers(self, file: DeliveredFile) -> Runs:
        """Return the runs and steps that gave a file its heights."""
        return self._makers.get(id(file.custody), ())


@dataclass(frozen=True)
class _Statement:
    """Something that says which heights these are.

    Args:
        words: what is said and by whom, for a sentence.
        proves: a check may pass on it.
        remedy: what makes it prove something; empty where it does.
    """

    words: str
    proves: bool
    remedy: str = ""


class VerticalDatum(FileCheck):
    """Vertical datum and geoid model are stated."""

    id = "vertical-datum"
    title = "Vertical datum and geoid model are stated"
    catalogue = ("VD-06",)
    revision = 5
    fields = tuple(f"{kind}.{name}" for kind in ("run", "step") for name in _NAMES)
    specification_keys = (
        *VERTICAL_KEYS,
        "coordinates.vertical",
        "coordinates.geoid.name",
    )
    always_required = True
    rests_on = ("crs",)

    def finish(
        self, plan: Plan, summaries: Mapping[str, Any], evidence: Evidence
    ) -> Iterator[Answer]:
        """Judge the files beside the runs that made them.

        Whether the geoid grid that the job names is there is told by the audit itself.
        """
        yield from super().finish(VerticalPlan(plan, evidence), summaries, evidence)

    def find_kind(self, file: DeliveredFile, header: LasHeader, plan: Plan) -> Hashable | None:
        """Return what files have alike whose heights the same runs made."""
        runs = plan.list_makers(file) if isinstance(plan, VerticalPlan) else ()
        kind = super().find_kind(file, header, plan)
        return None if kind is None else (kind, *(run.id for run in runs))

    def judge(
        self, file: DeliveredFile, header: LasHeader, plan: Plan, evidence: Evidence
    ) -> Iterator[Finding]:
        """Return whether the heights of one file are explained."""
        del header
        runs = plan.list_makers(file) if isinstance(plan, VerticalPlan) else ()
        crs = find_crs(file)
        if crs is None or crs.vertical is None:
            yield self._judge_silent_header(file, runs, evidence)
        elif crs.vertical.is_ellipsoidal:
            yield self.conforms(
                file.path,
                f"{file.path} states heights above the ellipsoid ({crs.vertical.name}), which "
                "need no geoid.",
                where=Where(file.path),
            )
        else:
            models = _list_geoids(crs.vertical.geoid, runs, evidence)
            yield self._judge_geoid(file, crs.vertical.name, models)

    def _judge_silent_header(self, file: DeliveredFile, runs: Runs, evidence: Evidence) -> Finding:
        """Judge a header without a vertical part by what is stated elsewhere."""
        if evidence.specification.coordinates.vertical == "site":
            return self.conforms_if_confirmed(
                evidence,
                ["coordinates.vertical"],
                file.path,
                f"{file.path} has site heights, as the job asks; no header can name them.",
                where=Where(file.path),
            )
        statements = [*_list_asked(evidence), *_list_recorded(runs)]
        if not statements:
            return self.not_assessed(
                file.path,
                f"{file.path}: neither its header nor job.toml nor a run says which heights "
                "these are.",
                ("specification.coordinates.vertical", "run.vertical_datum"),
                where=Where(file.path),
            )
        words = ", ".join(statement.words for statement in statements)
        told = f"{file.path} does not say which heights it holds ({words})"
        known = [*_list_ellipsoidal(runs, evidence), *_list_geoids("", runs, evidence)]
        if not known:
            return self.not_assessed(
                file.path,
                f"{told}, and no geoid model is named in job.toml or in a run.",
                _GEOID_KEYS,
                where=Where(file.path),
            )
        if not any(statement.proves for statement in known):
            return self.inconclusive(
                file.path,
                f"{told}, and nobody confirmed {known[0].words}.",
                remedy=known[0].remedy,
                where=Where(file.path),
            )
        return self.nonconforming(
            Grade.MINOR,
            file.path,
            f"{told}; who receives it has to guess.",
            observed="no vertical datum in the header",
            required=statements[0].words,
            criterion_source=VERTICAL_SOURCE,
            remedy="Export again with the vertical datum in the coordinate system record.",
            where=Where(file.path),
        )

    def _judge_geoid(self, file: DeliveredFile, datum: str, models: list[_Statement]) -> Finding:
        """Judge a header that names a vertical datum: is the geoid model known too?"""
        if not models:
            return self.not_assessed(
                file.path,
                f"{file.path} states {datum}, but no geoid model is named in the header, in "
                "job.toml or in a run.",
                _GEOID_KEYS,
                where=Where(file.path),
            )
        proven = [model for model in models if model.proves]
        told = f"{file.path} states {datum}; geoid {(proven or models)[0].words}."
        if proven:
            return self.conforms(file.path, told, where=Where(file.path))
        return self.inconclusive(
            file.path,
            f"{told} But nobody confirmed that geoid.",
            remedy=models[0].remedy,
            where=Where(file.path),
        )


def _list_asked(evidence: Evidence) -> Iterator[_Statement]:
    """Yield what job.toml says about heights."""
    coordinates = evidence.specification.coordinates
    vertical = find_specified_vertical(evidence)
    if vertical is not None:
        yield _Statement(f"{vertical.name} by job.toml", proves=True)
    elif coordinates.vertical is not None:
        yield _Statement(f"{coordinates.vertical} by job.toml", proves=True)
    if coordinates.geoid is not None:
        yield _Statement(f"geoid {coordinates.geoid.name} by job.toml", proves=True)


def _list_recorded(runs: Runs) -> Iterator[_Statement]:
    """Yield what the runs and steps behind a file say about heights."""
    for run in runs:
        for name in _NAMES:
            value = run.find_value(name)
            if value is not None:
                label = "geoid " if name == "geoid_name" else ""
                yield _Statement(f"{label}{value.value} by {run.id}", value.can_prove)


def _list_ellipsoidal(runs: Runs, evidence: Evidence) -> Iterator[_Statement]:
    """Yield who says that heights are above the ellipsoid, which needs no geoid: the job first."""
    coordinates = evidence.specification.coordinates
    vertical = find_specified_vertical(evidence)
    if vertical is not None or coordinates.vertical is not None:
        key = "coordinates.horizontal" if coordinates.vertical is None else "coordinates.vertical"
        is_ellipsoidal = (
            vertical.is_ellipsoidal
            if vertical is not None
            else coordinates.vertical == _ELLIPSOIDAL
        )
        if is_ellipsoidal:
            confirmed = evidence.specification.is_confirmed(key)
            remedy = f"Look at {key} in job.toml; if right, delete it from carried."
            yield _Statement("ellipsoidal heights by job.toml", confirmed, remedy)
        return
    for run in runs:
        value = run.find_value("output_height_type")
        if value is not None and value.value == _ELLIPSOIDAL:
            remedy = _tell_to_look_up(run, "output_height_type")
            yield _Statement(f"ellipsoidal heights by {run.id}", value.can_prove, remedy)


def _list_geoids(named: str, runs: Runs, evidence: Evidence) -> list[_Statement]:
    """Return who names a geoid model."""
    found = [_Statement(f"{named} by the header", proves=True)] if named else []
    asked = evidence.specification.coordinates.geoid
    if asked is not None:
        confirmed = evidence.specification.is_confirmed("coordinates.geoid.name")
        remedy = "Look at coordinates.geoid in job.toml; if right, delete it from carried."
        found.append(_Statement(f"{asked.name} by job.toml", confirmed, remedy))
    return found + [statement for run in runs for statement in _name_geoid(run)]


def _name_geoid(run: Process) -> Iterator[_Statement]:
    value = run.find_value("geoid_name")
    if value is not None and str(value.value).strip().casefold() != NO_GEOID:
        remedy = _tell_to_look_up(run, "geoid_name")
        yield _Statement(f"{value.value} by {run.id}", value.can_prove, remedy)


def _tell_to_look_up(run: Process, name: str) -> str:
    return f"Look it up ({write_command(run.id, run.kind, (f'{run.kind}.{name}',))})"
