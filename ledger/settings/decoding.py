"""Bytes of a settings file to text, whatever the system that wrote it used."""

from __future__ import annotations

import codecs

from ledger.errors import MalformedFileError
from ledger.model.phrases import count_things

# A settings file is a few kilobytes, a log a few megabytes; more is a file of another kind.
MOST_BYTES = 8 << 20

_MARKS = (
    (codecs.BOM_UTF8, "utf-8-sig"),
    (codecs.BOM_UTF32_LE, "utf-32"),
    (codecs.BOM_UTF32_BE, "utf-32"),
    (codecs.BOM_UTF16_LE, "utf-16"),
    (codecs.BOM_UTF16_BE, "utf-16"),
)


def decode(content: bytes, where: str) -> tuple[str, str]:
    """Return the text and the name of its encoding.

    A byte-order mark decides; without one, text that is no UTF-8 is UTF-16 where every second byte
    is mostly zero, else Windows code page 1252.

    Args:
        content: the whole file.
        where: its name, for messages.

    Raises:
        MalformedFileError: too large, or no text.
    """
    if len(content) > MOST_BYTES:
        raise MalformedFileError(
            "is too large to be read as settings",
            found=count_things(len(content), "byte"),
            expected=f"at most {MOST_BYTES:,}",
            where=where,
            remedy="it is kept by its digest; name the settings file itself",
        )
    encoding = _choose(content)
    try:
        text = content.decode(encoding)
    except UnicodeDecodeError as error:
        raise _make_binary_error(where) from error
    if "\0" in text:
        raise _make_binary_error(where)
    return text.replace("\r\n", "\n").replace("\r", "\n"), encoding


def _make_binary_error(where: str) -> MalformedFileError:
    return MalformedFileError(
        "holds binary data, not settings as text",
        where=where,
        remedy="name a text file, or keep it with --evidence",
    )


def _choose(content: bytes) -> str:
    for mark, encoding in _MARKS:
        if content.startswith(mark):
            return encoding
    if _is_wide(content, 1):
        return "utf-16-le"
    if _is_wide(content, 0):
        return "utf-16-be"
    try:
        content.decode("utf-8")
    except UnicodeDecodeError:
        # Five bytes of this page mean nothing; Latin-1 would turn them into control characters.
        return "cp1252"
    return "utf-8"


def _is_wide(content: bytes, first: int) -> bool:
    """Say whether the bytes at `first`, `first + 2` … are nearly all zero and the others not."""
    high, low = content[first:4096:2], content[1 - first : 4096 : 2]
    return len(content) >= 4 and high.count(0) > 0.8 * len(high) and low.count(0) < 0.1 * len(low)
