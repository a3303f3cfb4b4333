"""A word is found wherever the book holds it, and a saved question says what is not recorded."""

from __future__ import annotations

import json

import pytest
from click.testing import CliRunner

from ledger.auditentry import write_finding
from ledger.canonical import compute_digest, encode
from ledger.cli.frame import swathbook
from ledger.errors import NoBookError, UsageError
from ledger.find import find_text
from ledger.find.questions import QUESTIONS, answer_question
from ledger.model.finding import Finding, Outcome
from ledger.model.known import KnownBy, KnownValue
from ledger.testing import BookBuilder
from ledger.testing.books import known


@pytest.fixture
def book(tmp_path):
    """Return a builder of a job with a rig, a flight, and two runs of two versions."""
    book = BookBuilder(tmp_path / "job")
    book.write("raw/cap.bin", "bytes")
    book.register("raw/cap.bin", flight="F1")
    book.card("rig", "G1", {"rig.scanner_serial": known("SU-07")})
    book.card(
        "flight",
        "F1",
        {
            "flight.base_mark": known("BM-12"),
            "flight.base_height": known("1.523", "m", KnownBy.MEASURED),
            "flight.frame": known("NAD83(2011)", by=KnownBy.CARRIED),
        },
    )
    for run, version in (("R1", "4.1.0"), ("R2", "4.2.0")):
        book.write(f"out/{run}/tile_14.las", run)
        book.run(
            f"out/{run}/tile_14.las",
            inputs=[{"flight": "F1"}],
            values={"run.software": known("demo-proc"), "run.version": known(version)},
            decision="rejected" if run == "R1" else "accepted",
            reason="heights left ellipsoidal" if run == "R1" else "",
        )
    yield book
    book.close()


@pytest.mark.parametrize(
    ("words", "ids"),
    [
        (["su-07"], ["G1"]),
        (["BM-12"], ["F1"]),
        (["4.2.0"], ["R2"]),
        (["demo-proc"], ["R1", "R2"]),
        (["demo-proc", "rejected"], ["R1"]),
        (["tile_14"], ["out/R1/tile_14.las", "out/R2/tile_14.las", "R1", "R2"]),
        (["ellipsoidal"], ["R1"]),
        (["2026-05-14T11"], ["R1"]),
        (["r2"], ["out/R2/tile_14.las", "R2"]),
        (["nowhere"], []),
        (["demo-proc", "nowhere"], []),
    ],
)
def test_words_find_the_records_that_hold_all_of_them(book, words, ids):
    """By serial, mark, version, program, decision, tile, reason, time and id."""
    assert [hit.id for hit in find_text(book.folder, words).hits] == ids


def test_digits_of_a_digest_find_its_file_and_the_run_that_made_it(book):
    """Six digits are enough; fewer are too few to mean a digest."""
    digest = book.see("out/R2/tile_14.las").sha256
    assert [hit.id for hit in find_text(book.folder, [digest[:6]]).hits] == [
        "out/R2/tile_14.las",
        "R2",
    ]
    assert find_text(book.folder, [digest[:5] + "z"]).hits == ()


def test_a_hit_says_where_the_word_stands(book):
    """The field and its text are shown, and what to type next."""
    (hit,) = find_text(book.folder, ["4.2.0"]).hits
    assert hit.matched == (("run.version", "4.2.0"),)
    assert hit.next == "swathbook trace R2"


@pytest.mark.parametrize("words", [[], [" "]])
def test_no_word_is_one_line(book, words):
    """Blanks are no search."""
    with pytest.raises(UsageError, match="no word to search for"):
        find_text(book.folder, words)


def test_outside_a_job_there_is_nothing_to_search(tmp_path):
    """As every reading command says it."""
    with pytest.raises(NoBookError):
        find_text(tmp_path, ["x"])


@pytest.mark.parametrize(
    ("number", "lines"),
    [
        (
            2,
            [
                ("R1", "demo-proc 4.1.0; 1 output, rejected"),
                ("R2", "demo-proc 4.2.0; 1 output, accepted"),
            ],
        ),
        (15, [("", "none")]),
        (16, [("", "nobody")]),
        (20, [("F1", "flight.frame NAD83(2011) (carried, not confirmed)")]),
        (22, [("", "none")]),
    ],
)
def test_saved_questions_are_answered_from_the_book(book, number, lines):
    """What nobody recorded is said, never left out."""
    assert list(answer_question(book.folder, number).lines) == lines


def test_the_base_height_says_how_it_is_known_and_by_whom(book):
    """The question that is asked when heights are off by a constant."""
    ((flight, sentence),) = answer_question(book.folder, 9).lines
    assert flight == "F1"
    assert "base height 1.523 m (measured)" in sentence
    assert "base height kind not recorded" in sentence
    assert "entered by technician" in sentence


def test_every_question_is_answered_or_names_a_command(book):
    """None of them is a dead end, in a book that holds little; numbers run without gaps."""
    assert [each.number for each in QUESTIONS] == list(range(1, len(QUESTIONS) + 1))
    for each in QUESTIONS:
        assert answer_question(book.folder, each.number).lines


def test_answers_are_written_as_people_say_them(book):
    """Yes and no, and the three numbers of a vector with their unit."""
    book.write("out/R3/tile_14.las", "R3")
    arm = known(["0.112", "0.004", "0.231"], "m", KnownBy.CARRIED)
    values = {"run.control_used": known(False), "run.lever_arm": arm}
    book.run("out/R3/tile_14.las", values=values)
    assert ("R3", "control used no (typed)") in answer_question(book.folder, 6).lines
    told = ("R3", "run.lever_arm 0.112 0.004 0.231 m (carried, not confirmed)")
    assert told in answer_question(book.folder, 20).lines


def test_what_job_toml_carried_over_is_told_with_the_other_values(tmp_path):
    """A coordinate system of another job, which nobody has looked at, is carried over too."""
    run = CliRunner().invoke
    assert run(swathbook, ["start", str(tmp_path / "a")]).exit_code == 0
    filled = (tmp_path / "a" / "job.toml").read_text(encoding="utf-8")
    wish = filled.replace("[coordinates]", '[coordinates]\nhorizontal = "EPSG:6346"', 1)
    (tmp_path / "a" / "job.toml").write_text(wish, encoding="utf-8")
    began = run(swathbook, ["start", str(tmp_path / "b"), "--like", str(tmp_path / "a")])
    assert began.exit_code == 0, began.output
    lines = answer_question(tmp_path / "b", 20).lines
    assert ("job.toml", "coordinates.horizontal (carried, not confirmed)") in lines


def test_fixed_positions_are_counted_from_the_log_and_no_audit_is_named(book):
    """Quality 4 is fixed and 5 is float (NMEA 0183, GGA); without a log nothing is recorded."""
    assert answer_question(book.folder, 12).lines == (("", "not recorded"),)
    book.write("raw/log.txt", "x")
    book.sight(book.see("raw/log.txt", role="flight-log", qualities={"4": 931, "5": 14}))
    ((path, sentence),) = answer_question(book.folder, 12).lines
    assert path == "raw/log.txt"
    assert sentence == "945 positions: 931 fixed, 14 float"


def test_the_root_is_shown_in_groups_that_can_be_read_out(book):
    """The same root as the tree of the book has, entry by entry (RFC 9162)."""
    first, (where, groups) = answer_question(book.folder, 25).lines
    assert first == ("", f"The book is unbroken: {book.writer.size} entries")
    assert where == f"root after entry {book.writer.size}"
    assert groups.replace(" ", "") == book.writer.root.hex()
    assert {len(group) for group in groups.split()} == {4}


def test_what_is_alike_in_many_files_is_said_once(book):
    """Twenty tiles of which the same could not be told are one line, and the number is told."""
    tiles = [f"tile_{number}.laz" for number in range(20)]
    findings = [
        Finding("x", Outcome.NOT_ASSESSED, tile, f"{tile}: nobody asks.", needs=("y",))
        for tile in tiles
    ]
    content = encode([write_finding(each) for each in findings])
    book.write("deliver/a.txt", "a")
    book.audit("deliver", findings=compute_digest(content), blobs=(content,))
    ((_, sentence),) = answer_question(book.folder, 21).lines
    assert sentence == "not assessed: tile_0.laz: nobody asks. And 19 more like it."


def test_a_short_word_is_not_looked_for_inside_digests(book):
    """A flight of two letters stands in one digest of three by chance."""
    digest = "0" * 30 + "f1" + "0" * 32
    table = KnownValue(digest, where="checks.csv")
    book.card("statement", "T1", {"statement.checkpoints": table})
    assert "T1" not in [hit.id for hit in find_text(book.folder, ["f1"]).hits]
    assert [hit.id for hit in find_text(book.folder, [digest[:8]]).hits] == ["T1"]


def test_there_is_no_question_26(book):
    """A number that is not saved is one line."""
    with pytest.raises(UsageError, match="no question has this number"):
        answer_question(book.folder, 26)


@pytest.mark.parametrize("arguments", [["4.2.0"], ["--ask", "9"], []])
def test_screen_and_json_of_each_form(book, arguments):
    """Search, question and list: a screen, and one object with the same keys."""
    command = ["--job", str(book.folder), "find", *arguments]
    shown = CliRunner().invoke(swathbook, command)
    assert shown.exit_code == 0, shown.output
    assert "swathbook" in shown.output or "base" in shown.output
    stored = json.loads(CliRunner().invoke(swathbook, [*command, "--json"]).output)
    assert set(stored) == {"schema", "words", "hits", "questions", "answers"}


def test_long_lists_are_cut_and_say_so(book):
    """A version that made hundreds of tiles does not fill the evening."""
    for number in range(30):
        book.write(f"raw/part_{number}.bin", str(number))
        book.register(f"raw/part_{number}.bin")
    command = ["--job", str(book.folder), "find", "part_"]
    assert "and 18 more: --all" in CliRunner().invoke(swathbook, command).output
    assert "part_29" in CliRunner().invoke(swathbook, [*command, "--all"]).output


def test_words_and_a_question_exclude_each_other(book):
    """One thing at a time."""
    arguments = ["--job", str(book.folder), "find", "x", "--ask", "2"]
    assert CliRunner().invoke(swathbook, arguments).exit_code != 0
