"""Screens on streams of another code page: plain ways to write our signs, escapes for others."""

from __future__ import annotations

import ast
import io
import subprocess
import sys
from pathlib import Path

import pytest

import ledger
from ledger.cli.signs import fit_stdout

ROOT = Path(ledger.__file__).parents[1]


def _fit(monkeypatch: pytest.MonkeyPatch, encoding: str, text: str) -> str:
    monkeypatch.setattr(sys, "stdout", io.TextIOWrapper(io.BytesIO(), encoding=encoding))
    return fit_stdout(text)


@pytest.mark.parametrize(
    ("encoding", "shown"),
    [
        ("ascii", '"R1" -> R2, +/-0.5 m ... \\u03a9.las'),
        ("cp1252", "“R1” -> R2, ±0.5 m … \\u03a9.las"),
        ("utf-8", "“R1” → R2, ±0.5 m … Ω.las"),
    ],
)
def test_signs_are_written_another_way(
    monkeypatch: pytest.MonkeyPatch, encoding: str, shown: str
) -> None:
    """An arrow becomes `->`; a letter of a name stays an escape, so that names stay apart."""
    assert _fit(monkeypatch, encoding, "“R1” → R2, ±0.5 m … Ω.las") == shown


@pytest.mark.parametrize(
    ("encoding", "quoted"), [("cp437", b'"site engineer"'), ("cp1252", b"\x93site engineer\x94")]
)
def test_a_stream_of_another_code_page_gets_no_escapes_of_ours(
    encoding: str, quoted: bytes
) -> None:
    """A help page redirected into a file of another code page reads as a person writes."""
    done = subprocess.run(
        [sys.executable, "-P", "-m", "ledger.cli", "accept", "--help"],
        capture_output=True,
        env={"PYTHONIOENCODING": encoding, "PATH": ""},
        check=True,
    )
    assert quoted in b" ".join(done.stdout.split())
    assert b"\\u" not in done.stdout


def _list_signs(path: Path) -> set[str]:
    """Return the signs beyond ASCII, letters aside, that stand in texts of a module."""
    source = path.read_text(encoding="utf-8")
    texts = "".join(
        node.value
        for node in ast.walk(ast.parse(source))
        if isinstance(node, ast.Constant) and isinstance(node.value, str)
    )
    return {sign for sign in set(texts) & set(source) if not sign.isascii() and not sign.isalpha()}


def test_every_sign_that_we_print_has_a_plain_way_to_write_it(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """A new sign on a screen has to come with what a cp1252 or ASCII stream gets instead."""
    modules = [path for part in ("ledger", "plugins") for path in (ROOT / part).rglob("*.py")]
    used = set().union(*(_list_signs(path) for path in modules))
    assert "→" in used
    assert not [sign for sign in used if "\\" in _fit(monkeypatch, "ascii", sign)]
