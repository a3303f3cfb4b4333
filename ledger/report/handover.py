"""What `handover` shows."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Annotated, TypedDict

from rich.console import Group, RenderableType

from ledger.handover.package import HandoverResult, Package
from ledger.model.phrases import count_things
from ledger.model.typed import quote_path
from ledger.report.root import list_root_lines
from ledger.report.screen import BAD, DOUBT, GOOD, QUIET, STRONG, next_step, say, say_lines


class HandoverJson(TypedDict):
    """What `handover --json` prints."""

    schema: Annotated[int, "1"]
    folder: Annotated[str, "the folder, as the book writes it"]
    refused: Annotated[list[str], "why it was not handed over; empty when it was"]
    entry: Annotated[int | None, "entry of the transmittal; null when refused"]
    id: Annotated[str, "H1; empty when refused"]
    again: Annotated[bool, "entered earlier; only the papers were written anew"]
    revision: Annotated[str, "its revision"]
    supersedes: Annotated[str, "transmittal that it replaces; empty for none"]
    manifest_sha256: Annotated[str, "identity of what was handed over"]
    root: Annotated[str, "root of the book after the transmittal, hex"]
    papers: Annotated[str | None, "folder with the papers"]
    written: Annotated[list[str], "names of the papers in it"]
    bag: Annotated[str | None, "the bag; null where none was wanted"]


def make_json(result: HandoverResult) -> HandoverJson:
    """Return the object that `--json` prints."""
    package = result.package
    return {
        "schema": 1,
        "folder": result.folder,
        "refused": list(result.refused),
        "entry": None if package is None else package.entry,
        "id": "" if package is None else package.id,
        "again": result.again,
        "revision": "" if package is None else package.wishes.revision,
        "supersedes": "" if package is None else package.wishes.supersedes,
        "manifest_sha256": "" if package is None else package.audit.manifest_sha256,
        "root": "" if package is None else package.root.hex(),
        "papers": None if result.papers is None else str(result.papers),
        "written": list(result.written),
        "bag": None if result.bag is None else str(result.bag),
    }


def make_screen(result: HandoverResult) -> RenderableType:
    """Return what a person reads."""
    if result.package is None:
        return Group(*_say_refused(result))
    return Group(*_say_done(result, result.package))


def _say_refused(result: HandoverResult) -> Iterator[RenderableType]:
    yield say(f"{result.folder} was not handed over.", BAD)
    yield from (say(sentence) for sentence in result.refused)
    yield next_step(
        f"swathbook audit {quote_path(result.folder)}", "once what stands in the way is put right"
    )


def _say_done(result: HandoverResult, package: Package) -> Iterator[RenderableType]:
    wishes = package.wishes
    files = count_things(len(package.files), "file")
    again = " already; its papers were written anew" if result.again else ""
    yield say(
        f"{package.id}: {package.folder} ({files}) handed over to {wishes.to}{again}, revision "
        f"{wishes.revision}, entry {package.entry}.",
        GOOD,
    )
    if wishes.supersedes:
        yield say(f"It replaces {wishes.supersedes}: tell whoever has that one.", STRONG)
    if package.lapsed:
        yield say(package.lapse, DOUBT)
    if wishes.despite:
        told = f"The verdict is {package.verdict}; handed over despite that: {wishes.despite}"
        yield say(told, DOUBT)
    yield say(f"Papers in {result.papers}:")
    yield say_lines(result.written, indent=2)
    if result.bag is not None:
        yield say(f"Bag with delivery and papers: {result.bag}")
    yield say("Root of the book now, also on the sheet:")
    yield say_lines(list_root_lines(package.root), STRONG, indent=2)
    yield say(
        "Nothing was sent by this program: send the folder with its papers. Only whoever is "
        "licensed where the work is done may state positions, heights or volumes.",
        QUIET,
    )
    yield next_step("swathbook seal", "signs the book with this transmittal in it")
