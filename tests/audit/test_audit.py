"""An audit from the folder to the entry; nothing is written into the folder."""

from __future__ import annotations

import hashlib
import json
from pathlib import Path

from audit_findings import fails

from ledger.auditentry import read_audit, read_latest_audits
from ledger.model.finding import Grade, Where
from ledger.testing import SurveyBuilder


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
