"""Objects of a store, listed and read in ranges.

The only module that imports fsspec and s3fs. Invariants:

- Whatever the libraries raise leaves as an error of ours, in our words: theirs may repeat an
  address of a server, and what stands in it.
- Every range is asked for on the condition that the object is still in the version that was
  listed, and is as long as it was asked for.
- Memory is bounded by blocks, whatever the size of the object.

Sources: Amazon S3 API Reference, GetObject (`Range`, `If-Match`), HeadObject and ListObjectsV2;
RFC 9110, section 13.1.1 (`If-Match`).
"""

from __future__ import annotations

import io
import re
from collections import deque
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from datetime import datetime
from functools import cache
from typing import Any, BinaryIO, cast

import fsspec
import s3fs  # noqa: F401 - fsspec would look for it only when it is used

from ledger.errors import ChangedFileError, StoreError, SwathbookError, UnreadableFileError
from ledger.model.address import Address
from ledger.model.phrases import count_things
from ledger.remote.files import RemoteFile, Way

# By way of reading: bytes of a block, and how many are kept.
#
# Of a header, a table or the head of a chunk a few hundred bytes are wanted: a block holds the
# header and the records of most files, and is a thirtieth of the chunk of which one head is read.
# What is read through takes blocks large enough that waiting for the first byte is a small part of
# a request (measured: tests/bench/bench_remote.py), and few, for memory: a decoder reads the table
# at the end of a file before the points, so that with one block each block would be fetched twice.
_BLOCKS: dict[Way, tuple[int, int]] = {
    "scattered": (1 << 13, 128),
    "decoded": (1 << 22, 2),
    "straight": (1 << 22, 1),
}

# Blocks that are fetched at once where it is known what comes; fewer than are kept.
_AHEAD = 32

# What a decoder reads at once through calls of Python.
_BUFFER = 1 << 16

_OTHER_VERSION = ("PreconditionFailed", "412")
_UNKNOWN_PERSON = ("InvalidAccessKeyId", "SignatureDoesNotMatch", "ExpiredToken", "InvalidToken")
_CREDENTIALS = "check the credentials in the environment, where the library reads them"
_NETWORK = "check the network and the address of the store (AWS_ENDPOINT_URL), then try again"

# By names of classes, so that what the library stands on need not be imported here.
_REASONS: tuple[tuple[frozenset[str], str, str], ...] = (
    (
        frozenset({"NoCredentialsError", "PartialCredentialsError", "CredentialRetrievalError"}),
        "no credentials for the store are in the environment",
        _CREDENTIALS,
    ),
    (
        frozenset({"SSLError", "SSLCertVerificationError"}),
        "the certificate of the store is not accepted",
        _NETWORK,
    ),
    (
        frozenset({"EndpointConnectionError", "ConnectTimeoutError", "ProxyConnectionError"}),
        "the store cannot be reached",
        _NETWORK,
    ),
    (
        frozenset({"HTTPClientError", "ClientError", "ClientPayloadError", "IncompleteRead"})
        | frozenset({"TimeoutError", "FSTimeoutError", "ConnectionError"}),
        "the connection to the store broke off, and trying again did not help",
        _NETWORK,
    ),
)


@cache
def _connect(scheme: str) -> Any:  # noqa: ANN401 - fsspec publishes no types
    """Return the file system of a store; what opens it is read from the environment."""
    return fsspec.filesystem(scheme, use_listings_cache=False, skip_instance_cache=True)


def forget() -> None:
    """Forget what was opened, so that the environment is read anew."""
    _connect.cache_clear()


def list_objects(folder: Address) -> tuple[RemoteFile, ...]:
    """Return every object below a folder; see `ledger.remote.files.list_store`."""
    with _telling(str(folder)):
        rows = _connect(folder.scheme).find(f"{folder.bucket}/{folder.folder}", detail=True)
    before = f"{folder.bucket}/{folder.folder}".rstrip("/") + "/"
    return tuple(
        RemoteFile(folder, name.removeprefix(before), row["size"], _read_time(row), _read_tag(row))
        for name, row in sorted(rows.items())
        if row["type"] == "file" and name.startswith(before) and not _is_mark(name, row)
    )


def _is_mark(name: str, row: dict[str, Any]) -> bool:
    """Say whether an object only marks a folder: empty, and its name ends in a slash."""
    return name.endswith("/") and not row["size"]


def _read_time(row: dict[str, Any]) -> int:
    told = row.get("LastModified")
    return round(told.timestamp() * 1e6) * 1000 if isinstance(told, datetime) else 0


def _read_tag(row: dict[str, Any]) -> str:
    return str(row.get("ETag") or "").strip('"')


def require_version(place: RemoteFile) -> None:
    """Refuse an object that is no longer in the version that was listed."""
    with _telling_of(place):
        _require_version(place, _connect(place.folder.scheme).info(_name(place)))


def _name(place: RemoteFile) -> str:
    return str(place).removeprefix(f"{place.folder.scheme}://")


def _require_version(place: RemoteFile, row: dict[str, Any]) -> None:
    if (row["size"], _read_tag(row)) != (place.size, place.version):
        raise _tell_change(str(place))


def _tell_change(where: str) -> ChangedFileError:
    return ChangedFileError(
        "the store holds another version of the object by now",
        where=where,
        remedy="try again when nothing writes to it",
    )


@contextmanager
def open_object(place: RemoteFile, way: Way) -> Iterator[BinaryIO]:
    """Open an object for reading; see `ledger.remote.files.open_place`.

    A decoder may turn an error of the store into one of its own, which would blame the file; what
    went wrong here is therefore raised again at the end, in place of anything else.
    """
    size, blocks = _BLOCKS[way]
    with _telling_of(place):
        opened = _connect(place.folder.scheme).open(
            _name(place),
            "rb",
            block_size=size,
            cache_type="blockcache",
            cache_options={"maxblocks": blocks},
        )
    raw = _Ranges(opened, place)
    try:
        with opened:
            _require_version(place, opened.details)
            yield cast("BinaryIO", raw) if way == "scattered" else io.BufferedReader(raw, _BUFFER)
    finally:
        if raw.failure is not None:
            raise raw.failure


class _Ranges(io.RawIOBase):
    """An opened object whose every error is one of ours, and kept."""

    def __init__(self, opened: Any, place: RemoteFile) -> None:  # noqa: ANN401 - fsspec has no types
        super().__init__()
        self.failure: SwathbookError | None = None
        self._opened = opened
        self._place = place
        opened.cache.fetcher = self._check(opened.cache.fetcher)
        self._ahead: deque[int] = deque()

    def fetch_ahead(self, offsets: Sequence[int]) -> None:
        self._ahead = deque(offsets)

    def _fetch_ahead(self, position: int) -> None:
        """Fetch the next blocks at once, when the first of them is about to be read."""
        if not self._ahead or position < self._ahead[0]:
            return
        blocks = [self._ahead.popleft() for _ in range(min(_AHEAD, len(self._ahead)))]
        with ThreadPoolExecutor(_AHEAD) as threads:
            # So the library names what a cache is asked by.
            list(threads.map(lambda at: self._opened.cache._fetch(at, at + 1), blocks))  # noqa: SLF001

    def _check(self, fetch: Callable[[int, int], bytes]) -> Callable[[int, int], bytes]:
        def fetch_whole(start: int, end: int) -> bytes:
            end = min(end, self._place.size)
            got = fetch(start, end)
            if len(got) != end - start:
                raise StoreError(
                    "the store does not send the range that was asked for",
                    found=count_things(len(got), "byte"),
                    expected=f"{end - start:,}",
                    where=str(self._place),
                    remedy="copy the folder to a drive and name it there",
                )
            return got

        return fetch_whole

    def readable(self) -> bool:
        return True

    def seekable(self) -> bool:
        return True

    def seek(self, offset: int, whence: int = io.SEEK_SET) -> int:
        return int(self._opened.seek(offset, whence))

    def tell(self) -> int:
        return int(self._opened.tell())

    def readinto(self, buffer: Any) -> int:  # noqa: ANN401 - any writable buffer
        try:
            with _telling_of(self._place):
                self._fetch_ahead(self._opened.tell())
                got = self._opened.read(len(buffer))
        except SwathbookError as error:
            self.failure = error
            raise
        buffer[: len(got)] = got
        return len(got)


@contextmanager
def _telling(where: str) -> Iterator[None]:
    """Turn whatever the libraries raise into one of our errors, without their words."""
    try:
        yield
    except SwathbookError:
        raise
    except Exception as error:
        raise _explain(error, where) from error


@contextmanager
def _telling_of(place: RemoteFile) -> Iterator[None]:
    """Do the same for an object that was listed: if there is none now, it disappeared."""
    try:
        with _telling(str(place)):
            yield
    except UnreadableFileError as error:
        if isinstance(error.__cause__, FileNotFoundError):
            what = "the object disappeared from the store"
            raise ChangedFileError(what, where=str(place)) from error
        raise


def _explain(error: Exception, where: str) -> SwathbookError:
    code = _find_code(error)
    if code in _OTHER_VERSION:
        return _tell_change(where)
    if code in _UNKNOWN_PERSON:
        what = "the store does not accept the credentials in the environment"
        return StoreError(what, found=code, where=where, remedy=_CREDENTIALS)
    if isinstance(error, FileNotFoundError):
        what, remedy = "there is no such bucket or object in the store", "check the address"
        return UnreadableFileError(what, where=where, remedy=remedy)
    if isinstance(error, PermissionError):
        what = "the store does not allow reading this"
        return UnreadableFileError(what, where=where, remedy=_CREDENTIALS)
    return _explain_store(error, code, where)


def _explain_store(error: Exception, code: str, where: str) -> StoreError:
    if code:
        what = "the store answered with an error"
        return StoreError(what, found=code, where=where, remedy="try again later")
    names = {kind.__name__ for kind in type(error).__mro__}
    for kinds, what, remedy in _REASONS:
        if names & kinds:
            return StoreError(what, where=where, remedy=remedy)
    what = "the store cannot be used"
    return StoreError(what, found=type(error).__name__, where=where, remedy=_NETWORK)


def _find_code(error: BaseException | None) -> str:
    """Return the word by which a store says what is wrong; empty where it said nothing."""
    while error is not None:
        response = getattr(error, "response", None)
        if isinstance(response, dict):
            code = str(response.get("Error", {}).get("Code", ""))
            return code if re.fullmatch(r"\w{1,40}", code) else "unknown"
        error = error.__cause__
    return ""
