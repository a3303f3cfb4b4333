"""A word is found wherever the book holds it, and a saved question says what is not recorded."""

from __future__ import annotations

import json

import pytest
from click.testing import CliRunner

from ledger.cli.frame import swathbook
from ledger.errors import NoBookError, UsageError
from ledger.find import find_text
from ledger.find.questions import QUESTIONS, answer_question
from ledger.model.known import KnownBy
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
        (16, [("", "not recorded")]),
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
    """None of them is a dead end; numbers run without gaps."""
    assert [each.number for each in QUESTIONS] == list(range(1, len(QUESTIONS) + 1))
    for each in QUESTIONS:
        result = answer_question(book.folder, each.number)
        assert bool(result.lines) != bool(each.typed)


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
