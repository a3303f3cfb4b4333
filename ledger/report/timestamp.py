"""What is shown of time stamps: what each proves, how far, and what to do with a request."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Annotated, TypedDict

from rich.console import Group, RenderableType

from ledger.model.phrases import count_things
from ledger.model.typed import quote_path
from ledger.report.screen import BAD, DOUBT, GOOD, QUIET, next_step, say
from ledger.stamped import RIGHT, Stamp
from ledger.timestamp import RequestResult, StampResult

PROVES = (
    "It shows that the sealed entries were there at that time, as far as whoever stamped them is "
    "believed. It does not show that they are true, nor who made them."
)


class StampJson(TypedDict):
    """A time stamp over a seal."""

    entry: Annotated[int, "entry that keeps it"]
    seal: Annotated[int, "entry of the seal that it was made over"]
    size: Annotated[int, "entries that the seal covers"]
    moment: Annotated[str, "its time, UTC, by the clock of whoever made it"]
    holds: Annotated[bool, "made over that seal, and no signature found wrong"]
    signature: Annotated[str, "`right`, `wrong` or `not assessed`"]
    told: Annotated[str, "the same in words, with why"]


class RequestJson(TypedDict):
    """What `seal --request --json` prints."""

    schema: Annotated[int, "1"]
    file: Annotated[str, "the request, DER"]
    seal: Annotated[int, "entry of the seal"]
    size: Annotated[int, "entries that the seal covers"]
    sha256: Annotated[str, "what the stamp is to be made over: the SHA-256 of the seal's file"]


class KeptStampJson(TypedDict):
    """What `seal --timestamp --json` prints."""

    schema: Annotated[int, "1"]
    new: Annotated[bool, "false where the book had it already"]
    sha256: Annotated[str, "what it was made over: the SHA-256 of the seal's file"]
    file: Annotated[str | None, "the stamp beside the seal; null where it could not be written"]
    timestamp: Annotated[StampJson, "what it says"]


def describe_stamp(stamp: Stamp) -> StampJson:
    """Return a time stamp for `--json`."""
    return {
        "entry": stamp.entry,
        "seal": stamp.seal,
        "size": stamp.size,
        "moment": stamp.moment,
        "holds": stamp.holds,
        "signature": stamp.signature,
        "told": stamp.told,
    }


def make_request_json(result: RequestResult) -> RequestJson:
    """Return the object that `--json` prints."""
    return {
        "schema": 1,
        "file": str(result.file),
        "seal": result.seal,
        "size": result.size,
        "sha256": result.sha256,
    }


def make_request_screen(result: RequestResult) -> RenderableType:
    """Return what a person reads after a request was written."""
    covered = count_things(result.size, "entry", "entries")
    return Group(
        say(f"Request for a time stamp over the seal of {covered}: {result.file}", GOOD),
        say(
            "Nothing was sent. Give it to whoever gives time stamps of RFC 3161; it holds the "
            "SHA-256 of the seal and nothing else."
        ),
        next_step("swathbook seal --timestamp ANSWER", "with the file that you get back"),
    )


def make_stamp_json(result: StampResult) -> KeptStampJson:
    """Return the object that `--json` prints."""
    return {
        "schema": 1,
        "new": result.is_new,
        "sha256": result.sha256,
        "file": None if result.file is None else str(result.file),
        "timestamp": describe_stamp(result.stamp),
    }


def make_stamp_screen(result: StampResult) -> RenderableType:
    """Return what a person reads after a time stamp was entered."""
    kept = "Entered as entry" if result.is_new else "It was entered already, as entry"
    seal = f"seals/seal-{result.stamp.size:06}.txt"
    return Group(
        *say_stamps((result.stamp,)),
        say(PROVES, QUIET),
        say(f"{kept} {result.stamp.entry}."),
        next_step(f"swathbook recheck --book-only --against {quote_path(seal)}", "at any time"),
    )


def say_stamps(stamps: Iterable[Stamp]) -> Iterator[RenderableType]:
    """Yield a sentence for each time stamp, in a colour of how far it goes."""
    for stamp in stamps:
        sure = GOOD if stamp.signature == RIGHT else DOUBT
        yield say(stamp.sentence, sure if stamp.holds else BAD)
