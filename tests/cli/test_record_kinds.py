"""Each kind of record has its own options and a help that says what is recorded, and how."""

from __future__ import annotations

from pathlib import Path

import pytest

from ledger.cli.frame import main
from ledger.cli.record import KINDS
from ledger.model.fields import list_fields
from ledger.store.reading import BOOK_NAME, Book


@pytest.fixture
def job(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Return a new job, where the test stands."""
    assert main(["start", str(tmp_path / "job")]) == 0
    monkeypatch.chdir(tmp_path / "job")
    return tmp_path / "job"


@pytest.mark.parametrize("kind", ["run", "rig", "flight", "step"])
def test_help_lists_the_fields_of_the_kind(kind: str, capsys: pytest.CaptureFixture[str]) -> None:
    """Every field asked stands there with its format, the others by name, beside examples."""
    words = [] if kind == "run" else [kind]
    assert main(["record", *words, "--help"]) == 0
    shown = capsys.readouterr().out
    for field in list_fields(kind):
        assert field.name in shown.split(":", 1)[1]
        if field.core:
            assert f"  {field.name}  " in shown
    command = " ".join(["swathbook", "record", *words])
    assert f"Usage: {command} " in shown
    assert f"\n  {command} --blank > " in shown
    assert all(len(line) <= 96 for line in shown.splitlines())


def test_help_of_a_decision_says_what_it_does(capsys: pytest.CaptureFixture[str]) -> None:
    """The help of a decision names the words, an example, and what follows from them."""
    assert main(["record", "decision", "--help"]) == 0
    shown = " ".join(capsys.readouterr().out.split())
    assert "accepted, rejected, superseded or undecided" in shown
    assert 'swathbook record decision R1 rejected --reason "' in shown
    assert "--set" not in shown


@pytest.mark.parametrize(
    "words",
    [
        ["rig", "--together"],
        ["flight", "F1", "--input", "R1"],
        ["decision", "R1"],
        ["decision", "R1", "accepted", "--set", "a=b"],
        ["rig", "G1", "G2"],
    ],
)
def test_options_of_another_kind_are_refused(
    words: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    """What a kind cannot use is one line that names its help, never ignored in silence."""
    assert main(["record", *words]) == 2
    error = capsys.readouterr().err
    assert error.count("\n") == 1
    assert f"see swathbook record {words[0]} --help" in error


@pytest.mark.parametrize(
    "words",
    [
        ["rig", "--set", "bracket=B"],
        ["--json", "--set", "bracket=B", "rig"],
        ["--set=bracket=B", "--by", "pilot", "rig"],
    ],
)
def test_the_kind_may_stand_behind_options(job: Path, words: list[str]) -> None:
    """The first word that is no option says what is recorded, wherever it stands."""
    assert main(["record", *words]) == 0
    with Book.open(job / BOOK_NAME) as book:
        (card,) = book.cards("rig")
    assert card.values["rig.bracket"].value == "B"


def test_a_file_named_like_a_kind_is_named_by_its_path(
    job: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """`./rig` is a file that a run made."""
    (job / "rig").write_bytes(b"II*\x00rest")
    assert main(["record", "./rig"]) == 0
    assert "Recorded run R1" in capsys.readouterr().out


def test_the_reason_of_a_run_is_kept(job: Path) -> None:
    """`--reason` says why a run is kept or not, as `--set reason=` does."""
    (job / "out" / "dtm.tif").write_bytes(b"II*\x00rest")
    words = ["--set", "decision=rejected", "--reason", "heights = ellipsoidal"]
    assert main(["record", "out", *words]) == 0
    with Book.open(job / BOOK_NAME) as book:
        (run,) = book.processes()
    assert (run.decision, run.reason) == ("rejected", "heights = ellipsoidal")


@pytest.mark.parametrize("kind", [kind for kind in KINDS if kind not in ("decision", "deletion")])
def test_the_empty_form_needs_no_job(
    kind: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """`--blank` prints the form of that kind anywhere, for paper."""
    monkeypatch.chdir(tmp_path)
    assert main(["record", kind, "--blank"]) == 0
    assert f"\n[{kind}]\n" in capsys.readouterr().out
