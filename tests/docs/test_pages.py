"""Generated pages are fresh, links lead somewhere, and every command is documented."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from generate import JSON_OBJECTS, PAGES, REFERENCE, ROOT

from ledger.cli.table import COMMANDS

_LINK = re.compile(r"\[[^\]]*\]\(([^)#]+)(?:#[^)]*)?\)")


def _list_pages() -> list[Path]:
    return [ROOT / "README.md", ROOT / "DEVELOPERS.md", *sorted((ROOT / "docs").rglob("*.md"))]


@pytest.mark.parametrize("name", sorted(PAGES))
def test_generated_pages_are_fresh(name: str) -> None:
    """A stored page is what the code gives now; else run tests/docs/generate.py."""
    assert (REFERENCE / name).read_text(encoding="utf-8") == PAGES[name]()


def test_links_lead_somewhere() -> None:
    """Every link inside the documentation names a file that exists."""
    lost = [
        f"{page.relative_to(ROOT)}: {target}"
        for page in _list_pages()
        for target in _LINK.findall(page.read_text(encoding="utf-8"))
        if "://" not in target and not (page.parent / target).exists()
    ]
    assert lost == []


def test_every_command_has_json() -> None:
    """Every command states the object that it prints with --json."""
    described = {name.partition(" ")[0] for name in JSON_OBJECTS}
    assert described == {"swathbook", "errors", *COMMANDS}


def test_every_command_stands_in_the_readme() -> None:
    """The README shows every command of the job."""
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    assert [name for name in COMMANDS if f"swathbook {name}" not in text] == []
