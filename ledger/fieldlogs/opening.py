"""Opening a log or another text by its bytes, however it was packed or stored.

Logs are ASCII by their standards. Where a console of Windows wrote one into a file, each letter has
two bytes (UTF-16) and a mark stands at the beginning; what is read then is the same text in UTF-8.

A packed log is trusted no further than a log can be packed: one that unpacks to far more is none.

Light: no library beyond the standard one.
"""

from __future__ import annotations

import bz2
import codecs
import gzip
import io
import zlib
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import IO, Any, cast

from ledger.errors import MalformedFileError
from ledger.model.phrases import count_things

_WIDE_MARKS = (codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)
_UNPACKERS: Mapping[str, Callable[[Path, str], object]] = {".gz": gzip.open, ".bz2": bz2.open}
# Ten hours of one sentence a second that differs in its time alone shrink 25 times by gzip and 40
# times by bzip2 (measured); zeros a thousand times and a million times.
_MOST_TIMES = 250
_ALWAYS_BYTES = 16 << 20


def open_text(path: Path) -> IO[bytes]:
    """Open a text, plain, gzip or bzip2, for reading it as bytes.

    Reading what it returns raises MalformedFileError where a packed stream is broken, or unpacks to
    more than a log can.

    Raises:
        OSError: the system refused.
        MalformedFileError: the packed stream is broken at its beginning.
    """
    stream = _open(path)
    try:
        mark = stream.peek(2)[:2]
    except BaseException:
        stream.close()
        raise
    return io.BufferedReader(_Narrow(stream)) if mark in _WIDE_MARKS else stream


def _open(path: Path) -> io.BufferedReader:
    unpacker = _UNPACKERS.get(path.suffix.lower())
    if unpacker is None:
        return path.open("rb")
    return io.BufferedReader(_Unpacked(cast("IO[bytes]", unpacker(path, "rb")), path))


class _Unpacked(io.RawIOBase):
    """Gives what a packed stream holds, and ends it where it is broken or swells."""

    def __init__(self, stream: IO[bytes], path: Path) -> None:
        self._stream, self._path = stream, path
        self._left = max(_ALWAYS_BYTES, path.stat().st_size * _MOST_TIMES)

    def readable(self) -> bool:
        return True

    def readinto(self, into: Any, /) -> int:  # noqa: ANN401 - a buffer of bytes
        try:
            piece = self._stream.read(len(into))
        except (EOFError, zlib.error, OSError) as error:
            if isinstance(error, OSError) and error.errno is not None:
                raise  # the system refused; the unpackers themselves give no number
            raise MalformedFileError(
                "the compressed stream is broken",
                found=str(error),
                expected="a file that unpacks to its end",
                where=str(self._path),
                remedy="copy it from the receiver again, or unpack it there first",
            ) from error
        self._left -= len(piece)
        if self._left < 0:
            raise MalformedFileError(
                "the compressed stream swells to far more than a log",
                found=f"more than the {_MOST_TIMES}-fold of its size",
                expected=f"at most that, or {count_things(_ALWAYS_BYTES, 'byte')}",
                where=str(self._path),
                remedy="unpack it yourself, look at it, and take what comes out",
            )
        into[: len(piece)] = piece
        return len(piece)

    def close(self) -> None:
        self._stream.close()
        super().close()


class _Narrow(io.RawIOBase):
    """Gives UTF-16 with a mark as UTF-8; half a character at the end is left out."""

    def __init__(self, stream: IO[bytes]) -> None:
        self._stream = stream
        self._decoder = codecs.getincrementaldecoder("utf-16")("replace")
        self._ready = b""

    def readable(self) -> bool:
        return True

    def readinto(self, into: Any, /) -> int:  # noqa: ANN401 - a buffer of bytes
        while not self._ready:
            piece = self._stream.read(io.DEFAULT_BUFFER_SIZE)
            if not piece:
                return 0
            self._ready = self._decoder.decode(piece).encode("utf-8", "replace")
        count = min(len(into), len(self._ready))
        into[:count], self._ready = self._ready[:count], self._ready[count:]
        return count

    def close(self) -> None:
        self._stream.close()
        super().close()
