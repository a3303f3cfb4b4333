"""When an audit is valid no longer: the same answer for the bare command, trace and recheck."""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path

import pytest
from made_book import MadeBook, known, make_fingerprint

from ledger import standing
from ledger.audited import read_audited_folder
from ledger.canonical import compute_digest
from ledger.contract.origin import read_installed
from ledger.model.audit import Plugin
from ledger.recheck import recheck
from ledger.standing import Standing, judge_by_look
from ledger.store.reading import Book


@pytest.fixture
def book(tmp_path: Path) -> MadeBook:
    """Give a job with a flight, a run and a delivery of two tiles."""
    made = MadeBook(tmp_path / "job")
    made.write("job.toml", "# as wished\n")
    made.card("rig", "G1", {"rig.scanner_serial": known("SU-07")})
    made.card("flight", "F1", {"flight.rig": known("G1")})
    for name in ("a.las", "b.las"):
        made.write(f"out/{name}", name)
        made.write(f"deliver/{name}", name)
    made.run("out/a.las", "out/b.las", inputs=[{"flight": "F1"}])
    return made


def look(book: MadeBook) -> Standing:
    """Return how the last audit stands by sizes and times."""
    entry = book.writer.last("audit")
    assert entry is not None
    return judge_by_look(book.writer, read_audited_folder(book.writer, entry))


def read(book: MadeBook) -> Standing:
    """Return how the last audit stands once every byte was read."""
    (standing,) = recheck(book.folder).audits
    return standing


def test_an_audit_holds_while_nothing_changes(book: MadeBook) -> None:
    """Same files, same job.toml, same checks, nothing recorded since."""
    book.audit("deliver")
    assert look(book).holds
    assert read(book).holds
    assert (look(book).sentence, read(book).sentence) == ("", "")


def test_files_of_other_sizes_times_and_names(book: MadeBook) -> None:
    """By look: another size is told, another time alone is only in doubt."""
    book.audit("deliver")
    os.utime(book.folder / "deliver/a.las", ns=(1, 1))
    standing = look(book)
    assert (standing.files.touched, standing.reasons) == (("a.las",), ())
    assert standing.sentence == (
        "It may hold no longer: 1 file with another time, size the same (a.las)."
    )
    assert not standing.holds
    book.write("deliver/b.las", "longer than before")
    book.write("deliver/c.las", "new")
    (book.folder / "deliver/a.las").unlink()
    assert look(book).reasons == (
        "1 file of another size (b.las)",
        "1 file missing (a.las)",
        "1 file added (c.las)",
    )
    assert read(book).reasons == (
        "1 file changed (b.las)",
        "1 file missing (a.las)",
        "1 file added (c.las)",
    )


def test_a_recheck_settles_what_only_looked_changed(book: MadeBook) -> None:
    """After a restore times differ: once the bytes were read, the new times are known."""
    book.audit("deliver")
    for name in ("a.las", "b.las"):
        os.utime(book.folder / "deliver" / name, ns=(1, 1))
        os.utime(book.folder / "out" / name, ns=(1, 1))
    assert look(book).files.touched == ("a.las", "b.las")
    assert read(book).holds
    assert look(book).holds
    size = book.writer.size
    assert read(book).holds
    assert book.writer.size == size + 1  # the times are entered once, then only the recheck


def test_what_a_recheck_found_changed_stays_so(book: MadeBook) -> None:
    """Same size and time, other bytes: a look cannot see it; a recheck has, so it counts."""
    book.audit("deliver")
    tile = book.folder / "deliver/a.las"
    noted = tile.stat().st_mtime_ns
    tile.write_text("A.las", encoding="ascii")
    os.utime(tile, ns=(noted, noted))
    assert look(book).holds
    assert read(book).reasons == ("1 file changed (a.las)",)
    assert look(book).reasons == ("1 file changed (a.las)",)
    recheck(book.folder, [book.folder / "out"])
    assert look(book).reasons == ("1 file changed (a.las)",)
    tile.write_text("a.las", encoding="ascii")
    assert read(book).holds
    assert look(book).holds


def test_a_file_that_could_not_be_read_ends_it(book: MadeBook) -> None:
    """Of a file without a digest nobody can say that it is the one that was audited."""
    book.audit("deliver", unread=("b.las",))
    assert look(book).reasons == ("1 file could not be read at the audit (b.las)",)
    assert read(book).reasons == look(book).reasons


@pytest.mark.parametrize("wishes", ["# other wishes\n", None])
def test_another_or_no_specification_ends_it(book: MadeBook, wishes: str | None) -> None:
    """An audit against wishes that are no longer those of the job is valid no longer."""
    book.audit("deliver")
    if wishes is None:
        (book.folder / "job.toml").unlink()
        told = ("job.toml is gone or cannot be read",)
    else:
        book.write("job.toml", wishes)
        told = ("job.toml is not the one that it was held against",)
    assert look(book).reasons == told
    assert read(book).reasons == told


@pytest.mark.parametrize("kind", ["table", "boundary"])
def test_another_table_or_outline_ends_it(book: MadeBook, kind: str) -> None:
    """What the audit read beside the tiles; one that is away, or was at fault, says nothing."""
    place = book.folder / "control" / "read.csv"
    place.parent.mkdir()
    place.write_bytes(b"as it was")
    row = {"path": "control/read.csv", "sha256": compute_digest(b"as it was"), "fault": ""}
    given = {"tables": [row]} if kind == "table" else {"boundary": row}
    book.audit("deliver", **given)
    assert (look(book).reasons, read(book).reasons) == ((), ())
    place.write_bytes(b"as it is")
    told = ("control/read.csv is not the one that it was held against",)
    assert (look(book).reasons, read(book).reasons) == (told, told)
    place.unlink()
    assert look(book).reasons == ()
    place.write_bytes(b"as it is")
    broken = {**row, "fault": "it cannot be read"}
    book.audit("deliver", **({"tables": [broken]} if kind == "table" else {"boundary": broken}))
    assert look(book).reasons == ()


def test_what_was_recorded_since_of_what_is_behind_it_ends_it(book: MadeBook) -> None:
    """A decision, a field card or a rig behind the files, later than the audit, ends it."""
    book.audit("deliver")
    book.decide("R1", "rejected", "wrong lever arm")
    assert look(book).reasons == ("more was recorded of R1",)
    assert read(book).reasons == look(book).reasons
    book.audit("deliver")
    assert look(book).holds
    book.card("flight", "F1", {"flight.mount_mode": known("hand")})
    book.card("rig", "G1", {"rig.scanner_serial": known("SU-08")})
    assert look(book).reasons == ("more was recorded of F1 and G1",)


@pytest.mark.parametrize("about", ["R1", "deliver", "D1", None])
def test_a_number_that_is_stated_later_ends_it(book: MadeBook, about: str | None) -> None:
    """What the report states of these files is held against the checkpoints by an audit alone."""
    book.audit("deliver")
    values = {} if about is None else {"statement.about": known(about)}
    book.card("statement", "T1", {"statement.value": known("0.023", "m"), **values})
    assert look(book).reasons == ("more was recorded of T1",)
    book.audit("deliver")
    assert look(book).holds
    book.card("statement", "T2", {"statement.about": known("R7")})
    assert look(book).holds


def test_what_was_recorded_of_other_work_does_not_end_it(book: MadeBook) -> None:
    """Another rig, flight and run, that made none of the files, leave it as it is."""
    book.card("rig", "G2", {"rig.scanner_serial": known("SU-09")})
    book.card("flight", "F2", {"flight.rig": known("G2")})
    book.audit("deliver")
    book.card("flight", "F2", {"flight.mount_mode": known("hand")})
    book.card("rig", "G2", {"rig.scanner_serial": known("SU-10")})
    book.write("out/c.las", "c")
    book.run("out/c.las", inputs=[{"flight": "F2"}])
    assert look(book).holds


def test_a_run_recorded_late_of_audited_files_ends_it(book: MadeBook) -> None:
    """An orphan of the audit that has its run now is judged otherwise: it has to be audited."""
    book.write("deliver/c.las", "c")
    book.audit("deliver")
    book.run("deliver/c.las")
    assert look(book).reasons == ("more was recorded of R2",)


def test_a_file_known_by_its_points_counts_too(book: MadeBook) -> None:
    """Where the delivered file has other bytes and the same points, its run is behind it."""
    points = make_fingerprint("p", "f")
    book.write("out/d.laz", "compressed")
    name = book.run(book.output("out/d.laz", points))
    book.write("deliver/d.las", "not compressed")
    book.audit("deliver", fingerprints={"d.las": points})
    book.decide(name, "rejected")
    assert look(book).reasons == (f"more was recorded of {name}",)


def test_other_checks_put_it_in_doubt(book: MadeBook) -> None:
    """The plugin's files decide: the same ones hold it, others are said, absent ones end it."""
    own = next(plugin for plugin in read_installed() if plugin.name == "swathbook")
    row = {"id": "x", "revision": 1, "plugin": "swathbook", "version": own.version}
    book.audit("deliver", checks=[{**row, "digest": own.digest}])
    assert look(book).holds
    book.audit("deliver", checks=[{**row, "digest": "0" * 64}])
    told = f"its checks were those of swathbook {own.version}, changed since"
    assert (look(book).reasons, look(book).open_questions) == ((), (told,))
    assert read(book).open_questions == (told,)
    book.audit("deliver", checks=[{**row, "version": "0.0.1", "digest": "0" * 64}])
    assert look(book).open_questions == (
        f"its checks were those of swathbook 0.0.1, now {own.version}",
    )
    book.audit("deliver", checks=[{**row, "plugin": "stranger", "digest": "0" * 64}])
    assert look(book).reasons == ("the checks of stranger are not installed",)


def test_the_same_files_hold_it_without_asking_what_is_installed(
    book: MadeBook, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Where the package has the bytes of then, the slow question is not put; else it is."""
    own = next(plugin for plugin in read_installed() if plugin.name == "swathbook")
    assert own.module == "lidar_checks"
    row = {"id": "x", "revision": 1, "plugin": "swathbook", "version": own.version}
    asked = []

    def ask(module: str, name: str) -> Callable[[], tuple[Plugin, ...]]:
        asked.append((module, name))
        return read_installed

    monkeypatch.setattr(standing, "load_part", ask)
    book.audit("deliver", checks=[{**row, "digest": own.digest, "module": own.module}])
    assert look(book).holds
    assert asked == []
    for others in ({"digest": "0" * 64, "module": own.module}, {"digest": own.digest}):
        book.audit("deliver", checks=[{**row, **others}])
        look(book)
        assert asked.pop() == ("ledger.contract.origin", "read_installed")
    book.audit("deliver", checks=[{**row, "digest": "0" * 64, "module": "no.such.module"}])
    assert look(book).open_questions


def test_reading_the_standing_needs_no_writer(book: MadeBook) -> None:
    """A book on read-only media is judged as any other."""
    book.audit("deliver")
    entry = book.writer.last("audit")
    assert entry is not None
    with Book.open(book.folder) as reader:
        assert judge_by_look(reader, read_audited_folder(reader, entry)).holds
