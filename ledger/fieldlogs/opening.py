"""Opening a log or another text by its bytes, however it was packed or stored.

Logs are ASCII by their standards. Where a console of Windows wrote one into a file, each letter has
two bytes (UTF-16) and a mark stands at the beginning; what is read then is the same text in UTF-8.

Light: no library beyond the standard one.
"""

from __future__ import annotations

import bz2
import codecs
import gzip
import io
from pathlib import Path
from typing import IO, Any, cast

_WIDE_MARKS = (codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)


def open_text(path: Path) -> IO[bytes]:
    """Open a text, plain, gzip or bzip2, for reading it as bytes.

    Raises:
        OSError: the system refused; a broken compressed stream is told by what reads it.
    """
    stream = _open(path)
    try:
        mark = stream.read(2)
        stream.seek(0)
    except BaseException:
        stream.close()
        raise
    return io.BufferedReader(_Narrow(stream)) if mark in _WIDE_MARKS else stream


def _open(path: Path) -> IO[bytes]:
    if path.suffix.lower() == ".gz":
        return cast("IO[bytes]", gzip.open(path, "rb"))
    if path.suffix.lower() == ".bz2":
        return bz2.open(path, "rb")
    return path.open("rb")


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
