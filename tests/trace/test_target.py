"""What a word after `trace` means, and the one line that is said where it means nothing."""

from __future__ import annotations

import hashlib
import shutil
from pathlib import Path

import pytest
from made_book import MadeBook, known

from ledger.auditentry import write_finding
from ledger.canonical import compute_digest, encode
from ledger.errors import UsageError
from ledger.model.finding import Finding, Grade, Outcome, Where
from ledger.model.known import KnownValue
from ledger.trace import trace


def make_finding(subject: str, **parts: object) -> Finding:
    """Return a minor finding about a file, a run, or the delivery."""
    given = {"sentence": f"{subject} is thin.", "grade": Grade.MINOR, "remedy": "fly it again"}
    return Finding(
        "point-density",
        Outcome.NONCONFORMING,
        subject,
        **{**given, **parts},  # type: ignore[arg-type]
    )


def audit_with(book: MadeBook, *findings: Finding, name: str = "D1") -> None:
    """Enter an audit of `deliver` that found something."""
    content = encode([write_finding(finding) for finding in findings])
    book.audit("deliver", name=name, findings=compute_digest(content), blobs=(content,))


@pytest.fixture
def audited(tmp_path: Path) -> MadeBook:
    """Give a job with one delivered tile; its audit is made by the test."""
    book = MadeBook(tmp_path / "job")
    book.write("raw/cap.bin", "capture")
    book.card("flight", "F1", {"flight.mount_mode": known("drone")})
    book.register("raw/cap.bin", flight="F1")
    book.write("out/a.las", "a")
    book.run("out/a.las", inputs=[{"flight": "F1"}])
    book.write("deliver/a.las", "a")
    return book


@pytest.mark.parametrize("text", ["", "   ", "\n"])
def test_nothing_named_is_one_clear_line(survey: MadeBook, text: str) -> None:
    """An empty word is refused, with what could be named."""
    with pytest.raises(UsageError, match="nothing is named"):
        trace(survey.folder, text)


def test_a_finding_leads_to_what_it_is_about(audited: MadeBook) -> None:
    """The id of a finding, or its first characters, tells sentence, remedy, audit and the chain."""
    finding = make_finding("a.las", observed="3", required="4", where=Where(file="a.las"))
    audit_with(audited, finding)
    audited.close()
    for text in (finding.id, finding.id[:8], f"finding:{finding.id[:4]}", finding.id.upper()):
        result = trace(audited.folder, text)
        first = result.chain[0]
        assert (first.kind, first.id) == ("finding", finding.id)
        assert result.sentence == f"Finding {finding.id} of D1 (deliver): a.las is thin."
        assert first.values["finding.remedy"].value == "fly it again"
        assert first.sources == (hashlib.sha256(b"a").hexdigest()[:12],)
        assert {node.id for node in result.chain} >= {"D1", "R1", "F1"}


def test_a_finding_about_a_run_leads_to_the_run(audited: MadeBook) -> None:
    """A finding about a record has its chain; one about the whole delivery stands alone."""
    of_run, of_all = make_finding("R1"), make_finding("delivery")
    audit_with(audited, of_run, of_all)
    audited.close()
    assert trace(audited.folder, of_run.id).chain[0].sources == ("R1",)
    assert [node.kind for node in trace(audited.folder, of_all.id).chain] == ["finding", "audit"]


def test_an_acceptance_is_told_with_its_finding(audited: MadeBook) -> None:
    """Who took a finding, and why, stands at the finding and at the entry of the acceptance."""
    finding = make_finding("a.las")
    audit_with(audited, finding)
    taken = {"finding": finding.id, "by": "site engineer", "reason": "a pond", "audit": 4}
    entry = audited.enter("acceptance", taken)
    audited.close()
    for text in (finding.id, f"entry:{entry.seq}"):
        told = trace(audited.folder, text).chain[0].values["finding.accepted"].value
        assert told == f"by the site engineer, entry {entry.seq}: a pond"


def test_of_several_audits_the_latest_tells_of_a_finding(audited: MadeBook) -> None:
    """A finding that two audits have is told from the later one."""
    finding = make_finding("a.las")
    audit_with(audited, finding)
    audit_with(audited, finding, name="D2")
    audited.close()
    assert trace(audited.folder, finding.id).chain[0].name == "D2 (deliver)"


def test_digits_that_begin_no_digest_and_no_finding_are_unknown(survey: MadeBook) -> None:
    """The answer says that both were looked for, and prints no shortened digest as a digest."""
    result = trace(survey.folder, "deadbeef")
    assert (result.known, result.sha256) == (False, "")
    assert "no audit has such a finding" in result.sentence


def test_a_digest_that_begins_two_files_is_refused_with_both(tmp_path: Path) -> None:
    """Too few digits are an error that shows how the digests go on."""
    book = MadeBook(tmp_path)
    book.write("a.bin", "a")
    one = book.see("a.bin")
    digests = ["abcdef12" + "0" * 56, "abcdef12" + "1" * 56]
    book.sight(*(type(one)(f"{d[-1]}.bin", d, 1, 0, "capture") for d in digests))
    book.close()
    with pytest.raises(UsageError, match="2 files of the book") as caught:
        trace(tmp_path, "abcdef12")
    assert "abcdef120000, abcdef121111" in str(caught.value)
    assert trace(tmp_path, "abcdef120").known


def test_digits_as_they_are_read_aloud_will_do(survey: MadeBook) -> None:
    """A digest in groups of four, as every screen prints it, is typed back as it stands."""
    digest = hashlib.sha256(b"orthometric 13").hexdigest()
    grouped = " ".join(digest[place : place + 4] for place in range(0, 16, 4)) + " …"
    assert trace(survey.folder, grouped).sha256 == digest


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("deliver", "deliver is a folder, and a trace follows one file; name a file in it"),
        ("deliver", "belong to (D1)"),
        ("raw", "belong to (F1)"),
        ("9", "for entry 9 write entry:9"),
        ("tile_13.las", "the book knows the name: deliver/tile_13.las, out/R1/tile_13.las or"),
        ("nothing.las", "at least 8 digits of a SHA-256"),
        ("run:", "an empty word is no run"),
        ("entry:", "is no entry"),
        ("finding:zz", "is no finding"),
    ],
)
def test_what_means_nothing_is_told_with_what_comes_near(
    survey: MadeBook, monkeypatch: pytest.MonkeyPatch, text: str, words: str
) -> None:
    """A folder, a bare number, a bare name and a misspelt word each get one helpful line."""
    monkeypatch.chdir(survey.folder)
    with pytest.raises(UsageError) as caught:
        trace(survey.folder, text)
    assert words in str(caught.value)
    assert "\n" not in str(caught.value)


def test_a_folder_that_is_gone_is_told_by_what_lay_in_it(survey: MadeBook) -> None:
    """The book still knows whose files lay in a folder that was removed."""
    shutil.rmtree(survey.folder / "out/R1")
    with pytest.raises(UsageError, match="files below it, of R1"):
        trace(survey.folder, str(survey.folder / "out/R1"))


@pytest.mark.parametrize("text", ["entry:99", f"entry:{'9' * 5000}", "R9", "S1", "F7", "G3", "D9"])
def test_an_unknown_id_says_which_there_are(survey: MadeBook, text: str) -> None:
    """What nobody entered is an answer, however long its number."""
    result = trace(survey.folder, text)
    assert result.known is False
    assert result.sentence.startswith("There is no ")


def test_the_last_of_a_kind_is_named(survey: MadeBook) -> None:
    """An id beyond the last says which is the last."""
    assert trace(survey.folder, "r9").sentence == (
        "There is no run R9 in this book; the last is R2."
    )
    assert trace(survey.folder, "S1").sentence.endswith("it holds no step.")


def test_a_word_that_is_an_id_and_a_path_names_both(
    survey: MadeBook, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A folder, or a path that only the book has, is as ambiguous with an id as a file is."""
    monkeypatch.chdir(survey.folder / "out")
    with pytest.raises(UsageError, match="R1 is both a folder here and run R1 of the book"):
        trace(survey.folder, "R1")
    assert trace(survey.folder, "run:r1").chain[0].id == "R1"


def test_a_recorded_path_that_is_gone_is_ambiguous_too(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A name that the book saw once is not silently taken for an id."""
    book = MadeBook(tmp_path)
    book.write("R1", "a")
    book.run("R1")
    book.close()
    (tmp_path / "R1").unlink()
    monkeypatch.chdir(tmp_path)
    with pytest.raises(UsageError, match="both a path in the book and run R1"):
        trace(tmp_path, "R1")
    assert trace(tmp_path, "./R1").matched_by == "recorded path"


def test_a_path_as_the_book_writes_it_is_read_from_anywhere(
    survey: MadeBook, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """With `--job`, a path of the job is found though another folder is the current one."""
    monkeypatch.chdir(tmp_path)
    result = trace(survey.folder, "deliver/tile_13.las")
    assert (result.known, result.matched_by, result.path) == (True, "digest", "deliver/tile_13.las")


def test_a_file_that_only_a_record_names_is_known(tmp_path: Path) -> None:
    """A grid named by its digest in a run, and never registered, is told by that run."""
    book = MadeBook(tmp_path)
    grid = book.write("elsewhere/grid.tif", "grid")
    digest = hashlib.sha256(b"grid").hexdigest()
    book.write("out/a.las", "a")
    named = KnownValue(digest, where="elsewhere/grid.tif")
    book.run("out/a.las", values={"run.geoid_file": named})
    book.close()
    for text in (str(grid), digest):
        result = trace(tmp_path, text)
        assert result.known
        assert "is named by R1 as its geoid file, and was never registered" in result.sentence
    assert [node.id for node in trace(tmp_path, str(grid), onward=True).onward] == ["R1"]
