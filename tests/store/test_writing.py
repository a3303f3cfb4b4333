"""Adding entries: what is stored, what is refused, and that it is all or nothing."""

from __future__ import annotations

import json
import sqlite3
import zlib
from datetime import datetime, timedelta, timezone

import pytest
from checked_book import NOTE

from ledger import merkle
from ledger.canonical import compute_digest, encode
from ledger.errors import ContractError, NewerBookError
from ledger.model.ask import NoProgress
from ledger.model.entry import Draft
from ledger.store.writing import Addition, format_time


def read_bodies(connection: sqlite3.Connection) -> list[bytes]:
    """Return the stored bodies in order."""
    return [row[0] for row in connection.execute("SELECT body FROM journal ORDER BY seq")]


def test_an_entry_gets_number_time_computer_and_root(writer):
    """The first entry is number 1 and states when, where and by whom it was made."""
    entry = writer.append(Draft("job", {"reference": "J-17"}, by="site engineer"))
    assert (entry.seq, entry.time, entry.machine) == (1, "2026-05-04T06:02:00Z", "0123abcd")
    assert (entry.kind, entry.version, entry.by) == ("job", 1, "site engineer")
    assert writer.entry(1) == entry
    assert writer.size == 1
    assert writer.root == entry.root


def test_a_body_is_canonical_json_of_the_whole_entry(story_writer, open_behind):
    """Every stored body is the RFC 8785 form of itself and holds exactly the documented keys."""
    for seq, body in enumerate(read_bodies(open_behind(story_writer.folder)), start=1):
        parts = json.loads(body)
        assert encode(parts) == body
        keys = {"blobs", "by", "kind", "machine", "seq", "time", "values", "version"}
        assert set(parts) == keys
        assert parts["seq"] == seq


def test_every_root_is_that_of_the_tree_over_the_stored_bytes(story_writer, open_behind):
    """The root beside each entry is the RFC 9162 root over the bodies up to it."""
    bodies = read_bodies(open_behind(story_writer.folder))
    for entry in story_writer.entries():
        leaves = [merkle.hash_leaf(body) for body in bodies[: entry.seq]]
        assert entry.root == merkle.compute_root(leaves)


def test_stored_nodes_prove_every_entry_and_every_earlier_book(story_writer, open_behind):
    """From the stored nodes, inclusion and consistency can be shown for any size."""
    bodies = read_bodies(open_behind(story_writer.folder))
    roots = {entry.seq: entry.root for entry in story_writer.entries()}
    size = story_writer.size
    for seq in range(1, size + 1):
        proof = merkle.compute_inclusion_proof(seq - 1, size, story_writer.node)
        leaf = merkle.hash_leaf(bodies[seq - 1])
        assert merkle.verify_inclusion(leaf, seq - 1, size, proof, roots[size])
        proof = merkle.compute_consistency_proof(seq, size, story_writer.node)
        assert merkle.verify_consistency(seq, roots[seq], size, roots[size], proof)


def test_the_book_gives_the_next_id(writer, samples):
    """Ids go on from the highest of their letter, whoever gave that one."""
    assert writer.append(Draft("flight", {"values": {}}), id_prefix="F").values["id"] == "F1"
    writer.append(Draft("flight", {"id": "F9", "values": {}}))
    assert writer.append(Draft("flight", {"values": {}}), id_prefix="F").values["id"] == "F10"
    run = samples["run"]("run", [])
    assert writer.append(run.draft, run.blobs, "R").values["id"] == "R1"


def test_a_blob_is_kept_once_and_named_by_both_digests(writer, open_behind):
    """The same content is stored once; each entry names content and stored bytes."""
    content = b"line\n" * 1000
    digest = compute_digest(content)
    for _ in range(2):
        writer.append(NOTE, (content, content))
    rows = open_behind(writer.folder).execute("SELECT sha256, bytes FROM blobs").fetchall()
    assert [row[0] for row in rows] == [digest]
    stored = rows[0][1]
    assert zlib.decompress(stored) == content
    assert len(stored) < len(content) / 10
    for body in read_bodies(open_behind(writer.folder)):
        named = {digest: {"bytes": len(content), "stored": compute_digest(stored)}}
        assert json.loads(body)["blobs"] == named
    assert writer.blob(digest) == content


def test_additions_are_stored_together_or_not_at_all(writer, open_behind):
    """When one of several entries is refused, neither it nor the others leave a trace."""
    writer.append(NOTE, (b"before",))
    with pytest.raises(ContractError):
        writer.append_all([Addition(NOTE, (b"blob",)), Addition(Draft("run", {"id": 1.5}))])
    assert writer.size == 1
    tables = open_behind(writer.folder)
    assert tables.execute("SELECT count(*) FROM blobs").fetchone() == (1,)
    state = writer.check(NoProgress())
    assert (state.unbroken, state.derived_difference) == (True, "")
    several = writer.append_all([Addition(NOTE, (b"blob",)), Addition(NOTE)])
    assert [entry.seq for entry in several] == [2, 3]


@pytest.mark.parametrize(
    "draft",
    [
        Draft("run", {"values": {}}),
        Draft("run", {"id": "R1", "values": {"run.crs": "EPSG:6346"}}),
        Draft("run", {"id": "R1", "decision": "perhaps"}),
        Draft("run", {"id": "R1", "outputs": "00" * 32}),
        Draft("run", {"id": "R1", "inputs": ["F1"]}),
        Draft("decision", {"process": "R7", "decision": "accepted"}),
        Draft("files", {"flight": ""}),
        Draft("files", {"manifest": "00" * 32}),
        Draft("audit", {"manifest": "00" * 32}),
        Draft("acceptance", {}),
        Draft("flight", {"id": "F1", "values": {"flight.wind": {"value": "calm"}}}),
        Draft("job", {"size": 1.5}),
        Draft("withhold", {"blob": "00" * 32, "reason": ""}),
    ],
    ids=lambda draft: f"{draft.kind} {sorted(draft.values)}",
)
def test_values_that_do_not_fit_their_kind_are_refused(writer, draft):
    """An entry that could not be looked up later is refused and leaves no trace."""
    with pytest.raises(ContractError):
        writer.append(draft)
    assert writer.size == 0
    assert writer.check(NoProgress()).derived_difference == ""


def test_a_run_and_a_flight_cannot_share_an_id(writer, samples):
    """An id that names a run cannot name a step."""
    run = samples["run"]("run", [])
    writer.append(run.draft, run.blobs, "R")
    with pytest.raises(ContractError, match="R1 is a run, not a step"):
        writer.append(Draft("step", {"id": "R1", "values": {}}))


def test_a_known_kind_of_a_later_layout_is_refused(writer):
    """An entry whose layout this version does not know is not guessed at."""
    with pytest.raises(NewerBookError, match="layout 2"):
        writer.append(Draft("run", {"id": "R1"}, version=2))
    assert writer.append(Draft("weather", {"any": "thing"}, version=7)).seq == 1


def test_times_are_utc_in_whole_seconds():
    """A time of another zone is stored as UTC."""
    zone = timezone(timedelta(hours=-5))
    assert format_time(datetime(2026, 5, 4, 23, 0, 59, 999_999, zone)) == "2026-05-05T04:00:59Z"
