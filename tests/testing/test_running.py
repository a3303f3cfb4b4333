"""One check run as an audit runs it, and books made for tests."""

# ruff: noqa: D102 - the methods are those of the contract, described there

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import FrozenInstanceError, is_dataclass
from enum import Enum
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest
from pydantic import BaseModel, Field, ValidationError

from ledger.contract.check import Check, Criteria, Finding, Grade, Outcome, Plan, PointCheck
from ledger.contract.evidence import DeliveredFile, Evidence
from ledger.errors import SpecificationError, UsageError
from ledger.model.artefact import FileRecord
from ledger.model.frozen import FrozenDict, FrozenList
from ledger.model.known import KnownBy
from ledger.model.process import Decision
from ledger.store.reading import Book
from ledger.testing import BookBuilder, Layout, Scene, SurveyBuilder, known, run_check

SMALL = Scene(density=0.5)


class Threshold(Criteria):
    """A least number of points."""

    min_points: int = Field(default=1, description="an example")


class Count:
    """Counts points."""

    def __init__(self) -> None:
        """Begin with none."""
        self.points = 0

    def chunk(self, points: Any) -> None:
        self.points += len(points)

    def merge(self, other: Count) -> None:
        self.points += other.points

    def close(self) -> int:
        return self.points


class Enough(PointCheck):
    """A file has points enough."""

    id = "points-enough"
    title = "Points enough"
    criteria = Threshold

    def start(self, plan: Plan, file: DeliveredFile) -> Count:
        del plan, file
        return Count()

    def finish(
        self, plan: Plan, summaries: Mapping[str, Any], evidence: Evidence
    ) -> Iterable[Finding]:
        del evidence
        for path, points in summaries.items():
            if points >= plan.criteria.min_points:  # type: ignore[attr-defined]
                yield self.conforms(path, "Enough.", observed=str(points))
            else:
                yield self.nonconforming(Grade.MAJOR, path, "Too few.", observed=str(points))


class Follows(Check):
    """Says what another check found, and whether something is registered."""

    id = "follows"
    title = "Follows"
    after = ("points-enough",)

    def finish(
        self, plan: Plan, summaries: Mapping[str, Any], evidence: Evidence
    ) -> Iterable[Finding]:
        del plan, summaries
        for found in evidence.results["points-enough"]:
            observed = f"{found.outcome} {len(evidence.registered)}"
            yield self.conforms(found.subject, "Seen.", observed=observed)


@pytest.fixture
def survey(tmp_path: Path) -> SurveyBuilder:
    """Two small tiles in a folder to send."""
    return SurveyBuilder(tmp_path / "out", Layout(compressed=False), SMALL)


def test_check_runs_over_a_survey(survey: SurveyBuilder) -> None:
    """A check sees all points of all tiles, and its findings are stamped as in an audit."""
    findings = run_check(Enough(), survey)
    observed = {finding.subject: finding.observed for finding in findings}
    assert observed == {
        path.name: str(len(survey.tile(path.name).points["x"])) for path in survey.paths
    }
    assert {finding.outcome for finding in findings} == {Outcome.CONFORMS}
    assert all(finding.plugin and finding.digests and finding.criterion for finding in findings)


def test_criteria_come_from_the_specification(survey: SurveyBuilder) -> None:
    """Thresholds are written as in `job.toml`; what the check's model refuses is an error."""
    text = "[criteria.points-enough]\nmin_points = 1000000\n"
    findings = run_check(Enough(), survey.folder, text)
    assert [finding.grade for finding in findings] == [Grade.MAJOR] * 2
    with pytest.raises(SpecificationError, match=r"job\.toml line 2"):
        run_check(Enough(), survey, "[criteria.points-enough]\nmin_points = 'many'\n")


def test_damaged_file_is_not_assessed(survey: SurveyBuilder) -> None:
    """A file that ends too early is not assessed, and the others are."""
    survey.cut_on_record(0)
    outcomes = {finding.subject: finding.outcome for finding in run_check(Enough(), survey)}
    assert outcomes == {
        "tile_0_0.las": Outcome.NOT_ASSESSED,
        "tile_1_0.las": Outcome.CONFORMS,
    }


def test_quick_audit_reads_no_points(survey: SurveyBuilder) -> None:
    """In a quick audit a check of points is not assessed."""
    (finding,) = run_check(Enough(), survey, quick=True)
    assert finding.outcome is Outcome.NOT_ASSESSED


def test_check_that_waits_for_another(survey: SurveyBuilder) -> None:
    """A check gets the findings of the one it waits for, and what a book would add."""
    known_files = {"ab": FileRecord("raw.bin", "ab", 1, 1, "capture")}
    findings = run_check(Follows(), survey, beside=[Enough()], registered=known_files)
    assert [finding.observed for finding in findings] == ["conforms 1"] * 2
    assert {finding.check for finding in findings} == {"follows"}


def test_readings_are_part_of_the_evidence(survey: SurveyBuilder) -> None:
    """A check without points of its own finds headers, CRS and what reading gave."""

    class Reads(Check):
        id = "reads"
        title = "Reads"
        needs = ("points",)

        def finish(
            self, plan: Plan, summaries: Mapping[str, Any], evidence: Evidence
        ) -> Iterable[Finding]:
            del plan, summaries
            for file in evidence.files:
                if not (file.header and file.crs and file.crs.governing.crs and file.reading):
                    raise ValueError("a part of the evidence is missing")
                yield self.conforms(
                    file.path,
                    "Read.",
                    observed=f"{file.reading.decoded == file.header.point_count}"
                    f" {file.crs.governing.crs.utm_zone}",
                )

    findings = run_check(Reads(), survey)
    assert {finding.observed for finding in findings} == {"True 17N"}


def test_empty_folder_is_refused(tmp_path: Path) -> None:
    """A folder without files cannot be run over."""
    with pytest.raises(UsageError):
        run_check(Enough(), tmp_path)


# Books.


def test_book_holds_what_was_put_into_it(tmp_path: Path) -> None:
    """Flights, files, runs and decisions put into a book are what a reader finds in it."""
    made = BookBuilder(tmp_path / "job")
    made.write("raw/flight.bin", "bytes")
    made.card("flight", "F1", {"flight.mount_mode": known("drone")})
    made.register("raw/flight.bin", flight="F1")
    tile = made.write("out/tile.laz", "points")
    run = made.run("out/tile.laz", inputs=[{"flight": "F1"}])
    step = made.step("out/tile.laz", inputs=[made.use("out/tile.laz")])
    made.decide(run, "rejected", "wrong mount mode")
    made.close()
    with Book.open(tmp_path / "job") as book:
        assert [(each.id, each.decision) for each in book.processes()] == [
            (run, Decision.REJECTED),
            (step, Decision.ACCEPTED),
        ]
        (flight,) = book.cards("flight")
        assert flight.values["flight.mount_mode"].value == "drone"
        assert [file.path for file in book.files_of_flight("F1")] == ["raw/flight.bin"]
        assert book.size == 5
        assert [entry.time[11:16] for entry in book.entries()] == [
            f"{hour:02}:00" for hour in range(8, 13)
        ]
    assert tile.exists()


def test_carried_and_assumed_values_prove_nothing() -> None:
    """A value made as carried or assumed cannot prove, one typed can."""
    assert known("drone").can_prove
    assert not known("drone", by=KnownBy.CARRIED).can_prove
    assert not known("1.2", "m", KnownBy.ASSUMED).can_prove


class Looks(Check):
    """Keeps the evidence that it was given."""

    id = "looks"
    title = "Looks"

    def __init__(self) -> None:
        """Begin with nothing seen."""
        self.seen: list[Evidence] = []

    def finish(
        self, plan: Plan, summaries: Mapping[str, Any], evidence: Evidence
    ) -> Iterable[Finding]:
        del plan, summaries
        self.seen.append(evidence)
        yield self.conforms("delivery", "Seen.")


@pytest.fixture
def looked(tmp_path: Path) -> Evidence:
    """What a check is given of a job with a rig, a flight, a run, a step and a boundary."""
    with BookBuilder(tmp_path / "job") as book:
        # GeoTIFF keys, since those are a mapping inside the header.
        layout = Layout(version="1.2", point_format=3, compressed=False)
        survey = SurveyBuilder(tmp_path / "job" / "out", layout, SMALL)
        book.write("raw/flight.bin", "bytes")
        book.register("raw/flight.bin", flight="F1")
        book.card("rig", "G1", {"rig.name": known(["a", "b"])})
        book.card("flight", "F1", {"flight.rig": known("G1")})
        book.run(f"out/{survey.paths[0].name}", flights=["F1"], values={"run.software": known("A")})
        book.step(f"out/{survey.paths[1].name}", inputs=[book.use(f"out/{survey.paths[0].name}")])
        check = Looks()
        run_check(check, survey, '[delivery]\nitems = ["a"]\n', book=book)
    return check.seen[-1]


def test_a_book_gives_what_stands_behind_the_files(looked: Evidence) -> None:
    """Runs and steps with what they used, the flight, the rig flown in it, files registered."""
    assert [each.id for each in looked.processes] == ["R1", "S1"]
    assert [each.id for each in (*looked.flights, *looked.rigs)] == ["F1", "G1"]
    assert looked.recorded == 2
    assert "raw/flight.bin" in {each.path for each in looked.registered.values()}
    makers = [file.custody.maker.id for file in looked.files]
    assert makers == ["R1", "S1"]
    assert all(file.reading for file in looked.files)


def test_a_profile_file_beside_the_folder_is_read(tmp_path: Path) -> None:
    """The author of a profile can try it: the folder's parent stands for the job."""
    SurveyBuilder(tmp_path / "out", Layout(compressed=False), SMALL)
    (tmp_path / "mine.toml").write_text(
        'id = "mine"\ntitle = "T"\nedition = "1"\n[criteria.points-enough.min_points]\n'
        'value = 1000000000\nclause = "1"\nknown = "agreed"\n',
        encoding="utf-8",
    )
    text = '[criteria]\nprofile = "mine.toml"\n'
    found = run_check(Enough(), tmp_path / "out", text)
    assert {each.grade for each in found} == {Grade.MAJOR}


def test_nothing_that_a_check_is_given_can_be_altered(looked: Evidence) -> None:
    """However deep one looks, every mapping and list refuses; records are frozen anyway."""
    found: dict[type, int] = {}

    def walk(value: Any, place: str) -> None:
        found[type(value)] = found.get(type(value), 0) + 1
        if isinstance(value, Mapping):
            for key, part in value.items():
                walk(part, f"{place}[{key}]")
            assert type(value) is FrozenDict, place
        elif isinstance(value, (list, tuple)):
            assert type(value) in (FrozenList, tuple), place
            for number, part in enumerate(value):
                walk(part, f"{place}[{number}]")
        elif isinstance(value, frozenset):
            assert all(isinstance(part, str) for part in value), place
        elif is_dataclass(value) or isinstance(value, BaseModel):
            for name, part in vars(value).items():
                walk(part, f"{place}.{name}")
            with pytest.raises((FrozenInstanceError, ValidationError)):
                setattr(value, next(iter(vars(value))), None)
        else:
            assert isinstance(value, (str, int, float, Enum, type(None), Fraction)), place

    walk(looked, "evidence")
    assert found[FrozenDict] > 10
    assert found[FrozenList] >= 1
