"""By what a file, a digest, an id or a number is known to the book, and what it leads to."""

from __future__ import annotations

import hashlib
import shutil
from pathlib import Path

import pytest
from made_book import MadeBook, known, make_fingerprint
from traced import ask, find_node

from ledger.errors import NoBookError, UnreadableFileError, UsageError
from ledger.model.known import KnownValue
from ledger.model.lineage import CustodyState
from ledger.report.tracefiles import list_audits
from ledger.trace import trace


def test_a_copy_under_another_name_off_the_job_is_known(survey: MadeBook, tmp_path: Path) -> None:
    """A renamed copy outside the job folder is found by its bytes."""
    stray = tmp_path / "from the client.las"
    shutil.copy(survey.folder / "out/R2/tile_14.las", stray)
    result = trace(survey.folder, str(stray))
    assert (result.known, result.matched_by) == (True, "digest")
    assert result.chain[0].sources == ("R2",)


def test_one_flipped_byte_makes_a_file_unknown(survey: MadeBook) -> None:
    """Changed bytes are not known; the answer says so and names the command that reads points."""
    survey.write("deliver/tile_13.las", "orthometric 1E")
    result = ask(survey, "deliver/tile_13.las")
    assert (result.known, result.matched_by, result.chain) == (False, "nothing", ())
    assert "had other bytes" in result.sentence
    assert [remedy.command for remedy in result.remedies] == [
        "swathbook record deliver/tile_13.las",
        "swathbook audit deliver",
    ]


def test_an_audited_file_with_another_header_is_known_by_its_points(tmp_path: Path) -> None:
    """A fingerprint that an audit stored leads from an edited file to the run of its points."""
    book = MadeBook(tmp_path)
    points = make_fingerprint("p", "f")
    book.write("out/a.las", "a")
    book.run(book.output("out/a.las", points))
    book.write("deliver/a.las", "a with another header")
    book.audit("deliver", fingerprints={"a.las": points})
    book.close()
    result = ask(book, "deliver/a.las")
    assert (result.known, result.matched_by) == (True, "full point fingerprint")
    assert "has other bytes but the same points as out/a.las" in result.sentence
    assert result.chain[0].values["file.matched_with"].value == "out/a.las"
    assert "R1" in result.chain[0].sources


def test_a_file_that_two_runs_made_names_both(tmp_path: Path) -> None:
    """The same bytes in the folders of two runs: the answer tells of the second one, too."""
    book = MadeBook(tmp_path)
    for name in ("out/R1/a.las", "out/R2/a.las", "deliver/a.las"):
        book.write(name, "the same points")
    book.run("out/R1/a.las")
    book.run("out/R2/a.las")
    book.close()
    told = ask(book, "deliver/a.las").sentence
    assert "The same bytes are on record as made by others too: run R2" in told


def test_an_audited_file_without_a_run_says_that_its_maker_is_not_recorded(
    survey: MadeBook,
) -> None:
    """A file that only audits know is known, and what made it is *not recorded*."""
    result = ask(survey, "deliver/report.txt")
    assert result.known
    assert result.state is CustodyState.NOT_TRACED
    assert "file.made_by" in result.not_recorded
    assert "no recorded run or step made it" in result.sentence


def test_a_raw_file_leads_to_its_flight_and_rig(survey: MadeBook) -> None:
    """A raw file is told by its flight, and nothing is said to be missing that made it."""
    result = ask(survey, "raw/cap_p1.bin")
    assert "raw file of flight F1" in result.sentence
    assert {node.id for node in result.chain} >= {"F1", "G1"}
    assert "file.made_by" not in result.not_recorded


def test_a_digest_or_its_first_digits_will_do(survey: MadeBook) -> None:
    """A whole digest and eight digits of it lead to the same chain as the file."""
    digest = hashlib.sha256(b"orthometric 13").hexdigest()
    whole = trace(survey.folder, digest)
    for text in (digest[:8], digest[:20].upper(), f"digest:{digest[:10]}"):
        assert trace(survey.folder, text).chain == whole.chain
    assert trace(survey.folder, "0" * 64).known is False
    assert trace(survey.folder, "00000000").known is False


def test_seven_digits_are_too_few(survey: MadeBook) -> None:
    """Fewer than eight digits are taken for a path, which is not there."""
    with pytest.raises(UsageError, match="no file"):
        trace(survey.folder, hashlib.sha256(b"orthometric 13").hexdigest()[:7])


def test_a_file_that_is_gone_is_known_by_its_path(survey: MadeBook) -> None:
    """A path where nothing lies any more still leads to what the book saw there last."""
    (survey.folder / "out/R2/tile_14.las").unlink()
    result = ask(survey, "out/R2/tile_14.las")
    assert (result.known, result.matched_by) == (True, "recorded path")
    assert result.sentence.startswith("There is no file at out/R2/tile_14.las now")
    assert trace(survey.folder, "out/R2/tile_14.las").chain == result.chain


@pytest.mark.parametrize(
    ("text", "kind", "name"),
    [
        ("R1", "run", "R1"),
        ("r1", "run", "R1"),
        ("run:R2", "run", "R2"),
        ("Run:r2", "run", "R2"),
        ("AUDIT:d1", "audit", "D1"),
        ("F1", "flight", "F1"),
        ("flight:F1", "flight", "F1"),
        ("G1", "rig", "G1"),
        ("D1", "audit", "D1"),
        ("audit:D1", "audit", "D1"),
        ("entry:6", "run", "R1"),
        ("entry:8", "run", "R1"),
        ("entry:9", "audit", "D1"),
        ("entry:1", "flight", "F1"),
        ("entry:4", "rig", "G1"),
        ("entry:2", "files", "2"),
    ],
)
def test_ids_and_numbers_of_entries_lead_to_their_record(
    survey: MadeBook, text: str, kind: str, name: str
) -> None:
    """An id, with or without its kind, and the number of an entry lead to the record meant."""
    result = trace(survey.folder, text)
    assert result.known
    assert (result.chain[0].kind, result.chain[0].id) == (kind, name)
    assert result.sentence


def test_an_audit_leads_to_every_run_behind_it(survey: MadeBook) -> None:
    """The trace of a deliverable names the runs of its files, and the files without one."""
    node = trace(survey.folder, "D1").chain[0]
    report = hashlib.sha256(b"text").hexdigest()[:12]
    assert set(node.sources) == {"R1", "R2", report}


@pytest.mark.parametrize("text", ["R9", "S1", "entry:99", "D7", "F2"])
def test_an_id_that_nobody_gave_is_unknown(survey: MadeBook, text: str) -> None:
    """An id or number that the book does not have is an answer, not an error."""
    result = trace(survey.folder, text)
    assert (result.known, result.chain) == (False, ())
    assert "There is no" in result.sentence


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("run:F1", "F1 is no run"),
        ("entry:x", "no entry|There is no entry"),
        ("rig:whatever", "is no rig"),
        ("digest:123", "is no digest"),
    ],
)
def test_a_wrong_kind_is_told(survey: MadeBook, text: str, words: str) -> None:
    """An id of another kind, or none, after a kind is named as the fault that it is."""
    try:
        result = trace(survey.folder, text)
    except UsageError as error:
        told = str(error)
    else:
        told = result.sentence
    assert any(word in told for word in words.split("|"))


def test_a_word_that_is_a_file_and_an_id_is_refused(
    survey: MadeBook, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A file called R1 beside run R1 is ambiguous, and both ways out are named."""
    monkeypatch.chdir(survey.folder)
    survey.write("R1", "file")
    with pytest.raises(UsageError, match="both a file here and run R1") as caught:
        trace(survey.folder, "R1")
    assert "./R1" in str(caught.value)
    assert "run:R1" in str(caught.value)
    assert trace(survey.folder, "run:R1").known
    assert trace(survey.folder, "./R1").known is False


def test_a_folder_is_refused(survey: MadeBook) -> None:
    """A trace follows one file; a folder is an error that names the audit."""
    with pytest.raises(UsageError, match="swathbook audit"):
        ask(survey, "deliver")


def test_outside_a_job_there_is_no_book(tmp_path: Path) -> None:
    """Without a book the error says so."""
    with pytest.raises(NoBookError):
        trace(tmp_path, "R1")


def test_a_job_without_a_valid_specification_is_traced(survey: MadeBook) -> None:
    """Broken text in job.toml does not keep anybody from an answer."""
    survey.write("job.toml", "this is [ no TOML")
    assert ask(survey, "deliver/tile_13.las").known


def test_a_step_leads_to_its_run_and_to_files_that_nobody_made(tmp_path: Path) -> None:
    """Behind a step stand the run that made one input and, as a file, the input without maker."""
    book = MadeBook(tmp_path)
    book.write("out/a.las", "a")
    book.write("handed in/b.las", "b")
    book.run("out/a.las")
    book.write("out/merged.las", "ab")
    book.step("out/merged.las", inputs=[book.use("out/a.las"), book.use("handed in/b.las")])
    book.close()
    result = ask(book, "out/merged.las")
    handed = hashlib.sha256(b"b").hexdigest()[:12]
    assert find_node(result, "S1").sources == ("R1", handed)
    assert find_node(result, handed).name == "handed in/b.las"
    assert "run.inputs" in find_node(result, "R1").not_recorded
    orphan = ask(book, "handed in/b.las")
    assert "was used by S1, but no recorded run or step made it" in orphan.sentence
    assert "file.made_by" in orphan.not_recorded


def test_a_file_recorded_by_its_digest_is_linked_with_its_path(tmp_path: Path) -> None:
    """A grid or calibration kept as digest and path is a file of the chain, and leads onward."""
    book = MadeBook(tmp_path)
    book.write("geoid/A.tif", "grid")
    digest = hashlib.sha256(b"grid").hexdigest()
    grid = KnownValue(digest, where="geoid/A.tif")
    calibration = KnownValue("c" * 64, where="cal/SU-07.xml")
    book.register("geoid/A.tif", role="geoid")
    book.card("rig", "G1", {"rig.calibration_file": calibration})
    book.card("flight", "F1", {"flight.rig": known("G1")})
    book.write("out/a.las", "a")
    book.run("out/a.las", inputs=[{"flight": "F1"}], values={"run.geoid_file": grid})
    book.write("deliver/a.las", "a")
    book.audit("deliver")
    book.close()
    result = ask(book, "deliver/a.las")
    assert digest[:12] in find_node(result, "R1").sources
    assert find_node(result, digest[:12]).name == "geoid/A.tif"
    assert "run.geoid_file.sha256" not in find_node(result, "R1").values
    assert find_node(result, "G1").sources == ("c" * 12,)
    assert find_node(result, "c" * 12).entry == 0
    onward = trace(tmp_path, digest, onward=True).onward
    assert [node.id for node in onward] == ["R1", "D1"]


def test_what_a_file_says_of_itself_is_told_of_the_file_that_was_asked_about(
    tmp_path: Path,
) -> None:
    """Facts read from a file stand at the target of a trace, not at every raw file behind it."""
    book = MadeBook(tmp_path)
    book.write("raw/base.26o", "log")
    book.sight(book.see("raw/base.26o", "base-log", epochs=2322))
    book.write("out/a.las", "a")
    book.run("out/a.las", inputs=[book.use("raw/base.26o", "base-log")])
    book.close()
    asked = ask(book, "raw/base.26o").chain[0]
    assert asked.values["file.epochs"].value == 2322
    behind = find_node(ask(book, "out/a.las"), asked.id)
    assert set(behind.values) == {
        "file.sha256",
        "file.recorded_path",
        "file.bytes",
        "file.role",
    }


def test_onward_from_a_grid_to_what_was_sent(survey: MadeBook) -> None:
    """From a geoid grid the way leads on to the run that used it and the audits that hold it."""
    result = trace(survey.folder, str(survey.folder / "geoid/demo-geoid-A.tif"), onward=True)
    assert [(node.kind, node.id) for node in result.onward] == [("run", "R2"), ("audit", "D1")]
    audit = result.onward[1]
    assert audit.sources == ("R2",)
    assert audit.values["audit.files_concerned"].value == 1


def test_onward_from_capture_rig_flight_and_run(survey: MadeBook) -> None:
    """Raw file, flight and rig lead on to both runs, a run to the audits that hold its files."""
    for text in (str(survey.folder / "raw/cap_p1.bin"), "F1", "G1"):
        onward = trace(survey.folder, text, onward=True).onward
        assert [node.id for node in onward] == ["R1", "R2", "D1"]
    onward = trace(survey.folder, "R1", onward=True).onward
    assert [node.id for node in onward] == ["D1"]
    assert onward[0].values["audit.files_concerned"].value == 1


def test_onward_through_steps(tmp_path: Path) -> None:
    """What was made of what was made of a file is followed to the end, a circle included."""
    book = MadeBook(tmp_path)
    book.write("out/a.las", "a")
    book.run("out/a.las")
    book.write("out/b.las", "b")
    book.step("out/b.las", inputs=[book.use("out/a.las")])
    book.write("out/c.las", "c")
    book.step("out/c.las", inputs=[book.use("out/b.las")])
    book.step("out/a.las", inputs=[book.use("out/c.las")])
    book.write("deliver/c.las", "c")
    book.audit("deliver")
    book.close()
    onward = trace(book.folder, "R1", onward=True).onward
    assert [node.id for node in onward] == ["S1", "S2", "S3", "D1"]


def test_an_unreadable_file_is_an_error_of_ours(survey: MadeBook) -> None:
    """A link that leads nowhere is told in one line."""
    link = survey.folder / "out" / "loop.las"
    link.symlink_to(link)
    with pytest.raises((UsageError, UnreadableFileError)):
        ask(survey, "out/loop.las")


def test_values_stand_in_the_order_in_which_they_are_asked(survey: MadeBook) -> None:
    """Values that belong together stand together, whatever order the book gives them in."""
    keys = list(find_node(trace(survey.folder, "R2"), "R2").values)
    start = keys.index("run.geoid_name")
    assert keys[start : start + 3] == ["run.geoid_name", "run.geoid_version", "run.geoid_file"]
    assert keys[0] == "run.software"


# Whether an audit is still valid.


def find_standing(survey: MadeBook, path: str) -> str:
    """Return what a trace says of the audit that a file was in; empty while it holds."""
    node = next(node for node in ask(survey, path).chain if node.kind == "audit")
    known_value = node.values.get("audit.standing")
    return "" if known_value is None else str(known_value.value)


def test_an_audit_that_holds_no_longer_is_said_so(survey: MadeBook) -> None:
    """A trace does not repeat a verdict that a later record or another job.toml has ended."""
    path = "deliver/tile_13.las"
    assert find_standing(survey, path) == ""
    survey.write("deliver/tile_15.las", "added")
    assert find_standing(survey, path) == "It holds no longer: 1 file added (tile_15.las)."
    (survey.folder / "deliver/tile_15.las").unlink()
    survey.writer = survey.writer.open(survey.folder)
    survey.decide("R2", "rejected", "wrong geoid")
    survey.close()
    assert find_standing(survey, path) == "It holds no longer: more was recorded of R2."
    (shown,) = list_audits(
        [node for node in ask(survey, path).chain if node.kind == "audit"], everything=False
    )
    assert shown.text.endswith(": do not send. It holds no longer: more was recorded of R2")
