"""The command line: one line for each error, and the right exit status."""

from __future__ import annotations

import importlib.metadata
import json
import subprocess
import sys
from pathlib import Path

import pytest

from ledger.cli.frame import main
from ledger.cli.table import COMMANDS


def _run(*words: str, cwd: Path | None = None) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-P", "-m", "ledger.cli", *words],
        cwd=cwd,
        capture_output=True,
        text=True,
        encoding="utf-8",
        check=False,
    )


def test_help_names_every_command(capsys: pytest.CaptureFixture[str]) -> None:
    """`--help` lists the commands in the order of the job."""
    assert main(["--help"]) == 0
    shown = capsys.readouterr().out
    places = [shown.index(f"\n  {name} ") for name in COMMANDS]
    assert places == sorted(places)


def test_an_unknown_command_names_the_nearest(capsys: pytest.CaptureFixture[str]) -> None:
    """A mistyped command is one line with the nearest one, exit status 2."""
    assert main(["recrod"]) == 2
    shown = capsys.readouterr()
    assert shown.err.count("\n") == 1
    assert "record" in shown.err
    assert shown.out == ""


@pytest.mark.parametrize(
    "words",
    [
        ["--nonsense"],
        ["trace"],
        ["register"],
        ["audit"],
        ["accept", "abcd"],
        ["audit", "x", "--quick=3"],
    ],
)
def test_wrong_usage_is_one_line(words: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    """Wrong usage is one line on stderr that names the help, exit status 2."""
    assert main(words) == 2
    shown = capsys.readouterr()
    assert shown.err.startswith("swathbook: ")
    assert shown.err.count("\n") == 1
    assert "--help" in shown.err


@pytest.mark.parametrize(
    "words", [["trace", "x"], ["recheck"], ["register", "x"], ["audit", "x"], ["record"]]
)
def test_outside_a_job(
    words: list[str],
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    """Without a book there is one line that says how to begin, exit status 2."""
    monkeypatch.chdir(tmp_path)
    assert main(words) == 2
    shown = capsys.readouterr()
    assert shown.err.count("\n") == 1
    assert "swathbook start" in shown.err


def test_an_error_as_json(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """With --json an error is an object on stdout and a line on stderr."""
    monkeypatch.chdir(tmp_path)
    assert main(["recheck", "--json"]) == 2
    shown = capsys.readouterr()
    (error,) = json.loads(shown.out)["errors"]
    assert error["kind"] == "no-book"
    assert set(error) == {"kind", "what", "found", "expected", "where", "line", "remedy"}
    assert shown.err.count("\n") == 1


def test_the_bare_command_outside_a_job(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Outside a job the bare command ends with 0 and says what to type."""
    monkeypatch.chdir(tmp_path)
    assert main([]) == 0
    assert "swathbook start" in capsys.readouterr().out


def test_a_closed_pipe_ends_quietly() -> None:
    """A reader that goes away leaves no message."""
    writer = subprocess.Popen(
        [sys.executable, "-P", "-m", "ledger.cli", "--help"],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
    )
    assert writer.stdout is not None
    assert writer.stderr is not None
    writer.stdout.close()
    noise = writer.stderr.read()
    writer.stderr.close()
    assert writer.wait(timeout=30) in (0, 1)
    assert noise == b""


def test_a_console_of_another_code_page(tmp_path: Path) -> None:
    """A console that cannot show a sign gets an escape, never an error."""
    (tmp_path / "job").mkdir()
    done = subprocess.run(
        [sys.executable, "-P", "-m", "ledger.cli", "start", str(tmp_path / "job" / "Núñez−Ω")],
        capture_output=True,
        env={"PYTHONIOENCODING": "cp1252", "PATH": "", "SWATHBOOK_HOME": str(tmp_path / "home")},
        check=False,
    )
    assert done.returncode == 0, done.stderr
    assert b"\\u03a9" in done.stdout


def test_version_is_one_line() -> None:
    """`--version` names Python and the version that is installed, in one line."""
    done = _run("--version")
    assert done.returncode == 0
    assert done.stdout.startswith(f"swathbook {importlib.metadata.version('swathbook')} (Python ")
    assert done.stdout.count("\n") == 1


@pytest.mark.parametrize("name", list(COMMANDS))
def test_every_command_explains_itself(name: str, capsys: pytest.CaptureFixture[str]) -> None:
    """Every command has a help with --job and --json."""
    assert main([name, "--help"]) == 0
    shown = capsys.readouterr().out
    assert "--job" in shown
    assert "--json" in shown


def test_a_closed_output_ends_without_a_traceback(tmp_path: Path) -> None:
    """A caller that closed our output before we began gets no traceback."""
    done = subprocess.run(
        ["sh", "-c", f'"{sys.executable}" -P -m ledger.cli --help >&-'],
        cwd=tmp_path,
        capture_output=True,
        text=True,
        check=False,
    )
    assert "Traceback" not in done.stderr
