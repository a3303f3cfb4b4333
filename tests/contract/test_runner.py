"""Running checks: one pass, broken checks dropped, and no gap that looks like a pass."""

from __future__ import annotations

import hashlib
import json
import sys
from collections.abc import Callable, Iterable, Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

import laspy
import numpy as np
import pytest
from open_data import OpenFile

from ledger.contract import passing
from ledger.contract.check import Check, Criteria, Plan, PointCheck
from ledger.contract.enabled import EnabledCheck
from ledger.contract.evidence import DeliveredFile, Evidence
from ledger.contract.guard import Guard
from ledger.contract.hearing import Heard
from ledger.contract.runner import Runner
from ledger.errors import SwathbookError
from ledger.fingerprint import DIMENSIONS, Fingerprint
from ledger.lasheader import read_las_header
from ledger.lattice import DEGREE_LATTICE, LENGTH_LATTICE, choose_common_lattice
from ledger.model.artefact import FileRecord
from ledger.model.ask import NoProgress
from ledger.model.audit import WHOLE_DELIVERY, Criterion, Plugin, Source
from ledger.model.boundary import Boundary
from ledger.model.finding import Finding, Grade, Outcome, Where
from ledger.model.known import KnownValue
from ledger.model.process import Decision, Process
from ledger.model.specification import Specification
from ledger.points import read_points
from ledger.specfile.reading import parse_specification
from ledger.testing import Layout, SurveyBuilder, make_table

PLUGIN = Plugin("stranger", "4.2", "ab" * 32, "stranger")


CHECKPOINTS = FileRecord("checks.csv", "ab", 1, 1, "checkpoints")
NO_PLACE = "boundary: no place"
BOUNDARY = b"[delivery]\nboundary = 'site.geojson'\n"
UNKNOWN_KEY = "specification.delivery.nonsense: it is blank in job.toml"


class _Counter:
    """A tally that counts points, and slices by their length."""

    def __init__(self) -> None:
        self.points = 0
        self.longest = 0

    def chunk(self, points: Any) -> None:
        self.points += len(points)
        self.longest = max(self.longest, len(points))

    def merge(self, other: _Counter) -> None:
        self.points += other.points
        self.longest = max(self.longest, other.longest)

    def close(self) -> tuple[int, int]:
        return self.points, self.longest


class _Points(PointCheck):
    """Counts the points of every file, and says nothing of those it did not see."""

    id = "points-counted"
    title = "Points are counted"

    def start(self, plan: Plan, file: DeliveredFile) -> Any:
        return _Counter()

    def finish(
        self, plan: Plan, summaries: Mapping[str, Any], evidence: Evidence
    ) -> Iterable[Finding]:
        for path, (points, longest) in summaries.items():
            yield self.conforms(path, "Counted.", observed=f"{points} {longest}")


class _Total(_Points):
    """Passes the delivery as a whole, whatever it saw of it."""

    id = "total"

    def finish(
        self, plan: Plan, summaries: Mapping[str, Any], evidence: Evidence
    ) -> Iterable[Finding]:
        total = sum(points for points, _ in summaries.values())
        yield self.conforms(WHOLE_DELIVERY, "All is well.", observed=str(total))


class _Record(Check):
    """Answers from a function, for checks that read no points."""

    id = "record"
    title = "A record"

    def __init__(self, answer: Callable[[Check, Evidence], Any]) -> None:
        self.answer = answer

    def finish(
        self, plan: Plan, summaries: Mapping[str, Any], evidence: Evidence
    ) -> Iterable[Finding]:
        answered: Iterable[Finding] = self.answer(self, evidence)
        return answered


def enable(check: Check, **parts: Any) -> EnabledCheck:
    """Return a check as an audit enables it, with the defaults of its criteria."""
    return EnabledCheck(**{"check": check, "plugin": PLUGIN, "criteria": check.criteria(), **parts})


def describe(path: Path) -> DeliveredFile:
    """Return a file with its header, or with the reason why it has none."""
    content = path.read_bytes()
    file = DeliveredFile(path.name, hashlib.sha256(content).hexdigest(), len(content), "points")
    try:
        return replace(file, header=read_las_header(path))
    except SwathbookError as error:
        return replace(file, header_fault=str(error))


def make_evidence(paths: Iterable[Path] = (), **parts: Any) -> Evidence:
    """Return evidence about some files."""
    files = tuple(describe(path) for path in sorted(paths))
    lattice = choose_common_lattice(file.header for file in files if file.header)
    return Evidence(
        **{
            "folder": "out",
            "specification": Specification(),
            "files": files,
            "lattice": lattice,
            **parts,
        }
    )


def audit(
    checks: Iterable[EnabledCheck | Check], paths: Iterable[Path], **parts: Any
) -> tuple[tuple[Finding, ...], dict[str, Any]]:
    """Run checks over files as a full audit does; return findings and readings."""
    listed = list(paths)
    evidence = make_evidence(listed, **parts)
    runner = Runner([each if isinstance(each, EnabledCheck) else enable(each) for each in checks])
    runner.judge_records(evidence)
    readings = runner.read_points(evidence, {path.name: path for path in listed}, NoProgress())
    return runner.judge_all(evidence), readings


def judge(*checks: EnabledCheck | Check, **parts: Any) -> tuple[Finding, ...]:
    """Run checks that read no points."""
    runner = Runner([each if isinstance(each, EnabledCheck) else enable(each) for each in checks])
    return runner.judge_all(make_evidence(**parts))


def by_check(findings: Iterable[Finding], name: str) -> list[Finding]:
    """Return the findings of one check."""
    return [finding for finding in findings if finding.check == name]


@pytest.fixture
def survey(tmp_path: Path) -> SurveyBuilder:
    """Return a survey of four small tiles."""
    return SurveyBuilder(tmp_path / "out", Layout(compressed=False))


# The pass.


def test_every_point_is_handed_on_once(survey: SurveyBuilder, monkeypatch) -> None:
    """A check sees every point of every file, as laspy does, in slices of bounded size."""
    monkeypatch.setattr(passing, "CHUNK_POINTS", 1000)
    monkeypatch.setattr(passing, "SLICE_POINTS", 300)
    findings, readings = audit([_Points()], survey.paths)
    for path in survey.paths:
        points = len(laspy.read(path).points)
        observed = next(f.observed for f in findings if f.subject == path.name)
        assert observed == f"{points} 300"
        assert readings[path.name].facts.decoded == points


def test_slices_do_not_change_what_is_found(survey: SurveyBuilder, monkeypatch) -> None:
    """Counts, box and fingerprint are the same in one slice and in many."""
    _, whole = audit([_Points()], survey.paths)
    monkeypatch.setattr(passing, "CHUNK_POINTS", 777)
    monkeypatch.setattr(passing, "SLICE_POINTS", 50)
    _, cut = audit([_Points()], survey.paths)
    assert whole == cut


def test_census_agrees_with_laspy(open_file: OpenFile) -> None:
    """Count, counts by return and box are those of laspy 2.7, on open files of all formats."""
    names = ("1.2-with-color.las", "test1_4.las", "plane.laz", "autzen.las", "1815.las")
    paths = [open_file(f"las/{name}") for name in names]
    _, readings = audit([], paths)
    for path in paths:
        las = laspy.read(path)
        facts = readings[path.name].facts
        returns = np.bincount(np.asarray(las.return_number), minlength=16)
        assert facts.decoded == len(las.points)
        assert facts.by_return == tuple(returns.tolist())
        for axis, low, high in zip("xyz", facts.minimum or (), facts.maximum or (), strict=True):
            values = np.asarray(las[axis])
            assert low == pytest.approx(values.min(), abs=5.1e-5)
            assert high == pytest.approx(values.max(), abs=5.1e-5)


def test_fingerprint_is_that_of_the_file_alone(survey: SurveyBuilder) -> None:
    """The pass gives the fingerprint that the file has by itself, on its own lattice."""
    _, readings = audit([_Points()], survey.paths)
    path = survey.paths[0]
    alone = Fingerprint(LENGTH_LATTICE)
    for chunk in read_points(path, read_las_header(path), LENGTH_LATTICE, DIMENSIONS):
        alone.add(chunk)
    assert readings[path.name].fingerprint == alone.value()
    assert readings[path.name].fingerprint.full


def test_degrees_among_metres_keep_their_fingerprint(tmp_path: Path, open_file: OpenFile) -> None:
    """A file in degrees has the same fingerprint alone and in a delivery of files in metres."""
    degrees = open_file("las/epsg_4326.las")
    assert choose_common_lattice([read_las_header(degrees)]) == DEGREE_LATTICE
    metres = SurveyBuilder(tmp_path / "out", Layout(compressed=False)).paths[0]
    _, alone = audit([_Points()], [degrees])
    _, mixed = audit([_Points()], [degrees, metres])
    assert mixed[degrees.name].fingerprint == alone[degrees.name].fingerprint


def test_progress_counts_points(survey: SurveyBuilder) -> None:
    """Progress is told the points that the headers state, and then each of them."""
    seen: list[tuple[str, int, str] | int] = []

    class Watch(NoProgress):
        def start(self, label: str, total: int, unit: str) -> None:
            seen.append((label, total, unit))

        def advance(self, amount: int) -> None:
            seen.append(amount)

    evidence = make_evidence(survey.paths)
    Runner([]).read_points(evidence, {path.name: path for path in survey.paths}, Watch())
    assert seen[0] == ("reading points", survey.count_points(), "points")
    assert sum(amount for amount in seen if isinstance(amount, int)) == survey.count_points()


# What cannot be read.


@pytest.mark.parametrize("compressed", [False, True])
def test_a_damaged_file_is_no_pass_and_stops_no_other(tmp_path: Path, compressed: bool) -> None:
    """A cut file has a fault and is *not assessed* by every check of points; the others go on."""
    survey = SurveyBuilder(tmp_path / "out", Layout(compressed=compressed))
    bad = survey.paths[1].name
    survey.cut_share(1, 0.6)
    findings, readings = audit([_Points(), _Total()], survey.paths)
    assert readings[bad].facts.fault
    assert readings[bad].fingerprint is None
    assert all(reading.facts.fault == "" for path, reading in readings.items() if path != bad)
    assert len(by_check(findings, "points-counted")) == len(survey.paths)
    for name in ("points-counted", "total"):
        gap = next(f for f in by_check(findings, name) if f.subject == bad)
        assert gap.outcome is Outcome.NOT_ASSESSED
        assert gap.needs[0].startswith("points: ")
        assert gap.where.file == bad


def test_a_file_without_header_is_not_assessed(survey: SurveyBuilder) -> None:
    """A file whose header cannot be read is *not assessed* by every check of points."""
    survey.bad_signature(0)
    findings, readings = audit([_Points()], survey.paths)
    bad = survey.paths[0].name
    assert bad not in readings
    assert next(f for f in findings if f.subject == bad).outcome is Outcome.NOT_ASSESSED


def test_where_nothing_could_be_read_nothing_conforms(survey: SurveyBuilder) -> None:
    """With every file damaged no check may speak for the delivery."""
    for tile in range(len(survey.paths)):
        survey.bad_signature(tile)
    findings, _ = audit([_Total()], survey.paths)
    assert {finding.outcome for finding in findings} == {Outcome.NOT_ASSESSED}
    assert len(findings) == len(survey.paths)


def test_a_check_that_tells_of_the_gap_itself_is_not_doubled(survey: SurveyBuilder) -> None:
    """Where the check itself says *not assessed* of a file, the runner does not repeat it."""
    survey.bad_signature(0)

    class Careful(_Points):
        id = "careful"

        def finish(self, plan: Any, summaries: Any, evidence: Evidence) -> Iterable[Finding]:
            for file in evidence.files:
                if file.path not in summaries:
                    yield self.not_assessed(file.path, "Not seen.", ("points",))
                else:
                    yield self.conforms(file.path, "Seen.")

    findings, _ = audit([Careful()], survey.paths)
    assert len(findings) == len(survey.paths)


def test_a_field_that_the_format_lacks_is_not_assessed(tmp_path: Path) -> None:
    """Point format 0 has no GPS time (LAS 1.4 R15, table 7): not assessed, and named so."""
    survey = SurveyBuilder(tmp_path / "out", Layout(compressed=False))
    survey.set_layout(0, version="1.2", point_format=0, crs="EPSG:6346", records="geotiff")

    class Times(_Points):
        id = "times"
        dimensions = frozenset({"gps_time"})

    class Maybe(_Points):
        id = "maybe"
        optional_dimensions = frozenset({"gps_time"})

    findings, _ = audit([Times(), Maybe()], survey.paths)
    bad = survey.paths[0].name
    gap = next(f for f in by_check(findings, "times") if f.subject == bad)
    assert gap.needs == ("gps_time: point format 0 does not hold it",)
    assert len(by_check(findings, "times")) == len(survey.paths)
    assert {f.outcome for f in by_check(findings, "maybe")} == {Outcome.CONFORMS}


# Checks that break.


class Panic(BaseException):
    """What a compiled library may raise: no `Exception`."""


class _Breaks(_Points):
    """Raises in one phase."""

    id = "breaks"

    def __init__(self, phase: str, error: BaseException) -> None:
        self.phase, self.error = phase, error

    def fail(self, phase: str) -> None:
        if phase == self.phase:
            raise self.error

    def prepare(self, evidence: Evidence, criteria: Criteria) -> Plan:
        self.fail("prepare")
        return super().prepare(evidence, criteria)

    def start(self, plan: Plan, file: DeliveredFile) -> Any:
        self.fail("start")
        check = self

        class Fails(_Counter):
            def chunk(self, points: Any) -> None:
                check.fail("chunk")
                super().chunk(points)

            def close(self) -> tuple[int, int]:
                check.fail("close")
                return super().close()

        return Fails()

    def finish(self, plan: Any, summaries: Any, evidence: Evidence) -> Iterable[Finding]:
        yield from super().finish(plan, summaries, evidence)
        self.fail("finish")


@pytest.mark.parametrize("phase", ["prepare", "start", "chunk", "close", "finish"])
@pytest.mark.parametrize("error", [ValueError("seven"), SystemExit("bye"), Panic("index")])
def test_a_check_that_raises_is_dropped(
    survey: SurveyBuilder, phase: str, error: BaseException
) -> None:
    """In whatever phase it raises, there is one *errored* finding, and the others are as before."""
    alone, _ = audit([_Points()], survey.paths)
    findings, readings = audit([_Breaks(phase, error), _Points()], survey.paths)
    (broken,) = by_check(findings, "breaks")
    assert broken.outcome is Outcome.ERRORED
    for part in (f"in {phase}", type(error).__name__, str(error), "stranger 4.2"):
        assert part in broken.sentence
    assert by_check(findings, "points-counted") == list(alone)
    assert all(reading.fingerprint for reading in readings.values())


@pytest.mark.parametrize("phase", ["prepare", "start", "chunk", "close", "finish"])
def test_ctrl_c_in_a_check_interrupts(survey: SurveyBuilder, phase: str) -> None:
    """An interruption is never taken for a mistake of the check."""
    with pytest.raises(KeyboardInterrupt):
        audit([_Breaks(phase, KeyboardInterrupt())], survey.paths)


def test_an_exception_whose_text_raises_is_told_by_its_type(survey: SurveyBuilder) -> None:
    """A broken message of a broken check does not break the audit."""

    class NastyError(Exception):
        def __str__(self) -> str:
            raise RuntimeError

    findings, _ = audit([_Breaks("chunk", NastyError())], survey.paths)
    assert "NastyError" in findings[0].sentence


def test_no_check_can_alter_what_the_next_one_sees(survey: SurveyBuilder) -> None:
    """Writing to a slice fails, and only the check that tried is dropped."""

    class Vandal(_Points):
        id = "a-vandal"

        def start(self, plan: Plan, file: DeliveredFile) -> Any:
            class Writes(_Counter):
                def chunk(self, points: Any) -> None:
                    points.z[:] = 0

            return Writes()

    findings, _ = audit([Vandal(), _Points()], survey.paths)
    assert by_check(findings, "a-vandal")[0].outcome is Outcome.ERRORED
    assert len(by_check(findings, "points-counted")) == len(survey.paths)


@pytest.mark.parametrize(
    ("method", "answer", "part"),
    [
        ("prepare", None, "prepare returned no plan"),
        ("start", 7, "start returned no tally"),
        ("finish", None, "TypeError"),
    ],
)
def test_rubbish_from_a_phase_drops_the_check(
    survey: SurveyBuilder, method: str, answer: object, part: str
) -> None:
    """A phase that returns something else is a mistake of the check."""
    check = type("Rubbish", (_Points,), {"id": "rubbish", method: lambda *parts: answer})()
    (found,) = audit([check], survey.paths)[0]
    assert found.outcome is Outcome.ERRORED
    assert part in found.sentence


@pytest.mark.parametrize(
    "answer",
    [
        lambda check: ["all fine"],
        lambda check: [None],
        lambda check: [replace(check.conforms("x", "y"), check="other-check")],
        lambda check: [replace(check.conforms("x", "y"), grade=Grade.MAJOR)],
        lambda check: [Finding("record", Outcome.NONCONFORMING, "x", "y")],
        lambda check: [Finding("record", Outcome.ERRORED, "x", "y")],
        lambda check: [Finding("record", Outcome.NOT_ASSESSED, "x", "y")],
        lambda check: [Finding("record", "conforms", "x", "y")],  # type: ignore[arg-type]
        lambda check: [check.conforms("x", "")],
        lambda check: [check.conforms("", "y")],
        lambda check: [check.conforms("x", "y", observed=7)],
        lambda check: [check.conforms("x", "y", catalogue="FT-05")],
        lambda check: [check.conforms("x", "y", where="tile.las")],
        lambda check: [check.conforms("x", "y", where=Where(xy=(1.0, float("nan"))))],
        lambda check: [check.conforms("x", "y", where=Where(time_span=("a", 2)))],  # type: ignore[arg-type]
        lambda check: [check.conforms("x", "y", where=Where(strips=(2,)))],  # type: ignore[arg-type]
    ],
)
def test_a_finding_that_contradicts_itself_drops_the_check(answer: Any) -> None:
    """What is no finding, speaks for another check or has a wrong grade is no answer."""
    (found,) = judge(_Record(lambda check, _: answer(check)))
    assert found.outcome is Outcome.ERRORED


def test_silence_is_no_pass() -> None:
    """A check that answers nothing is *inconclusive*."""
    (found,) = judge(_Record(lambda *_: ()))
    assert found.outcome is Outcome.INCONCLUSIVE
    assert found.subject == WHOLE_DELIVERY


@pytest.mark.parametrize("stream", ["stdout", "stderr"])
def test_what_a_check_prints_is_left_out(survey: SurveyBuilder, capsys, stream: str) -> None:
    """In every phase, whichever stream it takes; the lines are counted."""

    class Chatty(_Breaks):
        def fail(self, phase: str) -> None:
            getattr(sys, stream).write(f"printed in {phase}\n")

    guard = Guard()
    evidence = make_evidence(survey.paths)
    runner = Runner([enable(Chatty("", ValueError()))], guard)
    runner.read_points(evidence, {path.name: path for path in survey.paths}, NoProgress())
    runner.judge_all(evidence)
    assert capsys.readouterr() == ("", "")
    # Prepare and finish once; start, chunk and close once for each of the two files.
    assert guard.heard == {("stranger", "4.2"): Heard(8, "printed in prepare")}


def test_a_check_of_records_that_raises_in_prepare_is_dropped() -> None:
    """Without points too, a check that raises before it answers is *errored*."""

    class Unprepared(_Record):
        def prepare(self, evidence: Evidence, criteria: Criteria) -> Plan:
            raise LookupError("no such thing")

    (found,) = judge(Unprepared(lambda c, _: [c.conforms("x", "y")]))
    assert found.outcome is Outcome.ERRORED
    assert "in prepare" in found.sentence
    assert "LookupError: no such thing" in found.sentence


def test_a_long_message_is_cut(survey: SurveyBuilder) -> None:
    """A message of any length stays one line."""
    findings, _ = audit([_Breaks("start", ValueError("long\n" * 1000))], survey.paths)
    assert "\n" not in findings[0].sentence
    assert len(findings[0].sentence) < 500


def test_a_tally_that_is_false_is_fed_all_the_same(survey: SurveyBuilder) -> None:
    """An empty tally may be false in Python's eyes; it sees every point nevertheless."""

    class Empty(_Counter):
        def __len__(self) -> int:
            return 0

    check = type("Shy", (_Points,), {"id": "shy", "start": lambda *_: Empty()})()
    findings, _ = audit([check], survey.paths)
    assert {finding.outcome for finding in findings} == {Outcome.CONFORMS}


def test_an_empty_file_is_read_and_has_no_box(survey: SurveyBuilder) -> None:
    """A file without a point is whole: nothing counted, no box, and a tally that saw nothing."""
    survey.empty_tile(0)
    findings, readings = audit([_Points()], survey.paths)
    facts = readings[survey.paths[0].name].facts
    assert (facts.decoded, facts.minimum, facts.maximum, facts.fault) == (0, None, None, "")
    assert sum(facts.by_return) == 0
    assert next(f for f in findings if f.subject == survey.paths[0].name).observed == "0 0"


# Needs and order.


def test_a_quick_audit_assesses_no_check_of_points(survey: SurveyBuilder) -> None:
    """Every check of points is *not assessed* in a quick audit, and says why."""

    class Reads(_Record):
        id = "reads"
        needs = ("points",)

    runner = Runner([enable(_Points()), enable(Reads(lambda *_: 1 / 0))])
    findings = runner.judge_all(make_evidence(survey.paths, quick=True))
    assert {finding.check for finding in findings} == {"points-counted", "reads"}
    assert {finding.needs for finding in findings} == {("points: a quick audit reads none",)}


def test_checks_of_points_wait_for_the_pass(survey: SurveyBuilder) -> None:
    """Before the pass only checks of records are asked, and what waits for points waits too."""

    class Follower(_Record):
        id = "follower"
        after = ("points-counted",)

    checks = [_Points(), _Record(lambda c, _: [c.conforms("x", "y")]), Follower(lambda *_: ())]
    runner = Runner([enable(check) for check in checks])
    assert runner.pending == {"points-counted", "follower"}
    first = runner.judge_records(make_evidence(survey.paths))
    assert [finding.check for finding in first] == ["record"]


def test_a_check_sees_what_it_waits_for_and_nothing_else() -> None:
    """Findings of the checks named in `after` are there, in whatever order checks are given."""
    seen: dict[str, Any] = {}

    class Last(_Record):
        id = "a-last"
        after = ("record", "not-installed")

    def look(check: Check, evidence: Evidence) -> Iterable[Finding]:
        seen.update(evidence.results)
        return [check.conforms("x", "y")]

    class Other(_Record):
        id = "other"

    findings = judge(
        Last(look),
        _Record(lambda c, _: [c.nonconforming(Grade.MINOR, "x", "y")]),
        Other(lambda c, _: [c.conforms("x", "y")]),
    )
    assert list(seen) == ["record"]
    assert seen["record"] == tuple(by_check(findings, "record"))


def test_checks_of_records_are_asked_again_after_the_pass(survey: SurveyBuilder) -> None:
    """What the points showed counts: the last answer stands."""
    answers: list[bool] = []

    def look(check: Check, evidence: Evidence) -> Iterable[Finding]:
        answers.append(evidence.files[0].reading is not None)
        return [check.conforms("x", str(answers[-1]))]

    runner = Runner([enable(_Record(look))])
    evidence = make_evidence(survey.paths)
    runner.judge_records(evidence)
    readings = runner.read_points(evidence, {p.name: p for p in survey.paths}, NoProgress())
    files = tuple(replace(f, reading=readings[f.path].facts) for f in evidence.files)
    (found,) = runner.judge_all(replace(evidence, files=files))
    assert answers == [False, True]
    assert found.sentence == "True"


UNDECLARED = (
    "checkpoints: nobody said what the columns of checks.csv are "
    "(swathbook record points checks.csv)"
)


@pytest.mark.parametrize(
    ("need", "parts", "unmet"),
    [
        ("records", {}, "records: no run is recorded in this job"),
        ("records", {"recorded": 1}, ""),
        ("headers", {}, "headers: there is no point file with a readable header in the folder"),
        ("boundary", {}, "boundary: delivery.boundary is blank"),
        ("checkpoints", {}, "checkpoints: no file of the role checkpoints is in this job"),
        (
            "checkpoints",
            {"registered": {"ab": CHECKPOINTS}},
            UNDECLARED,
        ),
        (
            "checkpoints",
            {"tables": (make_table((), "control"),)},
            "checkpoints: no file of the role checkpoints is in this job",
        ),
        ("checkpoints", {"tables": (make_table(()),)}, ""),
        (
            "boundary",
            {"specification": parse_specification(BOUNDARY)},
            "boundary: site.geojson was not found",
        ),
        ("boundary", {"boundary": Boundary("site.geojson", "ab", fault="no place")}, NO_PLACE),
        ("boundary", {"boundary": Boundary("site.geojson", "ab")}, ""),
        ("geoid-grid", {}, "geoid-grid: coordinates.geoid names no file"),
        ("specification.delivery.boundary", {"specification": parse_specification(BOUNDARY)}, ""),
        ("specification.delivery.nonsense", {}, UNKNOWN_KEY),
        (
            "specification.coordinates.vertical",
            {},
            "specification.coordinates.vertical: it is blank in job.toml",
        ),
        ("run.mount_mode", {}, "run.mount_mode: it is in no record behind this delivery"),
        ("crystal-ball", {}, "crystal-ball: this version knows no such input"),
    ],
)
def test_an_unmet_need_is_named(need: str, parts: dict[str, Any], unmet: str) -> None:
    """A check whose input is missing is *not assessed* with the input and the reason."""

    class Needy(_Record):
        needs = (need,)

    (found,) = judge(Needy(lambda c, _: [c.conforms("x", "y")]), **parts)
    assert found.needs == ((unmet,) if unmet else ())
    assert found.outcome is (Outcome.NOT_ASSESSED if unmet else Outcome.CONFORMS)


def test_a_recorded_field_meets_its_need() -> None:
    """A field that a run behind the delivery holds is there for the check."""

    class Needy(_Record):
        needs = ("run.mount_mode",)

    values = {"run.mount_mode": KnownValue("drone")}
    run = Process("R1", "run", "", 3, "", "technician", Decision.ACCEPTED, 3, "", values)
    (found,) = judge(Needy(lambda c, _: [c.conforms("R1", "y")]), processes=(run,))
    assert found.outcome is Outcome.CONFORMS


def test_headers_are_there_when_one_can_be_read(survey: SurveyBuilder) -> None:
    """One readable header meets the need; none does not."""

    class Needy(_Record):
        needs = ("headers",)

    check = enable(Needy(lambda c, _: [c.conforms("x", "y")]))
    survey.bad_signature(0)
    (found,) = Runner([check]).judge_all(make_evidence(survey.paths))
    assert found.outcome is Outcome.CONFORMS
    survey.bad_signature(1)
    (found,) = Runner([check]).judge_all(make_evidence(survey.paths))
    assert found.outcome is Outcome.NOT_ASSESSED


def test_a_blank_criterion_is_not_assessed() -> None:
    """A criterion without default and value leaves the check unassessed, by its key."""
    blank = Criterion("min_pts_per_m2", None, Source.BLANK)
    each = enable(_Record(lambda c, _: [c.conforms("x", "y")]), criteria=None, applied=(blank,))
    (found,) = judge(each)
    assert found.outcome is Outcome.NOT_ASSESSED
    assert found.needs[0].startswith("criteria.record.min_pts_per_m2: ")


def test_a_carried_criterion_can_fail_but_not_pass() -> None:
    """On a criterion that nobody confirmed a pass is *inconclusive*, a failure stays one."""
    carried = ("criteria.record.limit_m",)
    passing_check = _Record(lambda c, _: [c.conforms("x", "It holds.")])
    (found,) = judge(enable(passing_check, unconfirmed=carried))
    assert found.outcome is Outcome.INCONCLUSIVE
    assert "criteria.record.limit_m" in found.sentence
    failing = _Record(lambda c, _: [c.nonconforming(Grade.MAJOR, "x", "It fails.")])
    (found,) = judge(enable(failing, unconfirmed=carried))
    assert found.grade is Grade.MAJOR


# What the runner adds.


def test_findings_carry_plugin_revision_criterion_and_bytes(survey: SurveyBuilder) -> None:
    """A finding about a file carries what an acceptance depends on, and its file as the place."""
    path = survey.paths[1]
    applied = (
        Criterion("limit_m", "0.05", Source.OWN),
        Criterion("cell_m", "1", Source.DEFAULT, "common practice, no source"),
    )

    class Versioned(_Record):
        revision = 7

    check = Versioned(lambda c, _: [c.nonconforming(Grade.MINOR, path.name, "Off.", required="1")])
    evidence = make_evidence(survey.paths, quick=True)
    (found,) = Runner([enable(check, applied=applied)]).judge_all(evidence)
    assert (found.plugin, found.revision) == ("stranger", 7)
    assert found.where.file == path.name
    assert found.digests == (hashlib.sha256(path.read_bytes()).hexdigest(),)
    assert json.loads(found.criterion) == {"limit_m": "0.05", "cell_m": "1"}
    assert found.criterion_source == (
        "limit_m: job.toml; cell_m: default: common practice, no source"
    )


def test_a_plan_knows_where_its_criteria_come_from() -> None:
    """A check can name the source of each criterion in its own findings."""
    plans: list[Plan] = []

    class Planned(_Record):
        def finish(self, plan: Plan, summaries: Any, evidence: Evidence) -> Iterable[Finding]:
            plans.append(plan)
            yield self.conforms("x", "y")

    judge(
        enable(
            Planned(lambda check, evidence: ()), applied=(Criterion("limit_m", "0.05", Source.OWN),)
        )
    )
    assert plans[0].sources == {"limit_m": "job.toml"}


@pytest.mark.parametrize(
    "subject", ["{0}", "{0} | {1}", "{0} and {1}", "R1", WHOLE_DELIVERY, "{0} + {1}"]
)
def test_an_id_lapses_with_the_bytes_behind_it(survey: SurveyBuilder, subject: str) -> None:
    """When a byte behind the subject changes, the finding has another id; else it keeps it."""
    names = [path.name for path in survey.paths]
    said = subject.format(*names)
    check = _Record(lambda c, _: [c.nonconforming(Grade.MINOR, said, "Off.")])

    def find_id(limit: str) -> str:
        values = {"run.range_max": KnownValue(limit, "m")}
        run = Process("R1", "run", "", 3, "", "technician", Decision.ACCEPTED, 3, "", values)
        (found,) = Runner([enable(check)]).judge_all(
            make_evidence(survey.paths, processes=(run,), quick=True)
        )
        return found.id

    before = find_id("90")
    assert find_id("90") == before
    if subject == "R1":
        assert find_id("91") != before
    else:
        survey.flip_byte(0, -1)
        assert find_id("90") != before


def test_findings_are_sorted_worst_first() -> None:
    """Majors come before minors, minors before gaps, and what conforms comes last."""

    def answer(check: Check, _: Evidence) -> Iterable[Finding]:
        yield check.conforms("a", "y")
        yield check.not_assessed("a", "y", ("n",))
        yield check.nonconforming(Grade.MINOR, "a", "y")
        yield check.nonconforming(Grade.MAJOR, "z", "y")

    graded = [finding.grade or finding.outcome for finding in judge(_Record(answer))]
    assert graded == [Grade.MAJOR, Grade.MINOR, Outcome.NOT_ASSESSED, Outcome.CONFORMS]
