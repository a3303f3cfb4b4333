"""The look of every screen: plain words first, numbers second, codes last; 80 columns are enough.

Words carry the meaning, colour only helps. Data enters as `Text`, never as markup, with control
characters made visible: a file name must not be able to change what a screen says.
"""

from __future__ import annotations

import sys
from collections.abc import Iterable
from typing import Any, TextIO, cast

from rich.console import Console, Group, RenderableType
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from ledger.model.filename import escape_for_screen

WIDEST = 100

STRONG = "bold"
QUIET = "dim"
BAD = "bold red"
DOUBT = "yellow"
GOOD = "green"


class _Trimmed:
    """A file or pipe that gets no blanks at the ends of lines: layout pads them, nobody wants them.

    A console writes whole lines, so that no line is cut between two writes.
    """

    def __init__(self, stream: TextIO) -> None:
        self._stream = stream

    def write(self, text: str) -> int:
        """Write text without the blanks before each end of a line."""
        self._stream.write("\n".join(line.rstrip(" ") for line in text.split("\n")))
        return len(text)

    def __getattr__(self, name: str) -> Any:  # noqa: ANN401 - whatever the stream has
        return getattr(self._stream, name)


def make_console(stream: TextIO | None = None, width: int | None = None) -> Console:
    """Return a console for results.

    Args:
        stream: where to print; stdout when left out.
        width: columns; the terminal's, at most 100, when left out.
    """
    file = stream or sys.stdout
    is_terminal = file is not None and file.isatty()
    target = file if is_terminal or file is None else cast("TextIO", _Trimmed(file))
    console = Console(file=target, highlight=False, markup=False, emoji=False)
    console.width = width or min(console.width, WIDEST)
    return console


def say(words: str, style: str = "") -> Text:
    """Return text with hidden characters made visible."""
    return Text(escape_for_screen(words), style=style)


def say_lines(lines: Iterable[str], style: str = "", indent: int = 0) -> RenderableType:
    """Return one paragraph a line, indented."""
    return Padding(Group(*(say(line, style) for line in lines)), (0, 0, 0, indent), expand=False)


def title(words: str) -> RenderableType:
    """Return the title of a part, with a free line above."""
    return Padding(say(words, STRONG), (1, 0, 0, 0), expand=False)


def make_table(*columns: str, numbers: Iterable[int] = ()) -> Table:
    """Return a table without lines; the columns in `numbers` are set to the right."""
    table = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0), header_style=QUIET)
    right = set(numbers)
    for place, name in enumerate(columns):
        table.add_column(name, justify="right" if place in right else "left", overflow="fold")
    return table


def next_step(command: str, why: str = "") -> RenderableType:
    """Return the line that says what to type next, with a free line above."""
    return Padding(say_next(command, why), (1, 0, 0, 0), expand=False)


def say_next(command: str, why: str = "") -> Text:
    """Return the line that says what to type next."""
    shown = escape_for_screen(f"   {why}" if why else "")
    return Text.assemble("Next: ", (escape_for_screen(command), STRONG), shown)


def format_digest(digest: str) -> str:
    """Return the first 16 digits of a digest in groups of four, as they are read aloud."""
    return " ".join(digest[place : place + 4] for place in range(0, 16, 4))


def say_sentence(words: str, style: str = "") -> Text:
    """Return a sentence with its capital and its full stop."""
    ended = words if words.endswith((".", "!", "?", "…")) else f"{words}."
    return say(f"{ended[:1].upper()}{ended[1:]}", style)
