"""A table of points as an audit reads it: recorded, carried, come later, or edited since."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from job_bench import JobBench
from point_tables import DECLARED, ROWS, WISHES, set_words

from ledger.testing import Layout, Scene, SurveyBuilder, spread_points

SCENE = Scene(noise=0.005)


def lay_out(bench: JobBench, error: float = 0.02) -> str:
    """Deliver a survey and return the text of a table on its ground."""
    SurveyBuilder(bench.job / "out", Layout(), SCENE)
    bench.write("job.toml", WISHES)
    points = spread_points(SCENE, 12, error=error)
    rows = [f"{each.id},{each.east},{each.north},{each.height}" for each in points]
    return "\n".join(["id,e,n,h", *rows, ""])


def find_patch(result: dict[str, Any]) -> dict[str, Any]:
    """Return the one answer about the ground at the checkpoints that is no observation."""
    found = [f for f in result["findings"] if f["check"] == "checkpoint-patch" and not f["grade"]]
    return found[0] if found else {"outcome": "conforms"}


def test_an_audit_reads_the_table_as_it_was_recorded(bench: JobBench) -> None:
    """Recorded it is used; changed afterwards it is not, until it is recorded again."""
    bench.write("control/checks.csv", (DECLARED + lay_out(bench)).encode())
    bench.ask("record", "points", "control/checks.csv", *set_words({"role": "checkpoints"}))
    assert find_patch(bench.ask("audit", "out", status=None))["outcome"] == "conforms"
    bench.write("control/checks.csv", (DECLARED + lay_out(bench, error=0.5)).encode())
    found = find_patch(bench.ask("audit", "out", status=None))
    assert found["outcome"] == "not assessed"
    assert "it changed after it was recorded" in found["sentence"]
    (bench.job / "control" / "checks.csv").unlink()
    assert find_patch(bench.ask("audit", "out", status=None))["outcome"] == "not assessed"


def test_what_was_carried_passes_nothing(bench: JobBench) -> None:
    """Heights whose kind nobody confirmed may fail and never pass."""
    text = lay_out(bench)
    bench.write("first.csv", text.encode())
    said = {"horizontal": "EPSG:6346", "vertical": "orthometric", "unit_vertical": "metre"}
    bench.ask("record", "points", "first.csv", *set_words({**said, "role": "control"}))
    bench.write("second.csv", text.replace("C0", "D0").encode())
    bench.ask("record", "points", "second.csv", *set_words({"role": "checkpoints"}))
    found = find_patch(bench.ask("audit", "out", status=None))
    assert found["outcome"] == "inconclusive"
    assert "carried over and not confirmed" in found["sentence"]
    bench.ask("record", "points", "second.csv", *set_words(said))
    assert find_patch(bench.ask("audit", "out", status=None))["outcome"] == "conforms"


def test_a_table_that_came_later(bench: JobBench, tmp_path: Path) -> None:
    """It is read as its comment lines say; one that says nothing is not held against the cloud."""
    text = lay_out(bench)
    later = tmp_path / "later.csv"
    later.write_text(DECLARED + text, encoding="utf-8")
    result = bench.ask("audit", "out", "--with-checkpoints", later, status=None)
    assert find_patch(result)["outcome"] == "conforms"
    later.write_text(text, encoding="utf-8")
    found = find_patch(bench.ask("audit", "out", "--with-checkpoints", later, status=None))
    assert found["outcome"] == "not assessed"
    assert "does not say in what coordinate system" in found["sentence"]
    later.write_text(ROWS, encoding="utf-8")
    (line,) = bench.refuse("audit", "out", "--with-checkpoints", later)
    assert "which column is the easting" in line


def test_what_the_file_says_otherwise_is_told_at_each_audit(bench: JobBench) -> None:
    """Not only when it was recorded: a wrong kind of heights waits in the table for years."""
    bench.write("control/checks.csv", (DECLARED + lay_out(bench)).encode())
    said = {"role": "checkpoints", "vertical": "ellipsoidal"}
    bench.ask("record", "points", "control/checks.csv", *set_words(said))
    told = [
        f
        for f in bench.ask("audit", "out", status=None)["findings"]
        if f["check"] == "checkpoint-systems" and "contradict each other" in f["sentence"]
    ]
    assert [f["grade"] for f in told] == ["minor"]
    assert "Vertical is ellipsoidal here" in told[0]["sentence"]
    assert "says orthometric" in told[0]["sentence"]


def test_a_table_that_is_edited_after_an_audit_ends_it(bench: JobBench) -> None:
    """The numbers of the audit are of other points then; nothing is handed over on them."""
    text = DECLARED + lay_out(bench)
    bench.write("control/checks.csv", text.encode())
    bench.ask("record", "points", "control/checks.csv", *set_words({"role": "checkpoints"}))
    bench.ask("audit", "out", status=None)
    ended = "control/checks.csv is not the one that it was held against"
    assert ended not in " ".join(bench.run("recheck").out.split())
    bench.write("control/checks.csv", text.replace("C01", "X01").encode())
    assert ended in " ".join(bench.run("recheck").out.split())
    ran = bench.run("handover", "out", "--to", "client", "--use", "design")
    assert ran.status == 1
    assert "was not handed over" in ran.out
    assert ended in " ".join(ran.out.split())
