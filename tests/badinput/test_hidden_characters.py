"""No text that comes from outside can move the cursor, colour or turn what a screen says.

Names of files are held apart. Here: what a person types, what files say of themselves, and what
stands in `job.toml`. A test of the screens holds that markup is not obeyed.
"""

from __future__ import annotations

import struct
from pathlib import Path

import pytest
from job_bench import JobBench, Ran

from ledger.testing import Layout, Scene, SurveyBuilder

EVIL = "x\x1b[31mred\x07\x9b2J[bold]b[/bold][link=a]l\u202egnp\u2066"
HARM = ("\x1b", "\x07", "\x9b", "\u202e", "\u2066")
SMALL = Scene(columns=1, density=1.0)
PLAIN = Layout(compressed=False)


def require_harmless(ran: Ran) -> None:
    """Require that nothing harmful was printed, and that markup stands there as it was given."""
    for text in (ran.out, ran.err):
        assert [mark for mark in HARM if mark in text] == [], repr(text)


def look_everywhere(bench: JobBench, *more: tuple[str, ...]) -> list[Ran]:
    """Run every command that shows something, on the screen and for machines."""
    commands = [
        [],
        ["checks"],
        ["recheck", "--all"],
        ["find", "x"],
        ["audit", "out"],
        ["audit", "out", "--all"],
        *(["trace", f"entry:{entry.seq}"] for entry in bench.read_journal()),
        *(list(words) for words in more),
    ]
    ran = [bench.run(*words, *form) for words in commands for form in ((), ("--json",))]
    for each in ran:
        assert each.status in (0, 1, 2, 3)
        require_harmless(each)
    return ran


@pytest.fixture
def job(bench: JobBench) -> JobBench:
    """Return a job with an output."""
    SurveyBuilder(bench.job / "out", PLAIN, SMALL)
    bench.write("raw/a.txt", b"a")
    return bench


def test_what_a_person_types(job: JobBench) -> None:
    """Functions, names, reasons, notes and values of records are shown, not obeyed."""
    typed = [
        ["register", "raw", "--by", EVIL, "--flight", "F1"],
        ["record", "flight", "F1", "--set", f"note={EVIL}", "--set", f"base_mark={EVIL}"],
        ["record", "rig", "--set", f"name={EVIL}"],
        ["record", "out", "--together", "--name", EVIL, "--set", f"software={EVIL}"],
        ["record", "decision", "R1", "accepted", "--reason", EVIL],
        ["amend", "R1", "--set", f"software=2{EVIL}", "--reason", EVIL],
    ]
    for words in typed:
        require_harmless(job.run(*words))
    ran = look_everywhere(job, ("trace", "R1"), ("trace", "F1"), ("find", EVIL))
    assert any("[bold]b[/bold]" in each.out for each in ran)


def test_the_title_of_a_job(bench: JobBench) -> None:
    """The bare command and a start name the job without harm."""
    folder = bench.base / "titled"
    ran = bench.run("start", folder, "--title", EVIL, "--reference", EVIL, cwd=bench.base)
    require_harmless(ran)
    for words in ([], ["--json"], ["recheck"]):
        require_harmless(bench.run(*words, cwd=folder))


@pytest.mark.parametrize("words", ["nonsense", "--nonsense", "register", "trace", "accept"])
def test_what_is_refused(job: JobBench, words: str) -> None:
    """A message repeats what was typed, made visible."""
    for ran in (
        job.run(words, EVIL),
        job.run(f"{words}{EVIL}"),
        job.run("--job", EVIL, words),
        job.run("record", "flight", "--set", f"{EVIL}={EVIL}"),
        job.run("record", "flight", "--set", f"wind_speed={EVIL}"),
        job.run("register", "raw", "--flight", EVIL),
        job.run("register", "raw", "--as", EVIL),
    ):
        assert ran.status == 2
        require_harmless(ran)


def put_text(path: Path, offset: int, text: bytes) -> None:
    """Overwrite a text of the header."""
    content = bytearray(path.read_bytes())
    content[offset : offset + 32] = text[:32].ljust(32, b"\0")
    path.write_bytes(content)


def test_what_point_files_say(bench: JobBench) -> None:
    """Software, system and coordinate system are texts of strangers (LAS 1.4 R15, header block)."""
    survey = SurveyBuilder(bench.job / "out", PLAIN, SMALL)
    evil = EVIL.encode("utf-8", "replace")
    survey.wkt_text(0, f'PROJCS["{EVIL}",GEOGCS["{EVIL}"]]')
    for offset in (26, 58):
        put_text(survey.path(0), offset, evil)
    bench.copy(survey.path(0), "raw/a.las")
    require_harmless(bench.run("register", "raw", "--flight", "F1"))
    require_harmless(bench.run("record", "out", "--together"))
    look_everywhere(bench, ("trace", "raw/a.las"), ("trace", f"out/{survey.path(0).name}"))


def test_what_field_logs_and_tables_say(job: JobBench) -> None:
    """A marker, a comment, a heading and a cell are texts of strangers."""
    marker = f"{EVIL[:40]:60}MARKER NAME\n"
    job.write(
        "raw/base.26o",
        (
            "     3.04           OBSERVATION DATA    M                   RINEX VERSION / TYPE\n"
            f"{marker}"
            "                                                            END OF HEADER\n"
            "> 2026 05 14 08 00  0.0000000  0  1\n"
        ).encode(),
    )
    job.write(
        "raw/points.csv", f"# {EVIL}\nid,easting,northing,height,{EVIL}\n{EVIL},1,2,3,4\n".encode()
    )
    job.write("raw/settings.json", b'{"a": "\\u001b[31m", "\\u202e": 1}')
    job.write("raw/site.geojson", b'{"type": "\x1b[31m"}')
    job.write("raw/a.tif", b"II*\0" + struct.pack("<I", 8) + b"\x1b[31m" * 20)
    require_harmless(job.run("register", "raw", "--flight", "F1"))
    paths = ("raw/base.26o", "raw/points.csv", "raw/settings.json", "raw/site.geojson", "raw/a.tif")
    look_everywhere(job, *(("trace", path) for path in paths))


def test_what_stands_in_job_toml(job: JobBench) -> None:
    """TOML can write any character as an escape; neither its values nor its keys do harm."""
    escaped = EVIL.encode("unicode_escape").decode().replace("\\x", "\\u00")
    for text in (
        f'[job]\ntitle = "{escaped}"\nreference = "{escaped}"\n',
        f'[job]\n"{escaped}" = 1\n',
        f'[coordinates]\nhorizontal = "{escaped}"\nvertical = "{escaped}"\n',
        f'[coordinates]\ngeoid = {{ name = "{escaped}", file = "{escaped}" }}\n',
        f'[criteria."{escaped}"]\na = 1\n',
        f'[criteria.classification]\nallowed = ["{escaped}"]\n',
        f'[checks]\noff = {{ seams = "{escaped}" }}\n',
        f'[delivery]\nitems = ["{escaped}"]\nboundary = "{escaped}"\n',
        f'[folders]\nraw = "{escaped}"\nout = "{escaped}"\n',
    ):
        job.write("job.toml", text.encode())
        for words in (["audit", "out"], ["checks"], [], ["register", "raw"]):
            ran = job.run(*words)
            assert ran.status in (0, 1, 2, 3), ran
            require_harmless(ran)
