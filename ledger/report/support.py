"""What `support` shows."""

from __future__ import annotations

from typing import Annotated, TypedDict

from rich.console import Group, RenderableType

from ledger.report.root import list_root_lines
from ledger.report.screen import DOUBT, GOOD, STRONG, say, say_lines
from ledger.support import SupportResult


class SupportJson(TypedDict):
    """What `support --json` prints."""

    schema: Annotated[int, "1"]
    file: Annotated[str, "the archive"]
    entry: Annotated[int, "entry that holds the digest of what is in it"]
    sha256: Annotated[str, "that digest"]
    counts: Annotated[dict[str, int], "how many of what are told"]
    root: Annotated[str, "root of the book after that entry, hex"]


def make_json(result: SupportResult) -> SupportJson:
    """Return the object that `--json` prints."""
    return {
        "schema": 1,
        "file": str(result.file),
        "entry": result.entry,
        "sha256": result.sha256,
        "counts": result.counts,
        "root": result.root.hex(),
    }


def make_screen(result: SupportResult) -> RenderableType:
    """Return what a person reads."""
    told = ", ".join(f"{name} {number:,}" for name, number in result.counts.items())
    return Group(
        say(f"Written, and entered as entry {result.entry}:", GOOD),
        say_lines([str(result.file)], STRONG, indent=2),
        say(f"In it: {told}."),
        say(
            "Names of files, functions, serials, marks and free texts are replaced, places are "
            "moved, heights are as they are."
        ),
        say("Root of the book, which its proof stands under:"),
        say_lines(list_root_lines(result.root), indent=2),
        say("Look through it before you send it: what tells too much is for you to say.", DOUBT),
    )
