"""Files against the book after time has passed."""

from __future__ import annotations

import os
import shutil
import sys
from dataclasses import replace
from pathlib import Path

import pytest
from made_book import MadeBook, make_fingerprint

from ledger.errors import MalformedFileError, UsageError
from ledger.model.artefact import FingerprintValue
from ledger.model.ask import NoProgress
from ledger.recheck import FileState, RecheckResult, recheck
from ledger.store.reading import Book

AS_RECORDED = FileState.AS_RECORDED


def states(result: RecheckResult) -> dict[str, FileState]:
    """Return the state of every file that is not as recorded."""
    return {file.path: file.state for file in result.files if file.state is not AS_RECORDED}


def flip_byte(path: Path) -> None:
    """Flip one bit of a file and leave its size and times as they were."""
    found = path.stat()
    content = bytearray(path.read_bytes())
    content[len(content) // 2] ^= 1
    path.write_bytes(content)
    os.utime(path, ns=(found.st_atime_ns, found.st_mtime_ns))


def test_nothing_has_changed(job: MadeBook) -> None:
    """All files and the book are as recorded, and the result is entered."""
    result = recheck(job.folder)
    assert result.state_ok
    assert (result.book, result.first_broken_entry) == ("unbroken", None)
    assert result.counts == {AS_RECORDED: 6}
    assert result.listed == ()
    assert len(recheck(job.folder, all_files=True).listed) == 6
    assert [audit.holds for audit in result.audits] == [True]
    with Book.open(job.folder) as book:
        entry = book.last("recheck")
        assert entry is not None
        assert result.entry == 4
        assert entry.values["counts"] == {"as recorded": 6}
        assert book.blob(entry.values["files"]) == b"[]"
        assert book.check(NoProgress()).unbroken


def test_one_flipped_bit_after_the_audit_is_found_and_the_audit_named(job: MadeBook) -> None:
    """Same size, same time, one other bit: the file is changed, and its audit no longer holds."""
    flip_byte(job.folder / "deliver/tile_09.las")
    result = recheck(job.folder)
    assert states(result) == {"deliver/tile_09.las": FileState.CHANGED}
    assert not result.state_ok
    (file,) = result.listed
    assert file.audits == ("D1",)
    assert file.sentence == "deliver/tile_09.las is not the file that was audited in D1."
    (audit,) = result.audits
    assert (audit.holds, audit.files.changed, audit.files.missing) == (False, ("tile_09.las",), ())


def test_a_flipped_bit_of_a_raw_file_is_found(job: MadeBook) -> None:
    """A changed raw file is changed, and no audit is blamed for it."""
    flip_byte(job.folder / "raw/cap_p2.bin")
    result = recheck(job.folder)
    assert states(result) == {"raw/cap_p2.bin": FileState.CHANGED}
    assert result.listed[0].audits == ()
    assert "other bytes than the book recorded" in result.listed[0].sentence
    assert result.audits[0].holds


def test_a_missing_file_is_missing_even_where_its_bytes_lie_elsewhere(job: MadeBook) -> None:
    """A delivered tile that is gone is missing, although the run's own copy is there."""
    (job.folder / "deliver/tile_10.las").unlink()
    result = recheck(job.folder)
    assert states(result) == {"deliver/tile_10.las": FileState.MISSING}
    assert not result.state_ok
    assert not result.is_incomplete
    assert result.audits[0].files.missing == ("tile_10.las",)


def test_an_added_file_ends_the_audit_of_its_folder(job: MadeBook) -> None:
    """A file that was not there at the audit is told, since the folder is another delivery now."""
    job.write("deliver/tile_11.las", "new")
    result = recheck(job.folder)
    assert result.audits[0].files.added == ("tile_11.las",)
    assert not result.audits[0].holds


def test_the_entry_lists_what_is_not_as_recorded(job: MadeBook) -> None:
    """The stored result holds every path with its state that is not as recorded."""
    flip_byte(job.folder / "deliver/tile_09.las")
    (job.folder / "raw/cap_p1.bin").unlink()
    recheck(job.folder)
    with Book.open(job.folder) as book:
        entry = book.last("recheck")
        assert entry is not None
        assert entry.values["counts"] == {"as recorded": 4, "changed": 1, "missing": 1}
        assert book.blob(entry.values["files"]) == (
            b'[{"path":"deliver/tile_09.las","state":"changed"},'
            b'{"path":"raw/cap_p1.bin","state":"missing"}]'
        )


def test_an_edited_header_is_told_from_changed_points(job: MadeBook) -> None:
    """With the same points and another header, the state says so; with other points it does not."""
    flip_byte(job.folder / "deliver/tile_09.las")
    read: list[Path] = []

    def same(path: Path) -> FingerprintValue:
        read.append(path)
        return make_fingerprint("p", "f")

    result = recheck(job.folder, read_fingerprint=same)
    assert states(result) == {"deliver/tile_09.las": FileState.HEADER_CHANGED}
    assert not result.state_ok
    assert result.listed[0].sentence.endswith("its points are unchanged, its header is not.")
    assert read == [job.folder / "deliver/tile_09.las"]  # of no other file points are read

    finer = recheck(
        job.folder, read_fingerprint=lambda _: replace(make_fingerprint("p", "f"), rounded=True)
    )
    assert states(finer) == {"deliver/tile_09.las": FileState.CHANGED}
    assert "finer is not seen" in finer.listed[0].sentence

    other = recheck(job.folder, read_fingerprint=lambda _: make_fingerprint("p", "g"))
    assert states(other) == {"deliver/tile_09.las": FileState.CHANGED}


def test_points_are_not_compared_where_the_book_holds_no_fingerprint(job: MadeBook) -> None:
    """A file whose points nobody read before is changed, whatever its points are now."""
    flip_byte(job.folder / "deliver/tile_10.las")

    def refuse(path: Path) -> FingerprintValue:
        raise AssertionError(path)

    result = recheck(job.folder, read_fingerprint=refuse)
    assert states(result) == {"deliver/tile_10.las": FileState.CHANGED}


def test_a_file_whose_points_can_no_longer_be_read_is_changed(job: MadeBook) -> None:
    """An error while points are read leaves the file changed, and the recheck goes on."""
    flip_byte(job.folder / "deliver/tile_09.las")

    def fail(path: Path) -> FingerprintValue:
        raise MalformedFileError("the point block is damaged", where=str(path))

    result = recheck(job.folder, read_fingerprint=fail)
    assert states(result) == {"deliver/tile_09.las": FileState.CHANGED}
    assert result.entry is not None


def test_only_the_paths_named_are_read(job: MadeBook) -> None:
    """A folder or file limits the recheck; audits of other folders are not judged."""
    flip_byte(job.folder / "raw/cap_p1.bin")
    result = recheck(job.folder, [job.folder / "deliver"])
    assert result.counts == {AS_RECORDED: 2}
    assert [audit.id for audit in result.audits] == ["D1"]
    one = recheck(job.folder, [job.folder / "deliver/tile_09.las", job.folder / "raw"])
    assert one.counts == {AS_RECORDED: 2, FileState.CHANGED: 1}
    assert one.audits == ()


def test_a_renamed_copy_is_known_by_its_bytes(job: MadeBook, tmp_path: Path) -> None:
    """A copy under another name is as recorded; a file with unknown bytes is not in the book."""
    copy = tmp_path / "copy of cap.bin"
    shutil.copy(job.folder / "raw/cap_p1.bin", copy)
    assert recheck(job.folder, [copy]).state_ok
    flip_byte(copy)
    result = recheck(job.folder, [copy])
    assert [file.state for file in result.files] == [FileState.UNKNOWN]
    assert not result.state_ok


def test_a_path_of_which_nothing_is_known_is_refused(job: MadeBook, tmp_path: Path) -> None:
    """A path that is neither recorded nor there is an error, not an empty success."""
    with pytest.raises(UsageError, match="recorded no file there"):
        recheck(job.folder, [tmp_path / "nowhere"])
    (tmp_path / "empty").mkdir()
    with pytest.raises(UsageError):
        recheck(job.folder, [tmp_path / "empty"])


def test_a_drive_that_is_away_is_not_a_missing_file(tmp_path: Path) -> None:
    """A raw file on an absent drive is *not connected*; nothing else being wrong: incomplete."""
    book = MadeBook(tmp_path)
    book.write("raw/cap.bin", "capture")
    seen = replace(book.see("raw/cap.bin", "capture"), path="/no-such-drive-7/cap.bin")
    (tmp_path / "raw/cap.bin").unlink()
    book.sight(seen)
    book.close()
    result = recheck(tmp_path)
    assert states(result) == {"/no-such-drive-7/cap.bin": FileState.NOT_CONNECTED}
    assert (result.state_ok, result.is_incomplete) == (False, True)


def test_an_absent_drive_does_not_matter_where_another_good_copy_was_read(tmp_path: Path) -> None:
    """With the same bytes read elsewhere an absent drive is told, and all is well."""
    book = MadeBook(tmp_path)
    book.write("raw/cap.bin", "capture")
    book.register("raw/cap.bin")
    book.sight(replace(book.see("raw/cap.bin", "capture"), path="E:/DCIM/cap.bin"))
    book.close()
    if os.name != "nt":
        result = recheck(tmp_path)
        assert states(result) == {"E:/DCIM/cap.bin": FileState.NOT_CONNECTED}
        assert result.state_ok
        assert result.listed[0].has_other_copy
        flip_byte(tmp_path / "raw/cap.bin")
        assert not recheck(tmp_path).state_ok


def test_a_copy_that_was_only_come_across_may_go(tmp_path: Path) -> None:
    """A sighting that is gone does no harm while a registered file has the bytes; the file does."""
    book = MadeBook(tmp_path / "job")
    book.write("raw/cap.bin", "capture")
    book.register("raw/cap.bin")
    card = tmp_path / "card" / "cap.bin"
    book.sight(replace(book.see("raw/cap.bin", "capture"), path=card.as_posix()))
    book.close()
    card.parent.mkdir()
    result = recheck(book.folder)
    assert states(result) == {card.as_posix(): FileState.MISSING}
    assert result.state_ok
    shutil.move(book.folder / "raw/cap.bin", card)
    result = recheck(book.folder)
    assert states(result) == {"raw/cap.bin": FileState.MISSING}
    assert not result.state_ok


def test_an_output_that_a_later_run_overwrote_is_as_recorded(tmp_path: Path) -> None:
    """The latest record of a path counts: new bytes of a new run are no change."""
    book = MadeBook(tmp_path)
    book.write("out/a.las", "first")
    book.run("out/a.las")
    book.audit("out")
    book.write("out/a.las", "second")
    book.run("out/a.las")
    book.close()
    result = recheck(tmp_path)
    assert states(result) == {}
    assert result.state_ok
    # The audit of the old bytes is over all the same.
    assert result.audits[0].files.changed == ("a.las",)


def test_changed_bytes_that_were_only_seen_are_still_changed(job: MadeBook) -> None:
    """A sighting of new bytes at an audited path does not make them the audited ones."""
    job.write("deliver/tile_09.las", "tile 9 repaired by hand")
    again = job.writer.open(job.folder)
    job.writer = again
    job.sight(job.see("deliver/tile_09.las"))
    job.close()
    result = recheck(job.folder)
    assert states(result) == {"deliver/tile_09.las": FileState.CHANGED}


def test_a_new_audit_of_the_folder_takes_the_place_of_the_old_one(job: MadeBook) -> None:
    """After new bytes were audited, the folder is held against the new audit alone."""
    job.write("deliver/tile_09.las", "tile 9, second delivery")
    job.writer = job.writer.open(job.folder)
    job.audit("deliver", name="D2")
    job.close()
    result = recheck(job.folder)
    assert result.state_ok
    assert [(audit.id, audit.holds) for audit in result.audits] == [("D2", True)]


@pytest.mark.skipif(os.name == "nt" or os.geteuid() == 0, reason="rights do not stop this user")
def test_a_file_that_may_not_be_read_is_never_a_pass(job: MadeBook) -> None:
    """A refused file is *cannot be read*, with the reason."""
    (job.folder / "raw/cap_p1.bin").chmod(0)
    result = recheck(job.folder)
    assert states(result) == {"raw/cap_p1.bin": FileState.UNREADABLE}
    assert not result.state_ok


def test_a_folder_in_the_place_of_a_file_is_never_a_pass(job: MadeBook) -> None:
    """Something else under the path of a file cannot be read as that file."""
    (job.folder / "raw/cap_p1.bin").unlink()
    (job.folder / "raw/cap_p1.bin").mkdir()
    result = recheck(job.folder)
    assert states(result) == {"raw/cap_p1.bin": FileState.UNREADABLE}
    assert not result.state_ok


def test_a_file_that_the_audit_could_not_read_has_nothing_to_be_held_against(
    tmp_path: Path,
) -> None:
    """Without a digest in the book, a readable file is not as recorded and its audit not sound."""
    book = MadeBook(tmp_path)
    book.write("deliver/a.las", "a")
    book.write("deliver/b.las", "b")
    book.audit("deliver", unread=("b.las",))
    book.close()
    result = recheck(tmp_path)
    assert states(result) == {"deliver/b.las": FileState.UNKNOWN}
    assert "could not be read at the audit" in result.listed[0].sentence
    assert not result.state_ok
    assert result.audits[0].files.unread == ("b.las",)


@pytest.mark.skipif(sys.platform != "linux", reason="only here may a name be any bytes")
def test_a_name_that_is_no_text_is_found_again(tmp_path: Path) -> None:
    """A file whose name is not Unicode is read at its own path, registered or audited."""
    book = MadeBook(tmp_path)
    name = os.fsdecode(b"tile_\xff.las")
    book.write(f"raw/{name}", "raw")
    book.write(f"deliver/{name}", "tile")
    book.register(f"raw/{name}")
    book.audit("deliver")
    book.close()
    result = recheck(tmp_path)
    assert result.counts == {AS_RECORDED: 2}
    flip_byte(tmp_path / "deliver" / name)
    assert states(recheck(tmp_path)) == {"deliver/tile_\\xff.las": FileState.CHANGED}


def test_a_file_taken_out_of_a_delivery_is_not_missing_for_ever(job: MadeBook) -> None:
    """Missing until the folder is audited without it; a raw file or an output stays expected."""
    (job.folder / "deliver/tile_10.las").unlink()
    job.write("deliver/extra.las", "only ever delivered")
    job.writer = job.writer.open(job.folder)
    job.audit("deliver", name="D2")
    (job.folder / "deliver/extra.las").unlink()
    (job.folder / "out/tile_10.las").unlink()
    job.close()
    assert states(recheck(job.folder)) == {
        "deliver/extra.las": FileState.MISSING,
        "out/tile_10.las": FileState.MISSING,
    }
    job.writer = job.writer.open(job.folder)
    job.audit("deliver", name="D3")
    job.audit("out", name="D4")
    job.close()
    assert states(recheck(job.folder)) == {"out/tile_10.las": FileState.MISSING}
