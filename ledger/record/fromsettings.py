"""Reading a run's settings from what the processing program left, and learning what means what.

Invariants:

- Nothing is guessed: a key means a field because a person said so, once; that is kept in the book's
  settings map. Likeness only orders the list that a person chooses from.
- Only flat settings without secrets are kept, never the text; the file is known by its digest.
- A value that no answer of the field is, is left blank and said, where nobody is there to ask.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from pathlib import Path

from ledger.canonical import compute_digest, encode
from ledger.dataclass import dataclass
from ledger.errors import Fault, SwathbookError, UsageError
from ledger.forms import ARROWS, FileFinder, find_field, parse_answer, show_value
from ledger.loading import load_part
from ledger.model.artefact import Role
from ledger.model.ask import Ask, Question
from ledger.model.entry import Draft, Kind
from ledger.model.field import Field, FieldType
from ledger.model.fields import list_fields
from ledger.model.filename import make_book_path
from ledger.model.known import KnownBy, KnownValue
from ledger.model.process import Input
from ledger.settings.decoding import MOST_BYTES
from ledger.settings.flat import SettingsText
from ledger.settings.mapping import MapRow, SettingsMap, rank_places
from ledger.shortfile import read_short_file
from ledger.store.reading import Book
from ledger.store.writing import Addition

_OFFERED = 8
_NONE = "none of these"
_LONGEST = 40


@dataclass(frozen=True)
class ReadSettings:
    """What settings files said, and what is to be kept of it.

    Args:
        values: by field key; known by reading, each with file and key.
        inputs: the files, as inputs of the run.
        stored: what the entry of the run says of each file.
        blobs: the flat settings of each file.
        map: the settings map; None where nothing was learned.
        not_understood: values that no answer of their field is, one sentence each.
        taken_out: keys whose value was a secret, with their file.
        silent: files that told nothing of the form, one sentence each.
    """

    values: Mapping[str, KnownValue]
    inputs: tuple[Input, ...] = ()
    stored: tuple[Mapping[str, object], ...] = ()
    blobs: tuple[bytes, ...] = ()
    map: SettingsMap | None = None
    not_understood: tuple[str, ...] = ()
    taken_out: tuple[str, ...] = ()
    silent: tuple[str, ...] = ()

    def draft_map(self, by: str) -> tuple[Addition, ...]:
        """Return the entry of what was learned; empty where nothing was."""
        if self.map is None:
            return ()
        return (Addition(Draft(Kind.SETTINGS_MAP, {"rows": self.map.to_values()}, by=by)),)


NOTHING_READ = ReadSettings({})


def parse_rows(kind: str, texts: Iterable[str]) -> tuple[MapRow, ...]:
    """Return rows of a settings map that were typed: `mount_mode=scanner.mount`.

    Raises:
        UsageError: with one fault for each text that cannot be used.
    """
    rows: list[MapRow] = []
    faults: list[Fault] = []
    for text in texts:
        try:
            rows.append(_parse_row(kind, text))
        except UsageError as error:
            faults += error.faults
    if faults:
        raise UsageError.from_faults(tuple(faults))
    return tuple(rows)


def _parse_row(kind: str, text: str) -> MapRow:
    name, _, keys = text.partition("=")
    if not keys.strip():
        raise UsageError("--map names no key", found=f'"{text}"', expected="field=key")
    named = tuple(key.strip() for key in keys.split(","))
    return MapRow(find_field(kind, name.strip()).key, named)


def read_settings_files(
    book: Book,
    kind: str,
    paths: Iterable[Path],
    rows: tuple[MapRow, ...],
    ask: Ask,
) -> ReadSettings:
    """Return what settings files say of a run or step.

    Args:
        book: an open book, whose settings map is used.
        kind: `run` or `step`.
        paths: the files.
        rows: what the person said of keys on the command line.
        ask: the person; where one is there, unmapped fields are asked for once.

    Raises:
        UnreadableFileError: a file cannot be read.
        MalformedFileError: a file holds no settings that can be read.
    """
    known = _read_map(book)
    reader = _Reader(book, kind, ask, known.with_rows(rows))
    for path in paths:
        reader.read(path)
    return reader.finish(known)


def _read_map(book: Book) -> SettingsMap:
    entry = book.last(Kind.SETTINGS_MAP)
    return SettingsMap() if entry is None else SettingsMap.from_values(entry.values["rows"])


class _Reader:
    """Reads one file after the other with what is known so far."""

    def __init__(self, book: Book, kind: str, ask: Ask, known: SettingsMap) -> None:
        self._book = book
        self._fields = {field.key: field for field in list_fields(kind)}
        self._ask = ask
        self._map = known
        self._values: dict[str, KnownValue] = {}
        self._inputs: list[Input] = []
        self._stored: list[Mapping[str, object]] = []
        self._blobs: list[bytes] = []
        self._faults: list[str] = []
        self._taken_out: list[str] = []
        self._silent: list[str] = []

    def read(self, path: Path) -> None:
        """Read one file."""
        content = read_short_file(path, "the settings file", MOST_BYTES)
        text: SettingsText = load_part("ledger.settings.reading", "read_settings")(
            content, path.name
        )
        name = make_book_path(path.absolute(), self._book.folder)[0]
        flat = encode([[each.key, each.value] for each in text.settings])
        self._blobs.append(flat)
        digest = compute_digest(content)
        role = str(Role.CONFIG)
        self._inputs.append(Input(sha256=digest, path=name, role=role, bytes=len(content)))
        self._stored.append(
            {
                "path": name,
                "sha256": digest,
                "format": text.format,
                "settings": compute_digest(flat),
                "taken_out": list(text.taken_out),
            }
        )
        self._taken_out += [f"{name}: {key}" for key in text.taken_out]
        self._use(text, name)

    def _use(self, text: SettingsText, name: str) -> None:
        before = set(self._values)
        if self._ask.interactive:
            self._learn(text, name)
        for key, (row, answer) in self._map.read(text).items():
            asked = self._fields.get(key)
            if asked is not None:
                self._take(asked, row, answer, name)
        self._tell_read(name, [key for key in self._fields if key in self._values.keys() - before])

    def _tell_read(self, name: str, keys: Sequence[str]) -> None:
        if not keys:
            self._silent.append(
                f"Nothing was read from {name}: no key of it is known to mean a field. Say one, "
                f"such as --map mount_mode=KEY, or type the settings."
            )
        told = "; ".join(self._write(key) for key in keys)
        self._ask.tell(f"{name} says: {told or 'nothing that the form asks'}")

    def _write(self, key: str) -> str:
        asked, known = self._fields[key], self._values[key]
        value = known.where if asked.type is FieldType.FILE else show_value(known)
        return f"{asked.name.replace('_', ' ')} {value}"

    def _take(self, asked: Field, row: MapRow, answer: str, name: str) -> None:
        place = f"{name}: {', '.join(row.keys)}"
        try:
            known = parse_answer(asked, answer, row.unit, FileFinder(self._book.folder))
        except SwathbookError as error:
            chosen = self._ask_word(asked, answer, place)
            if chosen is None:
                self._faults.append(f"{place}: {error}")
                return
            self._map = self._map.with_rows([replace(row, words={**row.words, answer: chosen})])
            known = parse_answer(asked, chosen)
        where = known.where if known.where and asked.type is FieldType.FILE else place
        self._values[asked.key] = replace(known, known_by=KnownBy.READ, where=where)

    def _ask_word(self, asked: Field, answer: str, place: str) -> str | None:
        """Return the answer that a program's word means; None where nobody says."""
        if not (self._ask.interactive and asked.choices):
            return None
        question = Question(
            asked.key,
            f'{place} says "{answer}". {asked.question}',
            default=_NONE,
            choices=(_NONE, *_rank_choices(asked.choices, answer)),
            hint=ARROWS,
            required=True,
        )
        chosen = self._ask.answer(question)
        return None if chosen in ("", _NONE) else chosen

    def _learn(self, text: SettingsText, name: str) -> None:
        """Ask, for each field that the form would ask, which key it is: once for a program."""
        mapped = self._map.read(text)
        for asked in self._fields.values():
            if asked.core and asked.key not in mapped and asked.name not in ("decision", "reason"):
                self._ask_key(asked, text, name)

    def _ask_key(self, asked: Field, text: SettingsText, name: str) -> None:
        """Ask which of the keys that nobody refused yet is a field, and keep the answer."""
        refused = self._map.find_refused(asked.key)
        likely = [
            place
            for place in rank_places(asked, text.settings)
            if refused.isdisjoint(place.keys) and all(text.find(key) for key in place.keys)
        ][:_OFFERED]
        if not likely:
            return
        offered = {f"{', '.join(each.keys)} = {each.value[:_LONGEST]}": each for each in likely}
        question = Question(
            f"map.{asked.name}",
            f"{name}: which of these is it? {asked.question}",
            default=_NONE,
            choices=(_NONE, *offered),
            hint=ARROWS,
            required=True,
        )
        chosen = offered.get(self._ask.answer(question))
        if chosen is None:
            keys = [key for each in likely for key in each.keys]
            self._map = self._map.refuse(asked.key, keys)
        else:
            self._map = self._map.with_rows([MapRow(asked.key, chosen.keys)])

    def finish(self, before: SettingsMap) -> ReadSettings:
        """Return all that was read."""
        return ReadSettings(
            values=self._values,
            inputs=tuple(self._inputs),
            stored=tuple(self._stored),
            blobs=tuple(self._blobs),
            map=None if self._map == before else self._map,
            not_understood=tuple(self._faults),
            taken_out=tuple(self._taken_out),
            silent=tuple(self._silent),
        )


def _rank_choices(choices: Sequence[str], word: str) -> list[str]:
    """Return the choices, first those whose name stands in a program's word; none is marked."""
    folded = word.casefold()
    return sorted(choices, key=lambda choice: choice.casefold() not in folded)
