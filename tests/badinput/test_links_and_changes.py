"""Links, pipes, files that change or go away while a command works, and thousands of files."""

from __future__ import annotations

import contextlib
import os
import signal
import socket
import subprocess
import sys
import time
from pathlib import Path

import pytest
from job_bench import JobBench

from ledger.audit import delivery
from ledger.contract import runner
from ledger.fixity import read_many
from ledger.register import gathering
from ledger.testing import Layout, Scene, SurveyBuilder

PLAIN = Layout(compressed=False)
SMALL = Scene(columns=2, density=1.0)


@pytest.fixture
def tangled(bench: JobBench) -> JobBench:
    """Return a job with links and a pipe beside a file, in `raw` and in `out`."""
    for folder in ("raw", "out"):
        place = bench.job / folder
        bench.write(f"{folder}/good.txt", b"good")
        bench.write("aside/secret.txt", b"secret")
        (place / "loop").symlink_to("loop")
        (place / "round").symlink_to("..", target_is_directory=True)
        (place / "broken").symlink_to("nothing")
        (place / "outside").symlink_to("../aside/secret.txt")
        os.mkfifo(place / "pipe")
    return bench


def test_links_and_pipes_among_raw_files(tangled: JobBench) -> None:
    """What cannot be read is left out by name; nothing is waited for, and the rest is entered."""
    told = tangled.ask("register", "raw", status=1)
    assert [Path(file["path"]).name for file in told["files"]] == ["good.txt", "outside"]
    left_out = {Path(each["path"]).name: each["why"] for each in told["left_out"]}
    assert list(left_out) == ["broken", "loop", "pipe", "round"]
    assert all(why.startswith("cannot be read: ") for why in left_out.values())
    assert not told["card_may_be_cleared"]
    shown = tangled.run("register", "raw")
    assert (shown.status, shown.err) == (1, "")
    assert "Not entered: 4 paths" in shown.out
    for name in left_out:
        assert f"raw/{name}: cannot be read" in shown.out
    assert "left_out_count" in str(tangled.ask("trace", f"entry:{told['entry']}"))
    assert tangled.ask("recheck")["counts"] == {"as recorded": 2}
    for name in left_out:
        (tangled.job / "raw" / name).unlink()
    told = tangled.ask("register", "raw")
    assert (told["left_out"], told["resumed"]) == ([], 0)


def test_a_socket_and_a_device_are_left_out(bench: JobBench) -> None:
    """A link to a device without end is never read; a socket is none, either."""
    bench.write("raw/good.txt", b"good")
    (bench.job / "raw" / "endless").symlink_to("/dev/zero")
    with socket.socket(socket.AF_UNIX) as server, contextlib.chdir(bench.job / "raw"):
        server.bind("socket")  # by its name alone: the whole path would be too long
        told = bench.ask("register", "raw", status=1)
    left_out = {Path(each["path"]).name: each["why"] for each in told["left_out"]}
    assert "it is a device" in left_out["endless"]
    assert "it is a socket" in left_out["socket"]
    assert [Path(file["path"]).name for file in told["files"]] == ["good.txt"]


@pytest.mark.parametrize("name", ["broken", "loop", "pipe", "round"])
def test_a_link_or_pipe_that_is_named(tangled: JobBench, name: str) -> None:
    """Named by itself it is one line for every command that would read it."""
    for command in ("register", "record"):
        if name != "round":  # which is the job folder, entered through a link
            (line,) = tangled.refuse(command, f"raw/{name}")
            assert command == "record" or "nothing was entered" in line
    tangled.refuse("trace", f"raw/{name}")
    tangled.refuse("audit", f"raw/{name}")


def test_links_and_pipes_among_outputs(tangled: JobBench) -> None:
    """A run is recorded without them; each is named with its reason, and the status is 1."""
    told = tangled.ask("record", "out", status=1)
    assert [Path(each["path"]).name for each in told["outputs"]] == ["good.txt", "outside"]
    assert sorted(told["unread"]) == [f"out/{name}" for name in ("broken", "loop", "pipe", "round")]
    shown = tangled.run("record", "out", "--set", "version=2")
    assert (shown.status, shown.err) == (1, "")
    assert "Left out, because they cannot be read" in shown.out
    assert "out/broken: cannot be read: it is a link that leads to nothing" in shown.out


def test_links_and_pipes_in_a_delivery(tangled: JobBench) -> None:
    """In an audited folder each is told, none is followed, and none passes."""
    result = tangled.ask("audit", "out", status=None)
    assert result["files"] == 6
    assert result["verdict"] != "fit to send"
    for name in ("loop", "round", "broken", "outside", "pipe"):
        found = [f for f in result["findings"] if f["subject"] == name]
        assert found, name
        assert any(f["outcome"] in ("nonconforming", "not assessed") for f in found), found
    *_, entry = tangled.read_journal()
    manifest = {row["path"]: row["sha256"] for row in tangled.read_list(entry, "manifest")}
    assert [name for name, digest in manifest.items() if digest] == ["good.txt"]


def test_a_link_to_a_folder_that_leads_back(bench: JobBench) -> None:
    """A link to a folder is not followed and not left out: raw data behind it would be missed."""
    bench.write("raw/a/b.txt", b"b")
    (bench.job / "raw" / "a" / "up").symlink_to("../..", target_is_directory=True)
    told = bench.ask("register", "raw", status=1)
    assert [file["path"] for file in told["files"]] == ["raw/a/b.txt"]
    (left_out,) = told["left_out"]
    assert left_out["path"] == "raw/a/up"
    assert "it is a link to a folder, which is not followed" in left_out["why"]


@pytest.mark.parametrize("change", ["grows", "is replaced", "shrinks"])
def test_a_file_that_changes_while_it_is_read(
    bench: JobBench, monkeypatch: pytest.MonkeyPatch, change: str
) -> None:
    """A file that a program still writes to is one line; the rest is hashed only once."""
    bench.write("raw/a.txt", b"a" * 100)
    growing = bench.write("raw/b.txt", b"b" * 100)
    really_open = os.open

    def write_on(path: str, flags: int, *rest: int, **more: int) -> int:
        if os.fspath(path) == str(growing) and flags & os.O_ACCMODE == os.O_RDONLY:
            if change == "is replaced":
                growing.with_name("other").write_bytes(b"o" * 100)
                growing.with_name("other").replace(growing)
            else:
                growing.write_bytes(b"b" * (200 if change == "grows" else 50))
        return really_open(path, flags, *rest, **more)

    with monkeypatch.context() as patch:
        patch.setattr(os, "open", write_on)
        (line,) = bench.refuse("register", "raw")
    assert "b.txt: changed while it was read" in line
    assert "nothing was entered; wait until nothing writes to it" in line
    assert "type the same command again" in line
    told = bench.ask("register", "raw")
    left = {"grows": 200, "is replaced": 100, "shrinks": 50}[change]
    assert (told["resumed"], told["bytes"]) == (1, 100 + left)


def test_registering_again_after_a_kill_goes_on(bench: JobBench) -> None:
    """A process that is killed between two files leaves the book as it was, and is taken up."""
    for number in range(20):
        bench.write(f"raw/{number:02d}.txt", bytes([number]) * 10)
    before = bench.read_journal()
    code = (
        "import os, signal, sys\n"
        "from ledger.register import gathering\n"
        "from ledger.cli.frame import main\n"
        "from ledger.fixity import read_many\n"
        "def kill_after(paths, progress):\n"
        "    for number, pair in enumerate(read_many(paths, progress, threads=1)):\n"
        "        if number == 7:\n"
        "            os.kill(os.getpid(), signal.SIGKILL)\n"
        "        yield pair\n"
        "gathering.read_many = kill_after\n"
        "main(['register', 'raw'])\n"
    )
    killed = subprocess.run([sys.executable, "-P", "-c", code], cwd=bench.job, check=False)
    assert killed.returncode == -signal.SIGKILL
    assert bench.read_journal() == before
    told = bench.ask("register", "raw")
    assert (told["resumed"], len(told["files"])) == (7, 20)
    assert [entry.kind for entry in bench.read_journal()[len(before) :]] == ["files"]


@pytest.mark.parametrize("entries", [0, 1, 2, 3])
def test_a_kill_while_it_is_entered_leaves_nothing_half_known(
    bench: JobBench, entries: int
) -> None:
    """`job.toml`, flight and files are entered together; a kill in between leaves none of them."""
    for number in range(20):
        bench.write(f"raw/{number:02d}.txt", bytes([number]) * 10)
    bench.write("job.toml", b"# changed\n")
    before = bench.read_journal()
    code = (
        "import os, signal\n"
        "from ledger.cli.frame import main\n"
        "from ledger.store.writing import BookWriter\n"
        "added, add, store = [], BookWriter._add, BookWriter._store_rows\n"
        "def kill_after(*parts):\n"
        f"    if len(added) == {entries}:\n"
        "        os.kill(os.getpid(), signal.SIGKILL)\n"
        "    added.append(1)\n"
        "    return add(*parts)\n"
        "def kill_before_commit(*parts):\n"
        "    store(*parts)\n"
        "    os.kill(os.getpid(), signal.SIGKILL)\n"
        "BookWriter._add = kill_after\n"
        "BookWriter._store_rows = kill_before_commit\n"
        "main(['register', 'raw', '--flight', 'F1'])\n"
    )
    killed = subprocess.run([sys.executable, "-P", "-c", code], cwd=bench.job, check=False)
    assert killed.returncode == -signal.SIGKILL
    assert bench.read_journal() == before
    shown = bench.run("register", "raw", "--flight", "F1")
    assert (shown.status, shown.err) == (0, "")
    told = " ".join(shown.out.split())
    assert "20 of 20 files had already been read by a register that did not come to its end" in told
    kinds = [entry.kind for entry in bench.read_journal()[len(before) :]]
    assert kinds == ["specification", "flight", "files"]


def test_registering_again_after_an_interruption_goes_on(
    bench: JobBench, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Ctrl-C ends in one line and status 130; the next call hashes only what is left."""
    for number in range(6):
        bench.write(f"raw/{number}.txt", bytes([number]))
    hashed: list[str] = []

    def note(paths, progress):
        for path, outcome in read_many(paths, progress, threads=1):
            hashed.append(path.name)
            if len(hashed) == 4:
                raise KeyboardInterrupt
            yield path, outcome

    monkeypatch.setattr(gathering, "read_many", note)
    before = bench.read_journal()
    ran = bench.run("register", "raw")
    assert (ran.status, ran.out) == (130, "")
    assert (
        ran.err.strip()
        == "swathbook: interrupted; the book holds what was entered before, and nothing half-done"
    )
    assert bench.read_journal() == before
    told = bench.ask("register", "raw")
    assert told["resumed"] == 3
    assert hashed == [f"{number}.txt" for number in (0, 1, 2, 3, 3, 4, 5)]


def test_the_same_bytes_again_are_a_sighting(bench: JobBench) -> None:
    """A second copy of the card is seen, counted once, and traced back to the first."""
    SurveyBuilder(bench.job / "raw", PLAIN, SMALL)
    bench.ask("register", "raw")
    for path in (bench.job / "raw").iterdir():
        bench.copy(path, f"copy/{path.name}")
    told = bench.ask("register", "copy")
    assert [file["new"] for file in told["files"]] == [False, False]
    kinds = [entry.kind for entry in bench.read_journal()[2:]]
    assert kinds == ["files", "sighting"]
    copy = told["files"][0]["path"]
    assert "registered in entry 3" in bench.ask("trace", copy)["sentence"]


def test_thousands_of_files_are_one_entry(bench: JobBench) -> None:
    """Three thousand small files are registered as one entry within seconds, and rechecked."""
    folder = bench.job / "raw"
    for number in range(3000):
        (folder / f"{number:04d}.txt").write_bytes(b"%d" % number)
    begun = time.process_time()
    told = bench.ask("register", "raw", "--flight", "F1")
    assert time.process_time() - begun < 8
    assert (len(told["files"]), told["bytes"]) == (3000, sum(len(str(n)) for n in range(3000)))
    kinds = [(entry.kind, entry.values.get("count")) for entry in bench.read_journal()[2:]]
    assert kinds == [("flight", None), ("files", 3000)]
    begun = time.process_time()
    shown = bench.run("recheck")
    assert time.process_time() - begun < 8
    assert shown.status == 0
    shown = bench.run("register", "raw")
    assert (shown.status, shown.err) == (0, "")
    assert shown.out.count("\n") < 30


def test_a_tile_that_goes_away_before_its_points_are_read(
    bench: JobBench, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A tile that is deleted during the audit is a major finding; the others are judged."""
    survey = SurveyBuilder(bench.job / "out", PLAIN, SMALL)
    gone = survey.path(0)
    read_points = runner.Runner.read_points

    def delete_first(self, *parts):
        gone.unlink()
        return read_points(self, *parts)

    monkeypatch.setattr(runner.Runner, "read_points", delete_first)
    ran = bench.run("audit", "out")
    assert (ran.status, ran.err) == (1, "")
    assert gone.name in ran.out
    *_, entry = bench.read_journal()
    rows = bench.read_list(entry, "findings")
    majors = {row["subject"] for row in rows if row["grade"] == "major"}
    assert majors == {gone.name}
    assert [row for row in rows if row["outcome"] == "errored"] == []


def test_a_tile_that_goes_away_before_it_is_hashed(
    bench: JobBench, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A tile that is gone between listing and hashing is a major finding, too."""
    survey = SurveyBuilder(bench.job / "out", PLAIN, SMALL)
    gone = survey.path(0)
    really_read = read_many

    def delete_first(paths, *parts):
        gone.unlink(missing_ok=True)
        return really_read(paths, *parts)

    monkeypatch.setattr(delivery, "read_many", delete_first)
    result = bench.ask("audit", "out", status=1)
    majors = {f["subject"] for f in result["findings"] if f["grade"] == "major"}
    assert majors == {gone.name}


@pytest.mark.parametrize("change", ["grows", "is replaced", "shrinks"])
def test_a_tile_that_changes_during_the_audit(
    bench: JobBench, monkeypatch: pytest.MonkeyPatch, change: str
) -> None:
    """Nothing that was said of a tile holds when it is another one at the end."""
    survey = SurveyBuilder(bench.job / "out", PLAIN, SMALL)
    tile, other = survey.path(0), survey.path(1).read_bytes()
    read_points = runner.Runner.read_points

    def alter(self, *parts):
        readings = read_points(self, *parts)
        content = tile.read_bytes()
        if change == "grows":
            tile.write_bytes(content + b"\0")
        if change == "is replaced":
            tile.write_bytes(other)
        if change == "shrinks":
            tile.write_bytes(content[:-1])
        return readings

    monkeypatch.setattr(runner.Runner, "read_points", alter)
    result = bench.ask("audit", "out", status=1)
    majors = {f["subject"]: f["sentence"] for f in result["findings"] if f["grade"] == "major"}
    assert set(majors) == {tile.name}
    assert "changed" in majors[tile.name]


def test_a_folder_that_goes_away_during_an_audit(
    bench: JobBench, monkeypatch: pytest.MonkeyPatch
) -> None:
    """An audit of a drive that is pulled ends with findings, and never with a pass."""
    survey = SurveyBuilder(bench.job / "out", PLAIN, SMALL)
    read_points = runner.Runner.read_points

    def pull(self, *parts):
        (bench.job / "out").rename(bench.job / "pulled")
        return read_points(self, *parts)

    monkeypatch.setattr(runner.Runner, "read_points", pull)
    ran = bench.run("audit", "out")
    assert (ran.status, ran.err) == (1, "")
    assert all(path.name in ran.out for path in survey.paths)
