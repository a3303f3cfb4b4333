"""What an audit knows of the files beside their points: custody, records, grids, places."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable
from pathlib import Path
from typing import Any

import pyproj
import pytest
from audit_findings import fails

from ledger.contract.check import Criteria
from ledger.errors import UnreadableFileError
from ledger.model.audit import AUDIT_ITSELF, WHOLE_DELIVERY
from ledger.model.entry import Draft
from ledger.model.finding import Finding, Grade, Outcome, Where
from ledger.model.lineage import CustodyState, MatchedBy
from ledger.store.writing import BookWriter
from ledger.testing import Layout, SurveyBuilder

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
