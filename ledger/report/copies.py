"""How places of raw files are written in JSON, for every command that names them."""

from __future__ import annotations

from typing import Annotated, TypedDict

from ledger.copies import Copies


class CopyJson(TypedDict):
    """One place where the bytes of a raw file were seen."""

    volume: Annotated[str, "root of the volume, or the id that was noted of it"]
    path: Annotated[str, "the place, as the book writes it"]
    sha256: Annotated[str, "digest of the file"]
    last_seen: Annotated[str, "when its bytes were last read there, UTC"]
    verified: Annotated[bool, "read again from the medium after the copy was made there"]
    wrong: Annotated[str, "what the last recheck found wrong with it; empty for nothing"]


def describe_copies(copies: Copies) -> list[CopyJson]:
    """Return every place."""
    return [
        {
            "volume": place.volume,
            "path": place.path,
            "sha256": place.sha256,
            "last_seen": place.last_seen,
            "verified": place.verified,
            "wrong": place.wrong,
        }
        for place in copies.places
    ]
