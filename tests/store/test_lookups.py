"""Questions about runs, flights and files, as they stand after every later entry."""

from __future__ import annotations

import pytest

from ledger.model.artefact import Output
from ledger.model.entry import Draft
from ledger.model.known import KnownBy, KnownValue
from ledger.model.process import Decision, Input

TYPED = KnownValue("drone")


def test_a_flight_is_what_its_entries_say_together(story_writer):
    """An empty flight filled later has the later name, values and author, under one id."""
    (flight,) = story_writer.cards("flight")
    assert (flight.id, flight.name, flight.entry, flight.by) == ("F1", "north", 7, "pilot")
    assert flight.values == {"flight.mount_mode": TYPED}
    assert flight == story_writer.card("F1")
    assert [card.id for card in story_writer.cards("rig")] == ["G1"]
    assert story_writer.card("F2") is None


def test_a_later_entry_replaces_the_values_it_gives(story_writer):
    """Values that a later entry does not give stay, and its silence on the name keeps the name."""
    calm = KnownValue("calm", known_by=KnownBy.ASSUMED, confirmed=False)
    hand = KnownValue("hand")
    for values in ({"flight.wind": calm}, {"flight.mount_mode": hand}):
        stored = {key: value.to_values() for key, value in values.items()}
        story_writer.append(Draft("flight", {"id": "F1", "name": "", "values": stored}))
    flight = story_writer.card("F1")
    assert flight.values == {"flight.wind": calm, "flight.mount_mode": hand}
    assert (flight.name, flight.entry) == ("north", 16)


def test_cards_come_in_order_of_their_numbers(writer):
    """The tenth flight comes after the second."""
    for _ in range(11):
        writer.append(Draft("flight", {"values": {}}), id_prefix="F")
    assert [card.id for card in writer.cards("flight")] == [f"F{n}" for n in range(1, 12)]


def test_a_run_has_its_inputs_outputs_and_latest_decision(story_writer, samples):
    """A run is what its entry says, with the decision that came last."""
    first, second, step = story_writer.processes()
    assert [process.id for process in (first, second, step)] == ["R1", "R2", "S1"]
    assert (first.decision, first.decision_entry, first.reason) == (Decision.REJECTED, 9, "tilted")
    assert first.decision_time == story_writer.entry(9).time
    assert (second.decision, second.decision_entry) == (Decision.ACCEPTED, 10)
    assert second.decision_time == second.time == story_writer.entry(10).time
    assert (second.name, second.reason, second.entry, second.kind) == (
        "final",
        "straight",
        10,
        "run",
    )
    assert second.values["run.lever_arm"] == KnownValue(["0.121", "0.002", "-0.094"], unit="m")
    log = samples["digest"]("raw/F1/base.obs")
    assert second.inputs == (
        Input(flight="F1"),
        Input(sha256=log, path="raw/F1/base.obs", role="base-log"),
    )
    points, table = second.outputs
    assert points == Output(samples["file"]("out/R2/a.laz"), 1000, samples["fingerprint"]("b"))
    assert table == Output(samples["file"]("out/R2/report.csv", role="document"))
    assert story_writer.process("S1") == step
    assert story_writer.process("R9") is None


def test_a_later_decision_stands(story_writer):
    """The last decision counts, whatever came before."""
    draft = Draft("decision", {"process": "R2", "decision": "superseded", "reason": "R3"})
    entry = story_writer.append(draft)
    run = story_writer.process("R2")
    assert (run.decision, run.decision_entry) == (Decision.SUPERSEDED, entry.seq)


def test_a_later_entry_of_a_run_adds_to_it(story_writer, samples):
    """Outputs found later join the run; its name, number and decision stay."""
    late = Output(samples["file"]("out/R2/late.laz"), 5, None)
    item = samples["run"]("run", [late], id="R2", values={"run.zone": TYPED.to_values()})
    before = story_writer.process("R2")
    story_writer.append(item.draft, item.blobs)
    after = story_writer.process("R2")
    assert [output.file.path for output in after.outputs][-1] == "out/R2/late.laz"
    assert len(after.outputs) == 3
    assert after.inputs == before.inputs
    assert after.values == {**before.values, "run.zone": TYPED}
    kept = ("name", "entry", "time", "decision", "decision_entry", "reason")
    assert [getattr(after, name) for name in kept] == [getattr(before, name) for name in kept]


def test_uses_of_a_raw_file(story_writer, samples):
    """A raw file was registered, seen elsewhere, and went into every run of its flight."""
    uses = story_writer.uses(samples["digest"]("raw/F1/scan.bin"))
    found = [(use.relation, use.owner, use.entry) for use in uses]
    assert found == [
        ("registered", "F1", 5),
        ("seen", "", 6),
        ("input", "R1", 8),
        ("input", "R2", 10),
    ]
    registered = uses[0].file
    assert registered == samples["file"](
        "raw/F1/scan.bin", role="capture", facts={"format": "raw"}, path_bytes="72"
    )
    assert uses[1].file.path == "/mnt/card/scan.bin"


def test_uses_of_a_delivered_file(story_writer, samples):
    """A delivered file was made by a step and audited in its folder, known by size and time."""
    uses = story_writer.uses(samples["digest"]("out/S1/a.las"))
    assert [(use.relation, use.owner, use.entry) for use in uses] == [
        ("output", "S1", 11),
        ("audited", "D1", 12),
    ]
    assert uses[1].file.path == "deliver/a.las"
    assert uses[1].file.bytes == 5
    assert story_writer.uses("00" * 32) == ()


def test_a_file_that_an_audit_could_not_read_has_no_use(story_writer, samples):
    """A delivered file without a digest does not take the place of what was seen before."""
    rows = [{"path": "a.las", "sha256": "", "bytes": 5}]
    item = samples["list"]("audit", "manifest", rows, id="D2", folder="deliver")
    story_writer.append(item.draft, item.blobs)
    latest = {record.path: record.sha256 for record in story_writer.files_last_seen()}
    assert latest["deliver/a.las"] == samples["digest"]("out/S1/a.las")
    assert story_writer.uses("") == ()


def test_an_input_keeps_what_is_known_of_the_same_file(story_writer, samples):
    """An input named by path and digest has size, time and facts of the earlier record."""
    digest = samples["digest"]("raw/F1/base.obs")
    used = [use.file for use in story_writer.uses(digest) if use.relation == "input"][-1]
    assert used == samples["file"]("raw/F1/base.obs", role="base-log", fault="it ends early")


def test_an_input_takes_the_latest_of_several_records(story_writer, samples):
    """Of two records of the same bytes under one path, an input has the later time."""
    file = samples["file"]("raw/F1/base.obs", mtime_ns=1_800_000_000_123_456_789)
    seen = samples["list"]("sighting", "manifest", [samples["values"](file)], count=1)
    story_writer.append(seen.draft, seen.blobs)
    used = {"sha256": file.sha256, "path": file.path, "role": "base-log"}
    run = samples["run"]("run", [], inputs=[used])
    story_writer.append(run.draft, run.blobs, "R")
    uses = {use.owner: use for use in story_writer.uses(file.sha256) if use.relation == "input"}
    assert uses["R3"].file.mtime_ns == 1_800_000_000_123_456_789


def test_files_of_a_flight(story_writer):
    """A flight has the files that were registered with it."""
    paths = [record.path for record in story_writer.files_of_flight("F1")]
    assert paths == ["raw/F1/scan.bin", "raw/F1/base.obs"]
    assert story_writer.files_of_flight("F2") == ()


def test_every_path_is_known_as_it_was_last_seen(story_writer, samples):
    """Each path of the book comes once, with its latest digest."""
    records = story_writer.files_last_seen()
    paths = [record.path for record in records]
    assert paths == sorted(set(paths))
    assert paths == [
        "/mnt/card/scan.bin",
        "deliver/a.las",
        "out/R1/a.laz",
        "out/R2/a.laz",
        "out/R2/report.csv",
        "out/S1/a.las",
        "raw/F1/base.obs",
        "raw/F1/scan.bin",
    ]
    changed = [samples["values"](samples["file"]("raw/F1/scan.bin", "changed"))]
    item = samples["list"]("sighting", "manifest", changed, count=1)
    story_writer.append(item.draft, item.blobs)
    latest = {record.path: record.sha256 for record in story_writer.files_last_seen()}
    assert latest["raw/F1/scan.bin"] == samples["digest"]("changed")
    assert len(latest) == len(paths)


def test_a_file_written_over_by_its_own_step_is_the_output(story_writer, samples):
    """Where a step wrote over its input, the path is last seen as the output."""
    path = "out/S2/a.las"
    item = samples["run"](
        "step",
        [Output(samples["file"](path, "after"))],
        inputs=[{"sha256": samples["digest"]("before"), "path": path, "role": "points"}],
    )
    story_writer.append(item.draft, item.blobs, "S")
    latest = {record.path: record.sha256 for record in story_writer.files_last_seen()}
    assert latest[path] == samples["digest"]("after")


@pytest.mark.parametrize("level", ["full", "geometry"])
def test_outputs_are_found_by_their_points(story_writer, samples, level):
    """Outputs with the same points are found at each level, audits of them are not outputs."""
    value = getattr(samples["fingerprint"]("b"), level)
    ((process, output),) = story_writer.find_outputs(level, value)
    assert (process.id, output.file.path) == ("R2", "out/R2/a.laz")
    audited = getattr(samples["fingerprint"]("d"), level)
    assert story_writer.find_outputs(level, audited) == ()


def test_the_latest_fingerprint_of_a_file_counts(story_writer, samples):
    """A file fingerprinted when it was recorded and again in an audit has the later one."""
    delivered = story_writer.fingerprint(samples["digest"]("out/S1/a.las"))
    assert delivered == samples["fingerprint"]("d")
    made = story_writer.fingerprint(samples["digest"]("out/R1/a.laz"))
    assert made == samples["fingerprint"]("a")
    assert story_writer.fingerprint(samples["digest"]("out/R2/report.csv")) is None


def test_acceptances_by_finding(story_writer):
    """The latest acceptance of a finding is the one that counts."""
    accepted = story_writer.acceptances()
    assert {finding: entry.seq for finding, entry in accepted.items()} == {"0a1b2c3d4e5f": 13}
    values = {"finding": "0a1b2c3d4e5f", "reason": "agreed with the client", "audit": 12}
    later = story_writer.append(Draft("acceptance", values))
    assert story_writer.acceptances() == {"0a1b2c3d4e5f": later}
