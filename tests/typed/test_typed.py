"""Printed commands are typed as they stand: a shell has to read back the very name."""

from __future__ import annotations

import os
import shutil
import subprocess
from pathlib import Path

import pytest

from ledger.model.typed import quote_path, quote_word

NAMES = [
    "deliver",
    "out/R1/tile_01.laz",
    "final delivery",
    "tiles (2)",
    "client's tiles",
    'say "here"',
    "-old",
    "a&b;c|d",
    "$HOME `x` %PATH%",
    "~old",
    "#1",
    "*.laz",
    "Prüfung",
    "two\nlines\tand\x1b[31m",
    "left\u202eright",
    "back\\slash\n'",
    os.fsdecode(b"latin-\xe9"),
]


@pytest.mark.parametrize("name", NAMES, ids=ascii)
def test_a_shell_reads_the_name_back(name: str, tmp_path: Path) -> None:
    """Bash, given the printed word, opens the file of exactly that name."""
    bash = shutil.which("bash")
    if bash is None:
        pytest.skip("there is no bash here")
    place = tmp_path / name
    place.parent.mkdir(parents=True, exist_ok=True)
    place.write_text("found", encoding="ascii")
    typed = quote_path(name, windows=False)
    assert typed.isprintable()
    done = subprocess.run(
        [bash, "-c", f"cat {typed}"], cwd=tmp_path, capture_output=True, check=False
    )
    assert done.stdout == b"found", done.stderr


def test_a_leading_dash_is_no_option() -> None:
    """A path that begins with a dash is written so that no command takes it for an option."""
    assert quote_path("-x", windows=False) == "./-x"
    assert quote_path("-x", windows=True) == "./-x"
    assert quote_word("-x", windows=False) == "-x"


@pytest.mark.parametrize(
    ("name", "typed"),
    [
        ("deliver/a_1.laz", "deliver/a_1.laz"),
        (r"D:\jobs\QM-0412", r"D:\jobs\QM-0412"),
        ("final delivery", '"final delivery"'),
        ("tiles (2)", '"tiles (2)"'),
        ("a,b", '"a,b"'),
        ("client's", '"client\'s"'),
        ("a&b", '"a&b"'),
        ("@list", '"@list"'),
    ],
)
def test_windows_shells_get_double_quotes(name: str, typed: str) -> None:
    """What cmd or PowerShell would read otherwise stands in double quotes, which both take."""
    assert quote_word(name, windows=True) == typed
