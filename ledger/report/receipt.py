"""What `receipt` shows."""

from __future__ import annotations

from typing import Annotated, TypedDict

from rich.console import Group, RenderableType

from ledger.receipt import Receipt, ReceiptResult
from ledger.report.screen import GOOD, QUIET, say, say_lines


class ReceiptRowJson(TypedDict):
    """One receipt."""

    path: Annotated[str, "the file within its deliverable"]
    sha256: Annotated[str, "its digest"]
    deliverable: Annotated[str, "id of the deliverable"]
    entry: Annotated[int, "entry of the deliverable"]
    seal: Annotated[int, "entries that the seal covers"]
    file: Annotated[str, "where the receipt was written"]


class ReceiptJson(TypedDict):
    """What `receipt --json` prints."""

    schema: Annotated[int, "1"]
    receipts: Annotated[list[ReceiptRowJson], "one for each file, as they were named"]
    key: Annotated[str, "public key to check them with"]


def make_json(result: ReceiptResult) -> ReceiptJson:
    """Return the object that `--json` prints."""
    return {
        "schema": 1,
        "receipts": [_describe(each) for each in result.receipts],
        "key": result.key,
    }


def _describe(receipt: Receipt) -> ReceiptRowJson:
    return {
        "path": receipt.path,
        "sha256": receipt.sha256,
        "deliverable": receipt.deliverable,
        "entry": receipt.entry,
        "seal": receipt.seal,
        "file": str(receipt.file),
    }


def make_screen(result: ReceiptResult) -> RenderableType:
    """Return what a person reads."""
    parts: list[RenderableType] = []
    for each in result.receipts:
        told = f"Receipt for {each.path} of {each.deliverable}, entry {each.entry}:"
        parts += [say(told, GOOD), say_lines([str(each.file)], indent=2)]
    parts += [
        say(
            "Hand it on with the file. It is checked with docs/guide/verify_receipt.py of "
            "Swathbook's sources, and the office's public key:"
        ),
        say_lines([result.key], indent=2),
        say(
            "It shows that these bytes were in the deliverable when the book was sealed. It shows "
            "no other file, no finding, and nothing of how good they are.",
            QUIET,
        ),
    ]
    return Group(*parts)
