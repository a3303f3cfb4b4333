"""The bytes of a TOML file to values, with every way of failing in plain words.

TOML is UTF-8 by its definition (TOML 1.0.0, "Spec"), whole numbers have 64 bits ("Integer").
A person's editor may save something else; what it saved is named, because "invalid statement"
helps nobody.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Callable
from typing import Any

from ledger.errors import Fault, SpecificationError, SwathbookError
from ledger.model.filename import escape_for_screen

KeyPath = tuple[str | int, ...]
"""A key by the names from the outermost section inwards; a number is a place in a list."""

_UTF8_MARK = b"\xef\xbb\xbf"
_UTF16_MARKS = (b"\xff\xfe", b"\xfe\xff")
_POSITION = re.compile(r"\s*\(at (?:line (\d+), column (\d+)|end of document)\)$")
_LONGEST_FOUND = 60
_LONE_RETURN = re.compile(r"\r(?!\n)")

# Values of a shape that TOML does not know, by what a person meant with them. Looked for only in
# a line where the parser stopped: in a right line `[0,5]` is a list of two.
_BEFORE = r"""[^"'#]*[=\[]\s*"""
_BEHIND = r"(?=\s*(?:[\]},#]|$))"
_SHAPES = (
    (
        re.compile(_BEFORE + r"([+-]?\d+),(\d+)" + _BEHIND),
        "a number is written with a comma",
        "a point as decimal mark",
        "write {0}.{1}",
    ),
    (
        re.compile(_BEFORE + r"([+-]?)\.(\d+)" + _BEHIND),
        "a number begins with its point",
        "a digit before it",
        "write {0}0.{1}",
    ),
    (
        re.compile(_BEFORE + r"([+-]?\d+)\." + _BEHIND),
        "a number ends with its point",
        "a digit behind it",
        "write {0}.0",
    ),
    (
        re.compile(_BEFORE + r"([+-]?)(0+)([1-9]\d*|0\.\d+)" + _BEHIND),
        "a number begins with a nought too many",
        "none before the first digit that counts",
        'write {0}{2}, or "{1}{2}" for a text',
    ),
    (
        re.compile(_BEFORE + r"(?i:(true|yes|false|no))" + _BEHIND),
        "this is neither a text nor true or false",
        "true or false, in small letters",
        "write one of them, or put text in straight quotes",
    ),
)

# What the parser says, and what that means to the person who typed the line.
_SYNTAX = (
    ("Cannot overwrite", "this key stands there twice", "delete one of the two lines"),
    ("Duplicate inline", "a key stands there twice between { and }", "delete one of the two"),
    ("Cannot declare", "this section stands there twice", "join the two under one heading"),
    (
        "Cannot mutate",
        "this adds to a section or list that is already complete",
        "write the keys together, in one place",
    ),
    (
        "Unescaped '\\'",
        "a \\ inside double quotes starts a special character",
        "write / in paths, or use single quotes",
    ),
    ("Unclosed array", "a list that was opened with [ is not closed", "close it with ]"),
    ("Unterminated string", "a text is not closed", 'end it with "'),
    ('Expected "\'"', "a text is not closed", "end it with '"),
    ("Expected ']'", "a heading is not closed", "end it with ]"),
    ("Expected '='", "there is no = after the name", "write name = value, or # before a remark"),
    (
        "Expected newline",
        "something follows a value that is already complete",
        "one name = value on each line, texts in quotes, a point as decimal mark",
    ),
    ("Illegal character", "there is a character that may not stand here", "delete it"),
    ("Invalid initial character", "a name is missing here", "keep { } on one line"),
    (
        "Invalid value",
        "the value is missing or is neither text, number, list nor true or false",
        "put text in straight quotes, or put # before the line to leave it blank",
    ),
    ("Invalid date", "there is no such date", "write year-month-day: 2026-05-14"),
    ("Invalid statement", "the line does not begin with a name or a heading", "write name = value"),
)


def parse_toml(
    content: bytes,
    where: str,
    *,
    error: type[SwathbookError] = SpecificationError,
    parse_float: Callable[[str], Any] = float,
) -> tuple[str, dict[str, Any]]:
    """Return the text and the values of a TOML file.

    Args:
        content: the bytes of the file.
        where: its name, for messages.
        error: the kind of error to raise.
        parse_float: makes a number of the digits of a decimal; `Decimal` keeps all of them.

    Raises:
        SwathbookError: `error`, naming the line; TOML stops at its first fault, so there is one.
    """
    text = _decode(content, where, error)
    try:
        return text, tomllib.loads(text, parse_float=parse_float)
    except tomllib.TOMLDecodeError as cause:
        raise error.from_faults((_explain_syntax(str(cause), text, where),)) from None
    except RecursionError:
        raise error("lists or sections are nested too deeply", where=where) from None
    except (ValueError, ArithmeticError):  # the second from an exponent without end
        raise error(
            "a number is too long",
            expected="at most 19 digits",
            where=where,
            line=_find_long_number(text),
        ) from None


def _decode(content: bytes, where: str, error: type[SwathbookError]) -> str:
    if content.startswith(_UTF16_MARKS) or b"\x00" in content[:4]:
        raise error(
            "the file is saved as UTF-16",
            expected="UTF-8",
            where=where,
            line=1,
            remedy="save it again with the encoding UTF-8",
        )
    if content.startswith(_UTF8_MARK):
        raise error(
            "the file begins with a byte order mark",
            expected="UTF-8 without one",
            where=where,
            line=1,
            remedy="save it again with the encoding UTF-8, without byte order mark (BOM)",
        )
    try:
        return content.decode("utf-8")
    except UnicodeDecodeError as cause:
        raise error(
            "a character is not UTF-8; the file is probably saved in a Windows or Latin-1 encoding",
            found=f"byte {content[cause.start]:02X} (hex){_guess_character(content, cause.start)}",
            expected="UTF-8",
            where=where,
            line=content[: cause.start].count(b"\n") + 1,
            remedy="save it again with the encoding UTF-8",
        ) from None


def _guess_character(content: bytes, place: int) -> str:
    """Return what a byte means in the Windows encoding of western Europe; empty for nothing."""
    try:
        character = content[place : place + 1].decode("cp1252")
    except UnicodeDecodeError:
        return ""
    return f", perhaps “{escape_for_screen(character)}”"


def _explain_syntax(message: str, text: str, where: str) -> Fault:
    position = _POSITION.search(message)
    lines = text.splitlines()
    line = int(position[1]) if position and position[1] else max(len(lines), 1)
    found = lines[line - 1].strip() if line <= len(lines) else ""
    if _LONE_RETURN.search(text):
        return Fault(
            "lines end with a carriage return alone",
            expected="line ends of Windows or Unix",
            where=where,
            line=1,
            remedy="save it again with such line ends",
        )
    for shape, what, expected, remedy in _SHAPES:
        match = shape.match(found)
        if match is not None:
            do = remedy.format(*match.groups())
            return Fault(what, shorten(found), expected, where, line, do)
    if text.rstrip().endswith(("[", ",")) and "end of document" in message:
        message = "Unclosed array"  # the parser speaks of the value that did not come
    sentence, remedy = next(
        ((what, do) for start, what, do in _SYNTAX if message.startswith(start)),
        ("the line cannot be read", "write name = value"),
    )
    return Fault(sentence, found=shorten(found), where=where, line=line, remedy=remedy)


def _find_long_number(text: str) -> int | None:
    found = re.search(r"\d{1000}|[eE][+-]?\d{10}", text)
    return text.count("\n", 0, found.start()) + 1 if found else None


def shorten(text: str) -> str:
    """Return `text` fit for one line of a message."""
    shown = escape_for_screen(text)
    return shown if len(shown) <= _LONGEST_FOUND else shown[: _LONGEST_FOUND - 1] + "…"
