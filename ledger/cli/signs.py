"""Signs that a stream cannot show: written another way, or as a visible escape, never an error.

A console or a redirected file of another code page (cp1252, ASCII) has no arrow. What our screens
use gets a plain way to write it; any other sign, in a name of a file for instance, is escaped, so
that two names never look alike.

This module imports nothing of ours: it is loaded with every command.
"""

from __future__ import annotations

import codecs
import sys

_HANDLER = "swathbook-signs"
_SIGNS = {
    "…": "...",
    "“": '"',
    "”": '"',
    "‘": "'",
    "’": "'",
    "–": "-",
    "—": "-",
    "\u2212": "-",  # minus
    "→": "->",
    "±": "+/-",
    "×": "x",
    "·": "-",
    "≤": "<=",
    "≥": ">=",
    "°": " deg",
    "²": "2",
    "µ": "u",
    "»": ">",
    "├": "|",
    "│": "|",
    "└": "`",
    "─": "-",
}


def make_streams_safe() -> None:
    """Let stdout and stderr write every sign in some way."""
    codecs.register_error(_HANDLER, _replace)  # the same one however often it is said
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors=_HANDLER)


def fit_stdout(text: str) -> str:
    """Return text with every sign that stdout cannot show written in another way.

    For libraries that write to the terminal past the stream.
    """
    codecs.register_error(_HANDLER, _replace)
    encoding = getattr(sys.stdout, "encoding", None) or "utf-8"
    return text.encode(encoding, _HANDLER).decode(encoding)


def _replace(error: UnicodeError) -> tuple[str, int]:
    if not isinstance(error, UnicodeEncodeError):
        raise error
    signs = error.object[error.start : error.end]
    return "".join(_SIGNS.get(sign) or _escape(sign) for sign in signs), error.end


def _escape(sign: str) -> str:
    return sign.encode("ascii", "backslashreplace").decode("ascii")
