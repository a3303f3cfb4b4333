"""Receipts, and the script of the guide that checks them with nothing of ours."""

from __future__ import annotations

import json
import shutil
import subprocess
import sys
from pathlib import Path

import pytest
from job_bench import run_here
from made_book import MadeBook

from ledger.errors import UsageError
from ledger.receipt import Receipt, make_receipts
from ledger.seal import seal_book
from ledger.store.machine import HOME_VARIABLE

VECTORS = Path(__file__).with_name("vectors")
SCRIPT = Path(__file__).parents[2] / "docs" / "guide" / "verify_receipt.py"
MOST_LINES = 60
NUMBER = 7


@pytest.fixture
def job(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Give a job with an audited folder of several files, one of them below a folder."""
    monkeypatch.setenv(HOME_VARIABLE, str(tmp_path / "home"))
    book = MadeBook(tmp_path / "job")
    names = [*(f"out/tile_{number}.las" for number in range(NUMBER - 1)), "out/doc/größe, 1.txt"]
    for name in names:
        book.write(name, name)
    book.run(*names)
    shutil.copytree(book.folder / "out", book.folder / "deliver")
    book.audit("deliver")
    book.close()
    return book.folder


def verify(receipt: Path, file: Path, key: str) -> subprocess.CompletedProcess[str]:
    """Run the script as a stranger would: isolated, in a process of its own."""
    words = [sys.executable, "-I", "-O", str(SCRIPT), str(receipt), str(file), key]
    return subprocess.run(words, capture_output=True, text=True, check=False, encoding="utf-8")


def make(job: Path) -> tuple[tuple[Receipt, ...], str]:
    """Seal, and make a receipt for every delivered file."""
    seal_book(job, lambda _: "")
    files = sorted(path for path in (job / "deliver").rglob("*") if path.is_file())
    result = make_receipts(job, files)
    return result.receipts, result.key


def test_the_script_is_short_and_imports_nothing_of_ours() -> None:
    """Sixty lines can be read before they are believed."""
    text = SCRIPT.read_text(encoding="utf-8")
    assert len(text.splitlines()) <= MOST_LINES
    assert "ledger" not in text


@pytest.mark.parametrize("words", [[], ["receipt.json", "tile.las"]])
def test_the_script_says_how_it_is_called(words: list[str]) -> None:
    """Without the key nothing was checked, which is another thing than not proven."""
    called = [sys.executable, "-I", str(SCRIPT), *words]
    ran = subprocess.run(called, capture_output=True, text=True, check=False, encoding="utf-8")
    told = "NOT CHECKED. Call: python verify_receipt.py RECEIPT FILE PUBLIC-KEY\n"
    assert (ran.returncode, ran.stderr) == (1, told)


def test_the_screen_says_where_the_script_lies(job: Path) -> None:
    """Whoever gets the receipt has to find what checks it."""
    seal_book(job, lambda _: "")
    ran = run_here(["receipt", "deliver/tile_0.las"], job)
    named = "docs/guide/verify_receipt.py"
    assert named in ran.out
    assert (SCRIPT.parents[2] / named).samefile(SCRIPT)


def test_a_receipt_that_was_given_away_is_proven_by_every_later_script() -> None:
    """One that was kept since 2026-11-27; its job and its private key are gone."""
    key = (VECTORS / "key.txt").read_text(encoding="utf-8")
    ran = verify(VECTORS / "tile_2.receipt.json", VECTORS / "tile_2.las", key)
    assert (ran.returncode, ran.stderr) == (0, "")
    assert ran.stdout.startswith("tile_2.las is in D1, entry 3 of swathbook/book/")


def test_every_file_of_a_deliverable_is_proven(job: Path) -> None:
    """Each receipt is right for its file, and wrong for the next one."""
    receipts, key = make(job)
    assert len(receipts) == NUMBER
    for each, other in zip(receipts, (*receipts[1:], receipts[0]), strict=True):
        ran = verify(each.file, job / "deliver" / each.path, key)
        assert (ran.returncode, ran.stderr) == (0, "")
        assert ran.stdout.startswith(f"{each.path} is in D1, entry {each.entry} of ")
        assert verify(each.file, job / "deliver" / other.path, key).returncode == 1


def test_a_receipt_shows_no_other_file_and_no_finding(job: Path) -> None:
    """Neither a name nor a digest of another file, nor the verdict of an audit, is in it."""
    receipts, _ = make(job)
    text = receipts[0].file.read_text(encoding="utf-8")
    assert all(each.path not in text and each.sha256 not in text for each in receipts[1:])
    assert not any(word in text for word in ("verdict", "finding", "fit to send", "criteria"))


def test_nothing_in_a_receipt_can_be_altered(job: Path) -> None:
    """Every text and number in turn."""
    receipts, key = make(job)
    file = job / "deliver" / receipts[0].path
    whole = json.loads(receipts[0].file.read_text(encoding="utf-8"))
    altered = job / "altered.json"
    changes = [
        ("seal", lambda text: text.replace("\n", "\n1", 1)),
        ("entry.index", lambda number: number + 1),
        ("entry.body", lambda text: text.replace("technician", "engineer")),
        ("entry.proof", lambda parts: parts[:-1]),
        ("entry.proof", lambda parts: [*parts, parts[0]]),
        ("file.index", lambda number: number + 1),
        ("file.leaf", lambda text: text.replace('"path":"', '"path":"x')),
        ("file.proof", lambda parts: list(reversed(parts))),
    ]
    for place, change in changes:
        copy = json.loads(json.dumps(whole))
        *outer, last = place.split(".")
        part = copy[outer[0]] if outer else copy
        part[last] = change(part[last])
        altered.write_text(json.dumps(copy), encoding="utf-8")
        ran = verify(altered, file, key)
        assert ran.returncode == 1, place
        assert ran.stderr.startswith("NOT PROVEN"), place


def test_another_key_proves_nothing(job: Path, tmp_path: Path) -> None:
    """A key of the same name with other bytes does not verify the seal."""
    receipts, key = make(job)
    name, _, encoded = key.split("+", 2)
    forged = f"{name}+00000000+{encoded[:-4]}AAA="
    ran = verify(receipts[0].file, job / "deliver" / receipts[0].path, forged)
    assert ran.returncode == 1


def test_a_file_of_no_sealed_deliverable_has_no_receipt(job: Path) -> None:
    """Before the seal, and for other bytes, it is said what to do."""
    with pytest.raises(UsageError, match="swathbook seal"):
        make_receipts(job, [job / "deliver" / "tile_0.las"])
    seal_book(job, lambda _: "")
    (job / "deliver" / "tile_0.las").write_text("other", encoding="utf-8")
    with pytest.raises(UsageError, match="these bytes"):
        make_receipts(job, [job / "deliver" / "tile_0.las"])


def test_the_command(job: Path, tmp_path: Path) -> None:
    """A renamed copy is known by its bytes; the receipt goes where it was asked for."""
    assert run_here(["seal"], job).status == 0
    shutil.copyfile(job / "deliver" / "tile_3.las", tmp_path / "renamed.las")
    ran = run_here(["receipt", tmp_path / "renamed.las", "--to", tmp_path / "r", "--json"], job)
    assert ran.status == 0, ran.err
    told = json.loads(ran.out)
    assert [row["path"] for row in told["receipts"]] == ["tile_3.las"]
    assert (
        verify(Path(told["receipts"][0]["file"]), tmp_path / "renamed.las", told["key"]).returncode
        == 0
    )
    ran = run_here(["receipt", tmp_path / "renamed.las"], job)
    assert "Receipt for tile_3.las of D1" in ran.out


def test_no_receipt_is_written_into_a_delivery_or_among_raw_data(job: Path) -> None:
    """What was audited stays as it was."""
    seal_book(job, lambda _: "")
    for folder in ("deliver", "raw"):
        before = sorted((job / folder).rglob("*"))  # none where there is no such folder
        with pytest.raises(UsageError, match="nothing is written among the"):
            make_receipts(job, [job / "deliver/tile_0.las"], job / folder)
        assert sorted((job / folder).rglob("*")) == before
