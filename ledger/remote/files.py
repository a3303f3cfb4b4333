"""One way to look at a file and to read it, whether it lies on a drive or in a store.

Invariants:

- Nothing is ever written to a store.
- What is read of an object is of the version that was listed; another version is a changed file.
- A store that is lost is an error of its own, never a damaged file and never an absent one.
"""

from __future__ import annotations

import os
from collections.abc import Iterator, Sequence
from contextlib import AbstractContextManager, contextmanager
from pathlib import Path, PurePosixPath
from typing import BinaryIO, Literal

from ledger.dataclass import dataclass
from ledger.errors import UsageError
from ledger.loading import load_part
from ledger.model.address import Address

EXTRA = "swathbook[s3]"


@dataclass(frozen=True)
class RemoteFile:
    """One object of a store, in the version in which it was listed.

    Args:
        folder: the folder that was listed.
        key: name of the object below it, as the store spells it.
        size: bytes.
        mtime_ns: when the store took it in, nanoseconds since 1970 UTC.
        version: what the store calls these bytes (its ETag).
    """

    folder: Address
    key: str
    size: int
    mtime_ns: int
    version: str

    def __str__(self) -> str:
        """Return its address."""
        return f"{self.folder}/{self.key}"

    @property
    def suffix(self) -> str:
        """Return the ending of its name, with the dot."""
        return PurePosixPath(self.key).suffix

    @property
    def file_id(self) -> str:
        """Return what tells these bytes from others under the same name."""
        return f"etag:{self.version}"


Place = Path | RemoteFile
"""Where a file lies."""

Way = Literal["scattered", "decoded", "straight"]
"""How a file is to be read: here and there, a little each; by a decoder, which looks at the end
first; or from one end to the other."""


@dataclass(frozen=True)
class Sight:
    """What can be said of a file without reading it.

    Args:
        bytes: size.
        mtime_ns: modification time, nanoseconds since the epoch of the system.
        file_id: what the same file seen again has as well.
    """

    bytes: int
    mtime_ns: int
    file_id: str


def look(place: Place) -> Sight:
    """Return what the system or the store says of a file now.

    Raises:
        OSError: the system refuses, or there is none.
        UnreadableFileError: the store refuses.
        ChangedFileError: the store holds another version, or none.
        StoreError: the store cannot be reached.
    """
    if isinstance(place, RemoteFile):
        with _asking_for_library():
            load_part("ledger.remote.objects", "require_version")(place)
        return Sight(place.size, place.mtime_ns, place.file_id)
    found = os.stat(place)  # noqa: PTH116 - one call for every path
    return Sight(found.st_size, found.st_mtime_ns, f"{found.st_dev}:{found.st_ino}")


def open_place(place: Place, way: Way = "scattered") -> AbstractContextManager[BinaryIO]:
    """Open a file for reading.

    Args:
        place: where it lies.
        way: how it is to be read; of a file in a store, that much is fetched and kept at a time.

    Raises:
        OSError: the system refuses; of a file in a store, what `look` names.
    """
    if isinstance(place, RemoteFile):
        opened: AbstractContextManager[BinaryIO] = _open_object(place, way)
        return opened
    return place.open("rb")


@contextmanager
def _open_object(place: RemoteFile, way: Way) -> Iterator[BinaryIO]:
    with _asking_for_library():
        opened = load_part("ledger.remote.objects", "open_object")
    with opened(place, way) as stream:
        yield stream


def fetch_ahead(stream: BinaryIO, offsets: Sequence[int]) -> None:
    """Say where an object will be read, a little each time and in this order.

    What lies there is fetched several at a time, as it comes near: one after the other, waiting for
    a distant store would take longer than reading.

    Args:
        stream: an object, opened to be read here and there; of any other file nothing is fetched.
        offsets: in the object, bytes, rising.
    """
    plan = getattr(stream, "fetch_ahead", None)
    if plan is not None:
        plan(offsets)


def list_store(folder: Address) -> tuple[RemoteFile, ...]:
    """Return every object below a folder of a store, sorted by name.

    Raises:
        UnreadableFileError: there is no such bucket, or it may not be listed.
        StoreError: the store cannot be reached.
        UsageError: the library that speaks with stores is not here.
    """
    with _asking_for_library():
        listed: tuple[RemoteFile, ...] = load_part("ledger.remote.objects", "list_objects")(folder)
    return listed


@contextmanager
def _asking_for_library() -> Iterator[None]:
    try:
        yield
    except ModuleNotFoundError as error:
        raise UsageError(
            f"the library that reads from stores is not here ({error.name})",
            remedy=f'pip install "{EXTRA}", or copy the folder to a drive',
        ) from error
