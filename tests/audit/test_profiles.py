"""Profiles: files in the job folder, what they may not decide, and what they leave untested."""

from __future__ import annotations

import hashlib
from pathlib import Path
from typing import Any

import pytest
from pydantic import Field

from ledger.canonical import compute_digest
from ledger.checks import list_checks
from ledger.contract.check import Criteria
from ledger.contract.profile import Clause, Profile
from ledger.contract.profilefile import read_profiles
from ledger.contract.registry import RegisteredProfile
from ledger.errors import SpecificationError
from ledger.model.audit import AuditResult, Plugin, Source
from ledger.model.document import Known, NotTested, find_unit
from ledger.model.finding import Grade, Outcome
from ledger.model.verdict import Verdict
from ledger.report.audit import make_screen
from ledger.report.audit_json import make_json
from ledger.report.checks import make_json as make_checks_json
from ledger.report.checks import make_screen as make_checks_screen

FILE = """
id = "rule"
title = "Rule of thumbs"
edition = "2nd"

[[not_tested]]
asks = "thirty checkpoints"
clause = "7.13"
known = "document"

[criteria.says.least_m]
value = 2.5
unit = "m"
clause = "table 1"
known = "KNOWN"
"""
LEVELS = """
id = "rule"
title = "Rule of thumbs"
edition = "2nd"
[criteria.says.counted]
value = "all"
clause = "glossary"
known = "document"
[levels.a.criteria.says.least_m]
value = 1.0
unit = "m"
clause = "table 1"
known = "document"
[levels.b.criteria.says.least_m]
value = 2.0
unit = "m"
clause = "table 1"
known = "document"
[[levels.b.not_tested]]
asks = "a second flight"
clause = "9"
known = "memory"
"""


class Limits(Criteria):
    """Two thresholds of a made check."""

    least_m: float = Field(default=1.0, description="common practice, no source")
    counted: str = Field(default="some", description="common practice, no source")


def show(renderable: Any) -> str:
    """Return what a person reads, as one line."""
    from rich.console import Console  # noqa: PLC0415 - the only use

    console = Console(width=400, record=True, file=None, quiet=True)
    console.quiet = False
    with console.capture() as captured:
        console.print(renderable)
    return captured.get()


def audit_with(bench: Any, text: str, answer: Any = None, known: str = "document") -> AuditResult:
    """Audit against a profile file in the job folder."""
    (bench.job / "mine.toml").write_text(text.replace("KNOWN", known), encoding="utf-8")
    bench.write('[criteria]\nprofile = "mine.toml"\n')
    parts = {"criteria": Limits}
    bench.install(bench.say(answer, **parts) if answer else bench.say(**parts))
    result: AuditResult = bench.audit()
    return result


def test_a_file_in_the_job_folder_is_a_profile(bench: Any) -> None:
    """Its values are applied with document and clause; entry and book hold the file's digest."""
    result = audit_with(bench, FILE)
    (facts,) = result.checks
    least = facts.criteria[0]
    assert (least.value, least.source, least.unit) == (2.5, Source.PROFILE, "m")
    assert (least.document, least.clause, least.known) == (
        "Rule of thumbs, 2nd",
        "table 1",
        "document",
    )
    assert facts.required == "profile"
    content = (bench.job / "mine.toml").read_bytes()
    with bench.read() as book:
        stored = book.entry(result.entry).values["profile"]
        assert book.blob(stored["sha256"]) == content
    assert stored["sha256"] == hashlib.sha256(content).hexdigest()
    assert (stored["id"], stored["edition"], stored["file"]) == ("rule", "2nd", "mine.toml")
    assert stored["not_tested"] == [
        {"asks": "thirty checkpoints", "clause": "7.13", "known": "document"}
    ]


def test_what_is_not_tested_is_told_and_blocks_nothing(bench: Any) -> None:
    """Audit and checks print it, `--json` lists it, and the verdict is that of what is tested."""
    result = audit_with(bench, FILE)
    assert result.verdict is Verdict.FIT_TO_SEND
    shown = show(make_screen(result))
    assert "The document also asks for 1 thing: not tested here." in shown
    assert "\n  thirty checkpoints (7.13)\n" in shown
    assert "Rule of thumbs, 2nd also asks for 1 thing not tested here" in shown
    described = make_json(result)["profile"]
    assert described is not None
    assert described["not_tested"][0]["asks"] == "thirty checkpoints"
    assert described["sha256"] == compute_digest((bench.job / "mine.toml").read_bytes())


@pytest.mark.parametrize("fails", [False, True])
def test_a_value_from_memory_decides_nothing(bench: Any, fails: bool) -> None:
    """A pass and a major that rest on it are inconclusive, and its check is not required."""

    def answer(check: Any, _: Any) -> Any:
        if fails:
            yield check.nonconforming(Grade.MAJOR, "x", "It is 1 m.", required="2.5", unit="m")
        else:
            yield check.conforms("x", "It is 3 m.", required="2.5", unit="m")

    result = audit_with(bench, FILE, answer, "memory")
    (found,) = [each for each in result.findings if each.check == "says"]
    assert (found.outcome, found.grade) == (Outcome.INCONCLUSIVE, None)
    assert "But least_m is known from memory only, which decides nothing." in found.sentence
    assert "state it in job.toml" in found.remedy
    assert result.checks[0].required == ""
    assert result.verdict is Verdict.FIT_TO_SEND
    assert "from memory, confirm" in found.criterion_source


def test_what_rests_on_another_criterion_stands(bench: Any) -> None:
    """A check that names the source of what decided is not doubted for its other criteria."""

    def answer(check: Any, _: Any) -> Any:
        source = "counted: default: common practice, no source"
        parts = {"required": "some", "criterion_source": source}
        yield check.nonconforming(Grade.MINOR, "x", "None of those.", **parts)

    result = audit_with(bench, FILE, answer, "memory")
    assert [each.grade for each in result.findings if each.check == "says"] == [Grade.MINOR]


def test_an_observation_stays_one(bench: Any) -> None:
    """It decides nothing, whatever it rests on."""

    def answer(check: Any, _: Any) -> Any:
        yield check.nonconforming(Grade.OBSERVATION, "x", "Odd.", required="2.5", unit="m")

    result = audit_with(bench, FILE, answer, "memory")
    assert [f.grade for f in result.findings if f.check == "says"] == [Grade.OBSERVATION]


def test_a_value_that_the_job_states_is_confirmed(bench: Any) -> None:
    """Written into job.toml, the value is the customer's own and decides."""
    audit_with(bench, FILE, known="memory")
    bench.write('[criteria]\nprofile = "mine.toml"\n[criteria.says]\nleast_m = 2.5\n')
    result = bench.audit()
    (found,) = [each for each in result.findings if each.check == "says"]
    assert found.outcome is Outcome.CONFORMS


def test_levels_share_the_common_part() -> None:
    """Each level is a profile of its own, of one file and one digest."""
    first, second = read_profiles(LEVELS.encode(), "rule.toml")
    assert (first.id, second.id, second.edition) == ("rule-a", "rule-b", "2nd, B")
    assert first.sha256 == second.sha256 == compute_digest(LEVELS.encode())
    assert second.criteria["says"]["least_m"] == Clause(2.0, "table 1", Known.DOCUMENT)
    assert second.criteria["says"]["counted"].value == "all"
    assert not first.not_tested
    assert second.not_tested == (NotTested("a second flight", "9", "memory"),)
    assert second.not_tested[0].phrase == "a second flight (9, from memory, confirm)"


def explain(job: Path, named: str, text: str = FILE) -> str:
    """Return what is wrong with a job that names a profile."""
    (job / "mine.toml").write_text(text.replace("KNOWN", "document"), encoding="utf-8")
    (job / "job.toml").write_text(f'[criteria]\nprofile = "{named}"\n', encoding="utf-8")
    with pytest.raises(SpecificationError) as caught:
        list_checks(job)
    said = str(caught.value)
    assert said.startswith("job.toml line 2: criteria.profile ")
    return said


@pytest.mark.parametrize(
    ("named", "text", "part"),
    [
        ("../mine.toml", FILE, "outside the job folder"),
        ("none.toml", FILE, "cannot be used"),
        ("mine.toml", "id = 3", "id is not a text"),
        ("mine.toml", "id = ", "mine.toml line 1"),
        ("mine.toml", LEVELS, "mine.toml#a or mine.toml#b"),
        ("mine.toml#c", LEVELS, "mine.toml#a or mine.toml#b"),
        ("mine.toml", FILE, "for a check that is not installed"),
        ("mine.toml", FILE.replace('unit = "m"', 'unit = "ft"'), "is not the unit"),
        ("mine.toml", FILE.replace("KNOWN", "somehow"), "known"),
        (
            "mine.toml",
            FILE.replace("says", "point-density"),
            "least_m is no criterion of check point-density",
        ),
    ],
)
def test_a_file_that_cannot_be_used_is_told(
    tmp_path: Path, named: str, text: str, part: str
) -> None:
    """Every fault of a profile file stands at the line of job.toml that names it."""
    assert part in explain(tmp_path, named, text)


def test_a_misspelt_criterion_is_told_once_with_the_name_that_was_meant(tmp_path: Path) -> None:
    """Every level states it; what is wrong is the name, not its unit."""
    import lidar_checks.profiles  # noqa: PLC0415 - to find the file

    (folder,) = lidar_checks.profiles.__path__
    content = (Path(folder) / "usgs-lbs-2025a.toml").read_text(encoding="utf-8")
    said = explain(tmp_path, "mine.toml#ql2", content.replace("min_pts_per_m2", "min_pts_per_m3"))
    assert said.count("min_pts_per_m3 is no criterion of check point-density") == 1
    assert said.count("did you mean min_pts_per_m2?") == 1
    assert "is not the unit" not in said


def test_a_copy_of_a_published_profile_can_be_changed(tmp_path: Path) -> None:
    """A published file, copied and changed, applies with its own digest."""
    import lidar_checks.profiles  # noqa: PLC0415 - to find the file

    (folder,) = lidar_checks.profiles.__path__
    content = (Path(folder) / "usgs-lbs-2025a.toml").read_text(encoding="utf-8")
    changed = content.replace("value = 2.0\n", "value = 3.0\n")
    assert changed != content
    (tmp_path / "ours.toml").write_text(changed, encoding="utf-8")
    text = '[criteria]\nprofile = "ours.toml#ql2"\n'
    (tmp_path / "job.toml").write_text(text, encoding="utf-8")
    result = list_checks(tmp_path)
    facts = next(each for each in result.checks if each.id == "point-density")
    assert facts.criteria[0].value == 3.0
    assert result.profile is not None
    assert result.profile.sha256 == compute_digest((tmp_path / "ours.toml").read_bytes())
    assert result.profile.file == "ours.toml"


def test_checks_print_value_unit_document_and_clause(tmp_path: Path) -> None:
    """On the screen and in `--json`, for each criterion of the profile."""
    text = '[criteria]\nprofile = "usgs-lbs-2025a-ql3"\n'
    (tmp_path / "job.toml").write_text(text, encoding="utf-8")
    result = list_checks(tmp_path)
    title = "USGS 3DEP Lidar Base Specification, 2025 rev. A, QL3"
    shown = show(make_checks_screen(result))
    assert f"min_pts_per_m2 = 0.5 points/m²   (profile: {title}, table 1)" in shown
    assert "also asks for" in shown
    assert "no more than 120 of them" in shown
    printed = make_checks_json(result)
    (row,) = [
        row
        for check in printed["checks"]
        for row in check["criteria"]
        if row["field"] == "min_pts_per_m2" and row["check"] == "point-density"
    ]
    assert (row["value"], row["unit"], row["clause"]) == (0.5, "points/m²", "table 1")
    assert (row["document"], row["known"]) == (title, "document")
    assert "usgs-lbs-2025a-ql3" in printed["profiles"]


def test_a_profile_without_a_file_has_a_digest_too(bench: Any) -> None:
    """It is taken over its values, so that another value gives another digest."""
    first = Profile("p", "P", "1", {"says": {"least_m": Clause(1.0, "2")}})
    other = Profile("p", "P", "1", {"says": {"least_m": Clause(1.5, "2")}})
    assert first.sha256 != other.sha256
    bench.install(
        bench.say(criteria=Limits), profiles=[RegisteredProfile(first, Plugin("q", "1", "", "q"))]
    )
    bench.write('[criteria]\nprofile = "p"\n')
    profile = bench.audit().profile
    assert (profile.sha256, profile.plugin, profile.file) == (first.sha256, "q", "")


def test_units_stand_in_the_names() -> None:
    """The unit of a criterion is what its name ends with."""
    units = {
        "min_pts_per_m2": "points/m²",
        "area_min_m2": "m²",
        "cell_m": "m",
        "slope_max_deg": "°",
    }
    assert {name: find_unit(name) for name in units} == units
    assert find_unit("required") == ""
    assert find_unit("min_share_of_cells") == ""
