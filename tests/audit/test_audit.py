"""An audit from the folder to the entry: no gap passes, nothing is written into the folder."""

from __future__ import annotations

import hashlib
import json
import os
import sqlite3
from collections.abc import Iterable
from pathlib import Path
from typing import Any

import pyproj
import pytest

from ledger.audit import running
from ledger.auditentry import read_audit, read_latest_audits
from ledger.contract.check import Criteria
from ledger.contract.passing import PointPass
from ledger.errors import BrokenBookError, SpecificationError, UnreadableFileError, UsageError
from ledger.model.audit import AUDIT_ITSELF, WHOLE_DELIVERY, InterimResult, PluginFault
from ledger.model.entry import Draft
from ledger.model.finding import Finding, Grade, Outcome, Where
from ledger.model.lineage import CustodyState, MatchedBy
from ledger.model.verdict import Verdict
from ledger.store.reading import BOOK_NAME
from ledger.store.writing import BookWriter, create_book
from ledger.testing import Layout, SurveyBuilder


def fails(grade: Grade, subject: str = WHOLE_DELIVERY, **parts: Any) -> Any:
    """Return an answer that finds a nonconformity."""

    def answer(check: Any, _: Any) -> Iterable[Finding]:
        yield check.nonconforming(grade, subject, "It is off.", remedy="Mend it.", **parts)

    return answer


def canonical(values: object) -> bytes:
    """Return canonical JSON of text and whole numbers by the standard library (RFC 8785)."""
    return json.dumps(values, sort_keys=True, separators=(",", ":"), ensure_ascii=False).encode()


# The entry.


def test_the_manifest_is_path_and_digest_of_every_file(bench) -> None:
    """Manifest, its digest and its tree (RFC 9162, section 2.1) are those computed here anew."""
    (bench.out / "notes.txt").write_text("as sent", encoding="utf-8")
    result = bench.audit()
    paths = sorted(path for path in bench.out.rglob("*") if path.is_file())
    rows = [
        {
            "path": path.relative_to(bench.out).as_posix(),
            "sha256": hashlib.sha256(path.read_bytes()).hexdigest(),
            "bytes": path.stat().st_size,
        }
        for path in paths
    ]
    assert len(rows) == 3
    leaves = [
        hashlib.sha256(b"\0" + canonical({"path": r["path"], "sha256": r["sha256"]})).digest()
        for r in rows
    ]
    pair = hashlib.sha256(b"\1" + leaves[0] + leaves[1]).digest()
    assert result.manifest_root == hashlib.sha256(b"\1" + pair + leaves[2]).hexdigest()
    assert result.manifest_sha256 == hashlib.sha256(canonical(rows)).hexdigest()
    with bench.read() as book:
        values = book.entry(result.entry).values
        assert json.loads(book.blob(values["manifest"])) == rows
    assert (result.files, result.bytes) == (3, sum(row["bytes"] for row in rows))
    assert result.not_traced == ("notes.txt",)


def test_the_entry_holds_what_was_applied_and_found(bench) -> None:
    """Checks with their plugins, verdict, points and fingerprints are in the entry."""
    bench.install(bench.say(), bench.count(revision=3))
    result = bench.audit(by="office")
    with bench.read() as book:
        entry = book.entry(result.entry)
        fingerprints = json.loads(book.blob(entry.values["fingerprints"]))
        stored = read_audit(book, entry)
    assert (entry.kind, entry.by, entry.values["id"]) == ("audit", "office", "D1")
    assert entry.values["verdict"] == str(result.verdict) == "fit to send"
    assert entry.values["points"] == result.points == bench.survey.count_points()
    assert entry.values["conforming"] == {"counts": 2, "says": 1}
    (counts, _) = entry.values["checks"]
    assert (counts["id"], counts["revision"], counts["plugin"]) == ("counts", 3, "stranger")
    assert (counts["version"], counts["digest"]) == ("4.2", "ab" * 32)
    tiles = {hashlib.sha256(path.read_bytes()).hexdigest() for path in bench.survey.paths}
    assert set(fingerprints) == tiles
    assert tuple(each.finding for each in stored.findings) == result.findings
    assert [each.id for each in stored.findings] == [finding.id for finding in result.findings]


def test_findings_come_back_from_the_book_as_they_were(bench) -> None:
    """Every part of a finding, its place in numbers too, survives the book, and so does its id."""
    place = Where("a.las", (552000.123, 4272000.1), (-80.5, 38.25), "12/7", ("10:00", "10:14"))
    answer = fails(
        Grade.MINOR,
        "a.las",
        where=place,
        observed="14",
        required="10",
        unit="s",
        catalogue=("GN-03",),
        criterion_source="common practice, no source",
    )
    bench.install(bench.say(answer))
    result = bench.audit(quick=True)
    with bench.read() as book:
        (audit,) = read_latest_audits(book)
    (stored,) = audit.findings
    assert stored.finding == result.findings[0]
    assert stored.finding.where == place
    assert stored.id == stored.finding.id == result.findings[0].id


def test_the_specification_is_entered_when_it_is_new(bench) -> None:
    """A new text of job.toml is entered before the audit, the same text only once."""
    bench.audit(quick=True)
    bench.audit(quick=True)
    bench.write('[job]\ntitle = "Pit"\n')
    result = bench.audit(quick=True)
    with bench.read() as book:
        kinds = [entry.kind for entry in book.entries()]
        last = book.last("specification")
        assert book.blob(last.values["sha256"]) == b'[job]\ntitle = "Pit"\n'
    assert kinds == ["specification", "audit", "audit", "specification", "audit"]
    assert result.specification == last.values["sha256"]


def test_the_same_bytes_keep_the_id_of_the_deliverable(bench) -> None:
    """Auditing the same bytes again is the same deliverable; one changed byte makes a new one."""
    assert bench.audit(quick=True).id == "D1"
    assert bench.audit().id == "D1"
    bench.survey.flip_byte(0, -1)
    assert bench.audit().id == "D2"


def test_auditing_twice_finds_the_same(bench) -> None:
    """Two audits of the same bytes give the same findings with the same ids."""
    bench.install(bench.say(), bench.count())
    assert bench.audit().findings == bench.audit().findings


def test_nothing_is_written_into_the_folder(bench) -> None:
    """Names, bytes and times of the audited folder are the same before and after."""
    bench.install(bench.say(), bench.count())

    def look() -> list[tuple[str, bytes, int]]:
        return [
            (str(path), path.read_bytes() if path.is_file() else b"", path.stat().st_mtime_ns)
            for path in sorted(bench.out.rglob("*"))
        ]

    before = look()
    bench.audit()
    assert look() == before


def test_a_folder_outside_the_job_is_audited_too(bench, tmp_path: Path) -> None:
    """A deliverable on another drive is entered with its absolute path."""
    survey = SurveyBuilder(tmp_path / "elsewhere")
    result = bench.audit(survey.paths[0].parent)
    assert result.folder == (tmp_path / "elsewhere").resolve().as_posix()
    assert bench.audit().folder == "out"


# The verdict.


@pytest.mark.parametrize(
    ("grade", "verdict"),
    [
        (Grade.MAJOR, Verdict.DO_NOT_SEND),
        (Grade.MINOR, Verdict.ACCEPTANCE_NEEDED),
        (Grade.OBSERVATION, Verdict.FIT_TO_SEND),
    ],
)
def test_the_worst_grade_decides(bench, grade: Grade, verdict: Verdict) -> None:
    """Majors stop, minors ask, observations pass."""
    bench.install(bench.say(fails(grade)))
    assert bench.audit().verdict is verdict


@pytest.mark.parametrize("required", [True, False])
def test_a_gap_counts_where_the_check_is_required(bench, required: bool) -> None:
    """A required check that is not assessed leaves the audit incomplete; another does not."""

    def lacks(check: Any, _: Any) -> Iterable[Finding]:
        yield check.not_assessed(WHOLE_DELIVERY, "Cannot say.", ("records",))

    bench.install(bench.say(lacks, always_required=required))
    assert bench.audit().verdict is (Verdict.INCOMPLETE if required else Verdict.FIT_TO_SEND)


@pytest.mark.parametrize(
    ("is_there", "system", "told"),
    [
        (False, "EPSG:6346", "site.geojson was not found"),
        (True, "", "outline of the site"),  # nothing says into which system it is to be brought
        (True, "EPSG:6346", ""),
    ],
)
def test_an_outline_that_is_named_and_not_usable_leaves_the_audit_open(
    bench, is_there: bool, system: str, told: str
) -> None:
    """A slip in delivery.boundary does not let a site go out that nothing was held against."""
    stated = f'[coordinates]\nhorizontal = "{system}"\n' if system else ""
    bench.write(f'{stated}[delivery]\nboundary = "site.geojson"\n')
    if is_there:
        ring = [[-81.0, 38.0], [-80.9, 38.0], [-81.0, 38.1], [-81.0, 38.0]]
        outline = json.dumps({"type": "Polygon", "coordinates": [ring]})
        (bench.job / "site.geojson").write_text(outline, encoding="utf-8")
    result = bench.audit()
    assert result.verdict is (Verdict.INCOMPLETE if told else Verdict.FIT_TO_SEND)
    assert [(gap.check, told in gap.sentence) for gap in result.open_findings] == (
        [(AUDIT_ITSELF, True)] if told else []
    )


@pytest.mark.parametrize("is_there", [False, True])
def test_a_geoid_grid_that_is_named_and_not_there_leaves_the_audit_open(
    bench, is_there: bool
) -> None:
    """Nobody can say that the right geoid was applied against a grid that nobody has."""
    bench.write('[coordinates]\ngeoid = { name = "g", file = "g.tif" }\n')
    if is_there:
        (bench.job / "g.tif").write_bytes(b"grid")
    result = bench.audit()
    assert result.verdict is (Verdict.FIT_TO_SEND if is_there else Verdict.INCOMPLETE)
    assert [(gap.check, "g.tif was not found" in gap.sentence) for gap in result.open_findings] == (
        [] if is_there else [(AUDIT_ITSELF, True)]
    )


def test_a_quick_audit_is_at_best_incomplete(bench) -> None:
    """Without points there is no verdict better than *incomplete*, and no count of points."""
    result = bench.audit(quick=True)
    assert result.verdict is Verdict.INCOMPLETE
    assert result.points is None


def test_the_verdict_so_far_comes_before_the_first_point(bench, monkeypatch) -> None:
    """Records and headers are judged and told before any point is read."""
    told: list[InterimResult] = []
    original = PointPass.read

    def read(*parts: Any) -> Any:
        assert told
        return original(*parts)

    monkeypatch.setattr(PointPass, "read", read)
    bench.install(bench.say(fails(Grade.MAJOR)), bench.count())
    bench.audit(on_interim=told.append)
    (interim,) = told
    assert interim.verdict is Verdict.DO_NOT_SEND
    assert [finding.check for finding in interim.findings] == ["says"]
    bench.install(bench.say(), bench.count())
    bench.audit(on_interim=told.append)
    assert told[1].verdict is Verdict.INCOMPLETE
    bench.audit(on_interim=told.append, quick=True)
    assert len(told) == 2


# What cannot be read, or was not there.


def test_a_damaged_file_leaves_a_required_check_open(bench) -> None:
    """A file cut short is counted, is no pass for a check of points, and stops no other file."""
    bench.install(bench.count(always_required=True))
    bench.survey.cut_share(1, 0.5)
    result = bench.audit()
    assert result.verdict is Verdict.INCOMPLETE
    assert result.conforming == {"counts": 1}
    with bench.read() as book:
        fingerprints = json.loads(book.blob(book.entry(result.entry).values["fingerprints"]))
    whole = hashlib.sha256(bench.survey.paths[0].read_bytes()).hexdigest()
    assert set(fingerprints) == {whole}


@pytest.mark.skipif(os.name == "nt", reason="links need rights on Windows")
def test_a_file_that_was_not_read_leaves_the_audit_open(bench, tmp_path: Path) -> None:
    """Whatever the checks say, a file that could not be read makes the verdict incomplete."""
    (tmp_path / "far.las").write_bytes(b"LASF")
    (bench.out / "far.las").symlink_to(tmp_path / "far.las")
    result = bench.audit()
    assert result.verdict is Verdict.INCOMPLETE
    (gap,) = result.open_findings
    assert (gap.check, gap.subject, gap.outcome) == (
        AUDIT_ITSELF,
        "far.las",
        Outcome.NOT_ASSESSED,
    )


def test_a_file_that_changes_meanwhile_leaves_the_audit_open(bench) -> None:
    """A file that is written to after it was hashed is not what the entry says."""
    note = bench.out / "notes.txt"
    note.write_text("one", encoding="utf-8")

    def meddle(check: Any, _: Any) -> Iterable[Finding]:
        note.write_text("another", encoding="utf-8")
        yield check.conforms(WHOLE_DELIVERY, "It holds.")

    bench.install(bench.say(meddle))
    result = bench.audit()
    assert result.verdict is Verdict.INCOMPLETE
    assert [finding.subject for finding in result.open_findings] == ["notes.txt"]


def test_a_broken_plugin_leaves_the_audit_open(bench) -> None:
    """What a plugin would have checked is not known, so nothing passes without it."""
    bench.install(bench.say(), faults=[PluginFault("broken", "1.1", "it does not load")])
    result = bench.audit()
    assert result.verdict is Verdict.INCOMPLETE
    (told,) = result.open_findings
    assert told.outcome is Outcome.ERRORED
    assert "broken 1.1" in told.sentence
    assert [fault.plugin for fault in result.plugin_faults] == ["broken"]


def test_a_check_of_a_broken_plugin_is_not_assessed(bench) -> None:
    """What job.toml asks of a plugin that did not load is *not assessed* by its own id."""
    bench.write("[criteria.frogs]\nmin = 1\n")
    bench.install(bench.say(), faults=[PluginFault("broken", "1.1", "it does not load")])
    found = next(f for f in bench.audit(quick=True).findings if f.check == "frogs")
    assert found.outcome is Outcome.NOT_ASSESSED


def test_no_check_at_all_is_no_pass(bench) -> None:
    """An audit without checks has tested nothing, and says so."""
    bench.install()
    assert bench.audit().verdict is Verdict.INCOMPLETE


def test_a_check_that_breaks_is_entered_as_errored(bench) -> None:
    """A check that raises is in the entry with type, message, plugin and version."""
    bench.install(bench.say(lambda *_: 1 / 0, always_required=True), bench.count())
    result = bench.audit()
    (told,) = result.open_findings
    assert told.outcome is Outcome.ERRORED
    assert "ZeroDivisionError: division by zero (stranger 4.2)" in told.sentence
    assert result.verdict is Verdict.INCOMPLETE
    assert result.conforming == {"counts": 2}


# Before anything is read.


@pytest.mark.parametrize(
    "text",
    [
        "[criteria.nothing]\n",
        "[coordinates]\nhorizontal = 'somewhere'\n",
        "[job]\ntitel = 'x'\n",
        "= 3",
    ],
)
def test_a_wrong_specification_is_told_before_a_byte_is_read(bench, monkeypatch, text: str) -> None:
    """Whatever is wrong in job.toml, no file of the folder is opened and nothing is entered."""

    def refuse(*_: Any) -> Any:
        raise AssertionError

    monkeypatch.setattr(running, "read_delivery", refuse)
    monkeypatch.setattr(running, "list_folder", refuse)
    bench.write(text)
    with pytest.raises(SpecificationError, match=r"job\.toml line \d"):
        bench.audit()
    with bench.read() as book:
        assert book.size == 0


def test_a_broken_book_is_refused_before_a_byte_is_read(bench, monkeypatch) -> None:
    """Nothing can be added to a broken book, so nothing is read for it."""
    bench.audit(quick=True)
    raw = sqlite3.connect(bench.job / BOOK_NAME)
    for name in [
        row[0] for row in raw.execute("SELECT name FROM sqlite_master WHERE type='trigger'")
    ]:
        raw.execute(f"DROP TRIGGER {name}")
    raw.execute("UPDATE journal SET root = zeroblob(32) WHERE seq = 2")
    raw.commit()
    raw.close()
    monkeypatch.setattr(running, "list_folder", None)
    with pytest.raises(BrokenBookError):
        bench.audit()


def test_without_a_specification_there_is_no_audit(bench) -> None:
    """An audit needs to know what the deliverable has to meet."""
    (bench.job / "job.toml").unlink()
    with pytest.raises(SpecificationError, match=r"job\.toml cannot be read"):
        bench.audit()


def test_the_job_itself_is_no_deliverable(bench) -> None:
    """The job folder, and any folder round it, is refused: the book would be in the manifest."""
    for folder in (bench.job, bench.job.parent):
        with pytest.raises(UsageError, match="job folder lies inside"):
            bench.audit(folder)


def test_the_job_of_another_is_no_deliverable(bench, tmp_path: Path) -> None:
    """A folder with some other job's book is refused too."""
    other = tmp_path / "other"
    other.mkdir()
    create_book(other).close()
    with pytest.raises(UsageError, match="holds a job's book"):
        bench.audit(other)


# A quick audit takes known digests.


def test_known_digests_are_taken_where_nothing_changed(bench) -> None:
    """Size, time and file id unchanged: the digest is taken, and how many are is said."""
    assert bench.audit().known_digests == 0
    result = bench.audit(quick=True)
    assert result.known_digests == 2
    assert result.manifest_sha256 == bench.audit().manifest_sha256
    assert bench.audit().known_digests == 0


@pytest.mark.parametrize("change", ["bytes", "time", "file"])
def test_a_changed_file_is_hashed_again(bench, change: str) -> None:
    """Another size, time or file id: the digest is computed, and it is the right one."""
    bench.audit()
    path = bench.survey.paths[0]
    if change == "bytes":
        path.write_bytes(path.read_bytes() + b"more")
    elif change == "time":
        os.utime(path, ns=(1, 1_700_000_000_000_000_000))
    else:
        status = path.stat()
        other = path.with_name("other")
        other.write_bytes(path.read_bytes()[::-1])
        os.utime(other, ns=(status.st_atime_ns, status.st_mtime_ns))
        other.replace(path)
    result = bench.audit(quick=True)
    assert result.known_digests == 1
    with bench.read() as book:
        manifest = json.loads(book.blob(book.entry(result.entry).values["manifest"]))
    stored = {row["path"]: row["sha256"] for row in manifest}
    assert stored[path.name] == hashlib.sha256(path.read_bytes()).hexdigest()


# Records.


def test_custody_is_found_by_digest_then_by_points(bench) -> None:
    """A file with an edited header is the run's by its points; before they are read it is open."""
    bench.install(bench.say(), bench.count())
    bench.audit()
    edited, kept = bench.survey.paths
    with bench.read() as book:
        known = {path.name: book.fingerprint(bench.see(path).sha256) for path in (edited, kept)}
    bench.record(edited, kept, fingerprints=known)
    bench.survey.software(0, "Edited afterwards 1.0")
    states: list[dict[str, Any]] = []

    def look(check: Any, evidence: Any) -> Iterable[Finding]:
        states.append({file.path: file.custody for file in evidence.files})
        yield check.conforms(WHOLE_DELIVERY, "Seen.")

    bench.install(bench.say(look))
    bench.audit()
    before, after = states
    assert before[edited.name] is None
    assert before[kept.name].matched_by is MatchedBy.DIGEST
    assert after[edited.name].state is CustodyState.ACCEPTED
    assert after[edited.name].matched_by is MatchedBy.POINTS


def test_a_file_of_no_run_is_an_orphan_only_when_its_points_are_read(bench) -> None:
    """Without points nobody can say that no run made a file; with them it can be said."""
    states: list[Any] = []

    def look(check: Any, evidence: Any) -> Iterable[Finding]:
        states.append(evidence.files[0].custody)
        yield check.conforms(WHOLE_DELIVERY, "Seen.")

    bench.install(bench.say(look))
    bench.audit(quick=True)
    bench.audit()
    assert states[0] is None
    assert states[1] is None
    assert states[2].state is CustodyState.ORPHAN


def test_records_behind_the_files_are_evidence(bench) -> None:
    """The runs that made the files, their flights and the rigs flown are there, and no others."""
    first, second = bench.survey.paths

    def value(text: str) -> dict[str, Any]:
        return {"value": text, "known_by": "typed", "confirmed": True}

    with BookWriter.open(bench.job) as writer:
        for kind, name, values in (
            ("rig", "G1", {"rig.bracket": value("B")}),
            ("rig", "G2", {}),
            ("flight", "F1", {"flight.rig": value("G1")}),
            ("flight", "F2", {"flight.rig": value("G2")}),
        ):
            writer.append(Draft(kind, {"id": name, "name": "", "values": values}))
    bench.record(first, inputs=[{"flight": "F1"}])
    elsewhere = bench.job / "elsewhere.las"
    elsewhere.write_bytes(second.read_bytes()[::-1])
    bench.record(elsewhere, inputs=[{"flight": "F2"}])
    seen: list[Any] = []

    def look(check: Any, evidence: Any) -> Iterable[Finding]:
        seen.append(evidence)
        yield check.conforms(WHOLE_DELIVERY, "Seen.")

    bench.install(bench.say(look))
    bench.audit(quick=True)
    (evidence,) = seen
    assert [process.id for process in evidence.processes] == ["R1"]
    assert [card.id for card in evidence.flights] == ["F1"]
    assert [card.id for card in evidence.rigs] == ["G1"]
    assert evidence.recorded == 2


def test_checkpoints_that_came_later_are_evidence(bench, tmp_path: Path) -> None:
    """A table named with the audit meets the need of a check, and its digest is in the entry."""
    table = tmp_path / "late.csv"
    table.write_text("id,e,n,h\n1,2,3,4\n", encoding="utf-8")
    bench.install(bench.say(needs=("checkpoints",)))
    assert bench.audit(quick=True).findings[0].outcome is Outcome.NOT_ASSESSED
    result = bench.audit(quick=True, checkpoints=table)
    assert result.findings[0].outcome is Outcome.CONFORMS
    with bench.read() as book:
        stored = book.entry(result.entry).values["checkpoints"]
    assert stored["sha256"] == hashlib.sha256(table.read_bytes()).hexdigest()
    with pytest.raises(UnreadableFileError):
        bench.audit(checkpoints=tmp_path / "absent.csv")


def test_the_geoid_of_the_specification_is_evidence(bench) -> None:
    """The grid that job.toml names is found and hashed; one that is not there meets no need."""
    bench.write('[coordinates]\ngeoid = { name = "g", file = "geoid/g.tif" }\n')
    bench.install(bench.say(needs=("geoid-grid",)))
    found = {each.check: each.needs for each in bench.audit(quick=True).findings}
    assert found.pop(AUDIT_ITSELF) == ("geoid-grid: geoid/g.tif was not found or cannot be read",)
    assert list(found.values()) == [("geoid-grid: geoid/g.tif was not found",)]
    (bench.job / "geoid").mkdir()
    (bench.job / "geoid" / "g.tif").write_bytes(b"grid")
    seen: list[Any] = []

    def look(check: Any, evidence: Any) -> Iterable[Finding]:
        seen.append((evidence.geoid_sha256, Path(evidence.geoid_grid).read_bytes()))
        yield check.conforms(WHOLE_DELIVERY, "Seen.")

    bench.install(bench.say(look, needs=("geoid-grid",)))
    bench.audit(quick=True)
    assert seen == [(hashlib.sha256(b"grid").hexdigest(), b"grid")]


# Blanks.


def test_blanks_name_what_they_cost(bench) -> None:
    """Blank keys and fields are listed with their checks, absent records once."""
    first, second = bench.survey.paths
    values = {"run.software": {"value": "X", "known_by": "typed", "confirmed": True}}
    bench.record(first, second, values=values)

    def lacks(check: Any, _: Any) -> Iterable[Finding]:
        yield check.not_assessed("R1", "No.", ("run.geoid_frame", "coordinates.vertical"))

    bench.install(
        bench.say(id="a", fields=("run.software", "run.version", "flight.mount_mode")),
        bench.say(id="b", fields=("run.version", "run.build")),
        bench.say(id="c", needs=("specification.coordinates.horizontal",)),
        bench.say(lacks, id="d"),
    )
    blanks = {blank.field: blank for blank in bench.audit(quick=True).blanks}
    assert {name: blank.checks for name, blank in blanks.items()} == {
        "run.version": ("a", "b"),
        "flight": ("a",),
        "coordinates.horizontal": ("c",),
        "coordinates.vertical": ("d",),
        "run.geoid_frame": ("d",),
    }
    assert blanks["run.version"].subjects == ("R1",)
    assert "mixed versions" in blanks["run.version"].why


def test_places_are_given_in_degrees_too(bench) -> None:
    """A place in the job's system is told in longitude and latitude beside it."""
    answer = fails(Grade.MINOR, where=Where(xy=(552000.0, 4272000.0)))
    bench.install(bench.say(answer))
    assert bench.audit(quick=True).findings[0].where.lonlat is None
    bench.write('[coordinates]\nhorizontal = "EPSG:6346"\n')
    found = bench.audit(quick=True).findings[0].where.lonlat
    # NAD83(2011) by the coordinate library itself, EPSG:6318 from EPSG:6346.
    there = pyproj.Transformer.from_crs(6346, 6318, always_xy=True).transform(552000.0, 4272000.0)
    assert found == pytest.approx(there, abs=1e-7)


def test_a_place_that_is_nowhere_stays_as_it_is(bench) -> None:
    """A place that the system cannot turn into degrees is kept in its own units."""
    bench.write('[coordinates]\nhorizontal = "EPSG:6346"\n')
    bench.install(bench.say(fails(Grade.MINOR, where=Where(xy=(1e30, -1e30)))))
    where = bench.audit(quick=True).findings[0].where
    assert (where.xy, where.lonlat) == ((1e30, -1e30), None)


def test_a_criterion_without_value_is_a_blank(bench) -> None:
    """What only the customer can say is listed as a blank with its check."""

    class Limits(Criteria):
        limit_m: float

    bench.install(bench.say(criteria=Limits), bench.say(id="other"))
    (blank,) = bench.audit(quick=True).blanks
    assert (blank.field, blank.checks) == ("criteria.says.limit_m", ("says",))


def test_tiles_in_laz_are_audited_alike(bench, tmp_path: Path) -> None:
    """The same points compressed are counted alike and have the same fingerprint."""
    bench.install(bench.count())
    packed = SurveyBuilder(tmp_path / "packed", Layout(compressed=True))
    plain, laz = bench.audit(), bench.audit(packed.paths[0].parent)
    assert plain.points == laz.points

    def read(entry: int) -> set[str]:
        with bench.read() as book:
            stored = json.loads(book.blob(book.entry(entry).values["fingerprints"]))
        return {value["full"] for value in stored.values()}

    assert read(plain.entry) == read(laz.entry)
