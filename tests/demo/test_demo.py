"""The demo is the main job: what each step has to show is held here and not in the program."""

from __future__ import annotations

import contextlib
import json
import sqlite3
import subprocess
from pathlib import Path
from typing import Any

import pytest

from ledger.cli.frame import main
from ledger.store.reading import Book

STALE = "tile_14.laz"
COMMANDS = [
    ("start", 0),
    ("", 0),
    ("register raw --flight F1", 0),
    ("register geoid", 0),
    ("record points raw/control/checks.csv", 0),
    ("record points raw/control/control.csv", 0),
    ("record rig", 0),
    ("record flight", 0),
    ("record out/R1", 0),
    ("record out/R2", 0),
    ("record statement", 0),
    ("audit deliver", 1),
    ("trace", 0),
    ("record statement T1", 0),
    ("audit deliver", 1),
    ("accept", 0),
    ("accept", 0),
    ("recheck", 0),
    ("recheck --job", 1),
]


def _ask(capsys: pytest.CaptureFixture[str], *words: str) -> tuple[int, dict[str, Any]]:
    status = main([*words, "--json"])
    return status, json.loads(capsys.readouterr().out)


def test_every_step_ends_as_it_should(
    walked: tuple[Path, subprocess.CompletedProcess[str]],
) -> None:
    """From start to recheck, with the audits, the trace and the acceptance, each as it should."""
    _, done = walked
    assert done.returncode == 0, done.stdout + done.stderr
    steps = json.loads(done.stdout)["steps"]
    typed = [(step["command"].removeprefix("swathbook "), step["exit"]) for step in steps]
    commands = [step for step in typed if step[0]]
    wanted = [each for each in COMMANDS if each[0]]
    assert len(commands) == len(wanted)
    for (command, status), (start, expected) in zip(commands, wanted, strict=True):
        assert command.startswith(start)
        assert status == expected


def test_the_stale_tile_is_named_with_its_run(
    walked: tuple[Path, subprocess.CompletedProcess[str]], capsys: pytest.CaptureFixture[str]
) -> None:
    """With the stale tile back in place, lineage and seams both name it, and nothing else."""
    job = walked[0] / "QM-0412"
    again = walked[0] / "again"
    again.mkdir(exist_ok=True)
    for path in sorted((job / "deliver").iterdir()):
        source = job / "out" / "R1" / STALE if path.name == STALE else path
        (again / path.name).write_bytes(source.read_bytes())
    status, audit = _ask(capsys, "audit", str(again), "--job", str(job))
    assert (status, audit["verdict"]) == (1, "do not send")
    majors = [f for f in audit["findings"] if f["grade"] == "major"]
    assert {f["where"]["file"] for f in majors} == {STALE}
    assert {catalogue for f in majors for catalogue in f["catalogue"]} >= {"RH-02", "VD-08"}
    stale = next(f for f in majors if "RH-02" in f["catalogue"])
    assert "R1" in stale["sentence"]
    step = next(f for f in majors if "VD-08" in f["catalogue"])
    # The geoid height at the tile's centre by the demo's own formula: -31.915 m.
    assert abs(abs(float(step["observed"])) - 31.91) < 0.05
    # No checkpoint lies in it: they show nothing, and the tile stands beside their number.
    figures = {each["name"]: each for each in audit["figures"]}
    assert float(figures["vertical-rmse"]["value"]) == pytest.approx(0.023, abs=0.0006)
    assert "vertical-accuracy" in {each["check"] for each in audit["conforming"]}
    assert any(STALE in each["listed"] for each in audit["figures"] if "tiles" in each["sentence"])


def test_a_forged_table_of_runs_changes_no_verdict(
    walked: tuple[Path, subprocess.CompletedProcess[str]], capsys: pytest.CaptureFixture[str]
) -> None:
    """A derived table that says a rejected run was accepted is mended before anything is judged."""
    job = walked[0] / "QM-0412"
    folder = walked[0] / "forged"
    folder.mkdir(exist_ok=True)
    (folder / STALE).write_bytes((job / "out" / "R1" / STALE).read_bytes())
    with contextlib.closing(sqlite3.connect(job / "swathbook.sqlite")) as tables, tables:
        tables.execute("UPDATE processes SET decision = 'accepted' WHERE id = 'R1'")
    status, audit = _ask(capsys, "audit", str(folder), "--quick", "--job", str(job))
    assert status == 1
    assert any("RH-02" in f["catalogue"] and f["grade"] == "major" for f in audit["findings"])


def test_a_quick_audit_does_not_hide_a_full_one(
    walked: tuple[Path, subprocess.CompletedProcess[str]], capsys: pytest.CaptureFixture[str]
) -> None:
    """After a quick audit of the same bytes, trace and recheck still tell the full verdict."""
    job = walked[0] / "QM-0412"
    assert _ask(capsys, "audit", str(job / "deliver"), "--quick", "--job", str(job))[0] == 3
    _, trace = _ask(capsys, "trace", str(job / "deliver" / STALE), "--job", str(job))
    verdicts = [
        node["values"]["audit.verdict"]["value"]
        for node in trace["chain"]
        if node["kind"] == "audit" and node["name"] == "deliver"
    ]
    assert "send only with acceptance" in verdicts
    assert "incomplete" not in verdicts
    _, recheck = _ask(capsys, "recheck", "--job", str(job))
    told = [(audit["folder"], audit["verdict"]) for audit in recheck["audits"]]
    assert ("deliver", "send only with acceptance") in told


def test_the_trace_answers_the_questions(
    walked: tuple[Path, subprocess.CompletedProcess[str]], capsys: pytest.CaptureFixture[str]
) -> None:
    """Geoid with digest, raw files, mount mode, antenna, lever arm and frame stand in the chain."""
    job = walked[0] / "QM-0412"
    status, trace = _ask(capsys, "trace", str(job / "deliver" / STALE), "--job", str(job))
    assert status == 0
    run = next(node for node in trace["chain"] if node["kind"] == "run")
    assert run["id"] == "R2"
    assert run["values"]["run.geoid_name"]["value"] == "demo-geoid-A"
    assert len(run["values"]["run.geoid_file"]["value"]) == 64
    assert run["values"]["run.mount_mode"]["value"] == "drone"
    assert run["values"]["run.frame"]["value"] == "NAD83(2011)"
    flight = next(node for node in trace["chain"] if node["kind"] == "flight")
    assert flight["id"] == "F1"
    raw = [node["name"] for node in trace["chain"] if node["kind"] == "file"]
    assert any("cap_0412_p1.bin" in name for name in raw)


def test_the_geoids_belong_to_no_flight(
    walked: tuple[Path, subprocess.CompletedProcess[str]],
) -> None:
    """A geoid grid was not flown: it is registered as what it is, and to no flight."""
    with Book.open(walked[0] / "QM-0412") as book:
        uses = [
            use
            for record in book.files_last_seen()
            for use in book.uses(record.sha256)
            if use.relation == "registered"
        ]
    grids = {use.file.path: (use.file.role, use.owner) for use in uses if "geoid/" in use.file.path}
    assert grids == {
        "geoid/demo-geoid-A.tif": ("geoid", ""),
        "geoid/demo-geoid-B.tif": ("geoid", ""),
    }
    others = {use.owner for use in uses if "geoid/" not in use.file.path}
    assert others == {"F1"}


def test_the_flipped_byte_is_found(
    walked: tuple[Path, subprocess.CompletedProcess[str]], capsys: pytest.CaptureFixture[str]
) -> None:
    """One flipped byte makes one file changed, by name, and the audit hold no longer."""
    copy = walked[0] / "QM-0412-copy"
    status, recheck = _ask(capsys, "recheck", "--job", str(copy))
    assert status == 1
    assert [(f["path"], f["state"]) for f in recheck["files"]] == [
        ("deliver/tile_09.laz", "changed")
    ]
    assert recheck["book"] == "unbroken"


def test_running_it_again_works(
    walked: tuple[Path, subprocess.CompletedProcess[str]], capsys: pytest.CaptureFixture[str]
) -> None:
    """The demo empties its own folder and walks again."""
    assert main(["demo", str(walked[0])]) == 0
    assert "All steps ended as they should" in capsys.readouterr().out


def test_no_demo_is_made_inside_a_job(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Typed in a job folder, the demo would nest a job: it is refused and nothing is made."""
    assert main(["start", str(tmp_path / "pit")]) == 0
    monkeypatch.chdir(tmp_path / "pit")
    before = sorted(path.name for path in Path.cwd().iterdir())
    assert main(["demo"]) == 2
    assert "a job inside another job" in capsys.readouterr().err
    assert sorted(path.name for path in Path.cwd().iterdir()) == before


def test_a_folder_of_somebody_else_is_left_alone(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A folder with files that no demo made is refused and not touched."""
    (tmp_path / "thesis.txt").write_text("mine", encoding="ascii")
    assert main(["demo", str(tmp_path)]) == 2
    assert "thesis" not in capsys.readouterr().out
    assert [path.name for path in tmp_path.iterdir()] == ["thesis.txt"]
