"""Derived tables: what grew entry by entry equals what is made anew from the beginning."""

from __future__ import annotations

import sqlite3
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from ledger.errors import ContractError
from ledger.model.artefact import Output
from ledger.model.ask import NoProgress
from ledger.model.entry import Draft, Kind
from ledger.store import derive
from ledger.store.schema import DERIVED_TABLES, DERIVED_VERSION
from ledger.store.writing import BookWriter, create_book


def test_rebuilt_tables_equal_those_that_grew(story_writer, open_behind, dump_derived):
    """Dropping and rebuilding every derived table changes no row of it."""
    tables = open_behind(story_writer.folder)
    grown = dump_derived(tables)
    assert all(rows for name, rows in grown.items() if name != "withheld")
    tables.execute("BEGIN")
    derive.drop(tables)
    tables.execute("COMMIT")
    names = {row[0] for row in tables.execute("SELECT name FROM sqlite_master")}
    assert not names & set(DERIVED_TABLES)
    story_writer.rebuild()
    assert dump_derived(tables) == grown


def test_entry_by_entry_the_tables_stay_equal(writer, story, open_behind, dump_derived):
    """After each single entry the tables are those of a rebuild."""
    tables = open_behind(writer.folder)
    for item in story:
        writer.append(item.draft, item.blobs, item.id_prefix)
        grown = dump_derived(tables)
        writer.rebuild()
        assert dump_derived(tables) == grown


NAMES = st.sampled_from(["a", "b", "c"])
DECISIONS = st.sampled_from(["", "accepted", "rejected", "superseded", "undecided"])


@st.composite
def additions(draw, samples):
    """Draw one entry out of few names, so that entries meet the same files and runs."""
    file = samples["file"](f"out/{draw(NAMES)}", draw(NAMES))
    kind = draw(st.sampled_from(["files", "sighting", "run", "step", "decision", "card", "audit"]))
    if kind in ("files", "sighting"):
        stored = [samples["values"](file)]
        return samples["list"](kind, "manifest", stored, flight=draw(st.sampled_from(["", "F1"])))
    if kind in ("run", "step"):
        values = {"inputs": [{"sha256": file.sha256, "path": file.path, "role": "points"}]}
        point = samples["fingerprint"](draw(NAMES))
        output = Output(samples["file"](f"out/{draw(NAMES)}", draw(NAMES)), 5, point)
        return samples["run"](kind, [output], decision=draw(DECISIONS), **values)
    if kind == "decision":
        decision = draw(DECISIONS.filter(bool))
        return samples["plain"](kind, process=f"R{draw(st.integers(1, 3))}", decision=decision)
    if kind == "card":
        name = draw(st.sampled_from(["", "north"]))
        value = {"value": draw(NAMES), "known_by": "typed", "confirmed": True}
        return samples["plain"]("flight", id="F1", name=name, values={"flight.wind": value})
    delivered = [{"path": file.path, "sha256": file.sha256, "bytes": 3}]
    return samples["list"]("audit", "manifest", delivered, id="D1", folder="deliver")


@given(data=st.data())
@settings(
    max_examples=25,
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
def test_any_sequence_of_entries_gives_equal_tables(data, samples, tmp_path_factory, dump_derived):
    """Whatever is entered in whatever order, grown and rebuilt tables are equal."""
    folder: Path = tmp_path_factory.mktemp("book")
    with create_book(folder, machine="0123abcd") as writer:
        for item in data.draw(st.lists(additions(samples), max_size=8)):
            try:
                writer.append(item.draft, item.blobs, item.id_prefix)
            except ContractError:
                assert item.draft.kind == Kind.DECISION  # on a run that is not there yet
        connection: sqlite3.Connection = writer._connection
        grown = dump_derived(connection)
        assert writer.check(NoProgress()).derived_difference == ""
        writer.rebuild()
        assert dump_derived(connection) == grown


def test_an_entry_of_an_unknown_kind_is_kept_and_counted(writer):
    """A kind that a later version added is an entry like any other."""
    writer.append(Draft("seal", {"id": "Z4", "size": 3}))
    assert writer.last("seal").values == {"id": "Z4", "size": 3}
    assert writer.append(Draft("seal", {}), id_prefix="Z").values["id"] == "Z5"


@pytest.mark.parametrize("step", [-1, 1])
def test_tables_of_another_version_are_made_anew(story_folder, open_behind, step):
    """Those that an older or a newer program left are not taken for ours."""
    behind = open_behind(story_folder)
    behind.execute("UPDATE derived SET version = version + ?", (step,))
    with BookWriter.open(story_folder) as writer:
        writer.append(Draft(Kind.FLIGHT, {"id": "F9", "name": "", "values": {}}))
    assert behind.execute("SELECT version FROM derived").fetchall() == [(DERIVED_VERSION,)]
