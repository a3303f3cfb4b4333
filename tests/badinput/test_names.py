"""Names that hold whatever a file system allows: entered, found again, and shown without harm."""

from __future__ import annotations

import os
import unicodedata
from pathlib import Path

import pytest
from job_bench import JobBench, read_json

from ledger.testing import Layout, Scene, SurveyBuilder

NAMES = {
    "brackets": b"[red]tile [bold] (1) {2}.las",
    "a closing bracket alone": b"tile ].las",
    "line break": b"a\nb.las",
    "carriage return": b"a\rb.las",
    "tab": b"a\tb.las",
    "escape sequence": b"a\x1b[31mb.las",
    "bell": b"a\x07b.las",
    "right to left": "a\u202esal.b.las".encode(),
    "zero width": "a\u200bb.las".encode(),
    "line separator": "a\u2028b.las".encode(),
    "undecodable": b"a\x80\xff.las",
    "undecodable in Latin-1 style": b"Stra\xdfe.las",
    "spaces at the ends": b" a .las ",
    "quotes": b"'a' \"b\".las",
    "backslash": b"a\\x80b.las",
    "percent": b"100%20a.las",
    "dash": b"--json.las",
    "tilde": b"~root.las",
    "decomposed": unicodedata.normalize("NFD", "Núñez.las").encode(),
    "emoji": "🛩️.las".encode(),
    "dots": b"...las",
    "longest": b"a" * 251 + b".las",
    "dots at the end": b"tile..",
    "a device of Windows": b"CON",
    "a device of Windows with an ending": b"nul.las",
    "another device": b"com1.las",
    "reserved on Windows": b'a<b>c:d"e|f?g*.las',
    "like an id": b"R1",
    "like an entry": b"entry:1",
    "like an address": b"file:a.las",
}
HIDDEN = ("\x1b", "\x07", "\x00", "\u202e", "\u200b", "\u2028", "\r", "\udc80", "\udcff")


def make(folder: Path, name: bytes) -> Path:
    """Make a point file of that name, or skip where the file system refuses it."""
    survey = SurveyBuilder(folder, Layout(compressed=False), Scene(columns=1, density=1.0))
    path = folder / os.fsdecode(name)
    try:
        survey.path(0).rename(path)
    except OSError as error:
        pytest.skip(f"this file system refuses the name: {error}")
    return path


def require_harmless(text: str) -> None:
    """Require that nothing in a text can move the cursor, hide or turn what is shown."""
    assert [mark for mark in HIDDEN if mark in text] == [], repr(text)
    text.encode("utf-8")


@pytest.mark.parametrize("name", NAMES.values(), ids=NAMES)
def test_any_name_goes_through_the_whole_job(bench: JobBench, name: bytes) -> None:
    """Registered, audited, traced and rechecked by path; shown escaped; JSON that others read."""
    raw, out = make(bench.job / "raw", name), make(bench.job / "out", name)
    given = f"./raw/{raw.name}"
    (file,) = bench.ask("register", raw)["files"]
    assert (file["fault"], file["new"]) == ("", True)
    result = bench.ask("audit", "out", status=None)
    assert [f for f in result["findings"] if f["outcome"] == "errored"] == []
    assert result["points"] > 0
    traced = bench.ask("trace", given)
    assert (traced["known"], traced["path"]) == (True, file["path"])
    for path in (raw, out):
        assert bench.ask("recheck", path)["counts"] == {"as recorded": 1}
    assert bench.ask("recheck")["counts"] == {"as recorded": 2}
    for words in (["register", raw], ["audit", "out"], ["trace", given], ["recheck", "--all"], []):
        ran = bench.run(*words)
        assert (ran.status in (0, 3), ran.err) == (True, ""), words
        require_harmless(ran.out)


@pytest.mark.parametrize("name", NAMES.values(), ids=NAMES)
def test_a_file_that_is_gone_is_named_without_harm(bench: JobBench, name: bytes) -> None:
    """Missing files are listed under their names, and traced by the name that they had."""
    raw = make(bench.job / "raw", name)
    bench.ask("register", raw)
    raw.unlink()
    told = bench.ask("recheck", status=1)
    assert told["counts"] == {"missing": 1}
    require_harmless(bench.run("recheck").out)
    traced = bench.ask("trace", f"./raw/{raw.name}")
    assert (traced["known"], traced["matched_by"]) == (True, "recorded path")
    assert bench.ask("trace", told["files"][0]["path"])["known"]


@pytest.mark.parametrize("name", NAMES.values(), ids=NAMES)
def test_an_error_names_a_file_on_one_harmless_line(bench: JobBench, name: bytes) -> None:
    """A name that is not there is refused in one line, on the screen and as JSON."""
    absent = f"./raw/none/{os.fsdecode(name)}"
    for words in (["register", absent], ["audit", absent], ["trace", absent], ["recheck", absent]):
        ran = bench.run(*words, "--json")
        assert (ran.status, len(ran.lines)) == (2, 1), ran.err
        require_harmless(ran.err)
        (error,) = read_json(ran.out)["errors"]
        assert error["what"]
    for words in (["find", os.fsdecode(name)], ["compare", absent, absent]):
        ran = bench.run(*words)
        assert ran.status in (0, 1, 2), ran
        require_harmless(ran.out + ran.err)


@pytest.mark.parametrize("name", [b"a\x80b", b"a\nb", b"[b]a[/b]", b"a\x1b[31mb"])
def test_a_job_folder_may_have_any_name(bench: JobBench, name: bytes) -> None:
    """A job in a folder of any name is started, worked in and rechecked."""
    folder = bench.base / os.fsdecode(name)
    again: tuple[tuple[str | Path, ...], ...] = (
        ("start", folder),
        ("start", folder),
        ("--job", folder, "recheck"),
    )
    for words in again:
        ran = bench.run(*words, cwd=bench.base)
        require_harmless(ran.out + ran.err)
    assert ran.status == 0
    (folder / "raw" / "a.txt").write_bytes(b"a")
    assert bench.run("register", "raw", "--json", cwd=folder).status == 0
    assert read_json(bench.run("recheck", "--json", cwd=folder).out)["counts"] == {"as recorded": 1}


def test_an_audited_folder_may_have_any_name(bench: JobBench) -> None:
    """A folder whose name is no text is audited, and rechecked afterwards."""
    folder = bench.job / os.fsdecode(b"out\x80")
    make(folder, b"a.las")
    result = bench.ask("audit", folder, status=None)
    told = bench.ask("recheck")
    assert told["counts"] == {"as recorded": 1}
    assert [audit["holds"] for audit in told["audits"]] == [True]
    assert bench.ask("trace", folder / "a.las")["known"]
    assert result["entry"] == 3
    (folder / "a.las").unlink()
    assert bench.ask("recheck", status=1)["counts"] == {"missing": 1}


FORMS = {
    "NFC and NFD": [unicodedata.normalize(form, "Núñez.txt") for form in ("NFC", "NFD")],
    "a byte and its spelling": ["a\\x80.txt", os.fsdecode(b"a\x80.txt")],
    "a letter and a sign": ["K.txt", "\u212a.txt"],
}


@pytest.mark.parametrize("together", [True, False], ids=["together", "one by one"])
@pytest.mark.parametrize("names", FORMS.values(), ids=FORMS)
def test_two_names_that_only_their_form_tells_apart(
    bench: JobBench, names: list[str], *, together: bool
) -> None:
    """Names that the book writes alike are two files where the system has both, for ever."""
    for number, name in enumerate(names):
        bench.write(f"raw/{name}", f"{number}".encode())
    if len(list((bench.job / "raw").iterdir())) < 2:
        pytest.skip("this file system has one name for both")
    if together:
        assert len(bench.ask("register", "raw")["files"]) == 2
    else:
        for name in reversed(names):
            assert len(bench.ask("register", bench.job / "raw" / name)["files"]) == 1
    paths = [file["path"] for file in bench.ask("register", "raw")["files"]]
    assert len(set(paths)) == 2
    assert [file["path"] for file in bench.ask("register", "raw")["files"]] == paths
    assert bench.ask("recheck")["counts"] == {"as recorded": 2}
    assert bench.ask("audit", "raw", status=None)["files"] == 2
    for name in names:
        assert bench.ask("trace", bench.job / "raw" / name)["known"]
    for name in names:
        path = bench.job / "raw" / name
        content = path.read_bytes()
        path.write_bytes(b"changed")
        told = bench.ask("recheck", "raw", status=1)
        assert told["counts"]["changed"] == 1, (name, told)
        path.write_bytes(content)


def test_paths_longer_than_windows_takes(bench: JobBench) -> None:
    """A path of more than 260 characters is entered, found again, and remarked on."""
    folder = bench.job / "raw" / "/".join(["a" * 100] * 5)
    folder.mkdir(parents=True)
    survey = SurveyBuilder(folder, Layout(compressed=False), Scene(columns=1, density=1.0))
    told = bench.ask("register", "raw")
    (file,) = told["files"]
    assert file["path"].endswith(survey.path(0).name)
    (remark,) = told["remarks"]
    assert "cannot be copied to Windows" in remark
    assert bench.ask("trace", file["path"])["known"]
    assert bench.ask("recheck")["counts"] == {"as recorded": 1}
    assert bench.ask("audit", "raw", status=None)["files"] == 1
    assert bench.run("register", "raw").status == 0


def test_texts_that_are_no_text_are_refused_in_one_line(bench: JobBench) -> None:
    """Functions, names and reasons are texts; bytes that are none are refused in one line."""
    bench.write("raw/a.txt", b"a")
    bad = os.fsdecode(b"\x80")
    for words in (
        ["register", "raw", "--by", bad],
        ["record", "raw", "--name", bad],
        ["record", "flight", "--set", f"flight.note={bad}"],
    ):
        (line,) = bench.refuse(*words)
        require_harmless(line)
    ran = bench.run("start", "other", "--title", bad, cwd=bench.base)
    assert (ran.status, len(ran.lines)) == (2, 1)
    require_harmless(ran.err)
    assert not (bench.base / "other").exists()
