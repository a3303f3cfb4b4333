"""Names of files on screens and in the book.

A name may hold anything a file system allows: control characters, right-to-left marks, brackets,
bytes that are no text. Screens get it escaped, the book gets it NFC with the raw bytes beside.
"""

from __future__ import annotations

import os
import unicodedata
from pathlib import Path

# Marks that change the direction of the text after them, so that a name reads as another one.
_DIRECTION_MARKS = frozenset(
    "\u061c\u200e\u200f\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069"
)
_HIDDEN_CATEGORIES = frozenset({"Cc", "Cf", "Cs", "Zl", "Zp"})


def escape_for_screen(text: str) -> str:
    """Return `text` with every control, direction mark and undecodable byte made visible."""
    return "".join(_escape(character) for character in text)


def _escape(character: str) -> str:
    hidden = unicodedata.category(character) in _HIDDEN_CATEGORIES
    if not hidden and character not in _DIRECTION_MARKS:
        return character
    code = ord(character)
    if 0xDC80 <= code <= 0xDCFF:  # a byte that the system could not decode (PEP 383)
        return f"\\x{code - 0xDC00:02x}"
    return (
        f"\\x{code:02x}"
        if code < 0x100
        else f"\\u{code:04x}"
        if code < 0x10000
        else f"\\U{code:08x}"
    )


def make_book_path(path: Path, base: Path) -> tuple[str, str]:
    """Return the path as the book stores it, and its raw bytes in hex where they differ.

    Args:
        path: absolute path; one that goes up (`..`) is written without that, so that nothing
            outside the job folder is taken for being in it.
        base: absolute path of the job folder.
    """
    text, above = str(path), f"{base}{os.sep}"
    if text.startswith(above) and ".." not in text:  # as most do; lists of files are long
        raw = text[len(above) :].replace(os.sep, "/")
    else:
        raw = _relate(path, base)
    stored = unicodedata.normalize("NFC", escape_undecodable(raw))
    return stored, "" if stored == raw else os.fsencode(raw).hex()


def _relate(path: Path, base: Path) -> str:
    """Return a path without `..`, relative to a folder where it lies in it."""
    if ".." in path.parts:
        path = Path(os.path.normpath(path))
    try:
        return path.relative_to(base).as_posix()
    except ValueError:  # asking first takes as long again
        return path.as_posix()


def escape_undecodable(text: str) -> str:
    """Return `text` with every byte that is no text made visible, and all else left as it is."""
    if text.isascii():  # which most of it is; character by character, lists of files take seconds
        return text
    return "".join(_escape_byte(character) for character in text)


def _escape_byte(character: str) -> str:
    code = ord(character)
    return f"\\x{code - 0xDC00:02x}" if 0xDC80 <= code <= 0xDCFF else character


def find_path(stored: str, raw_hex: str, base: Path) -> Path:
    """Return the path on this machine of a stored path."""
    name = os.fsdecode(bytes.fromhex(raw_hex)) if raw_hex else stored
    return base / name
