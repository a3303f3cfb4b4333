"""Forms as files, for scripts and for paper, and single settings from the command line.

A form is TOML: flat keys, or the same keys in a table named after the kind of record. A value is
plain, or a table that says more about it: `{ value = "drone", known_by = "assumed" }`. Tables
`known_by` and `confirmed` beside the keys say the same for several of them.
"""

from __future__ import annotations

import codecs
import datetime as dt
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from decimal import Decimal
from pathlib import Path
from typing import Any

from ledger.errors import Fault, SwathbookError, UsageError
from ledger.forms.answers import FileFinder, parse_answer
from ledger.forms.numbers import MOST_DIGITS
from ledger.forms.occasion import complete_time
from ledger.model.field import Field
from ledger.model.fields import FIELDS, list_fields
from ledger.model.known import KnownBy, KnownValue
from ledger.model.phrases import find_nearest, join_choices
from ledger.shortfile import read_short_file
from ledger.specfile.lines import locate
from ledger.specfile.text import parse_toml

_WITH_INPUTS = ("run", "step")
# What a person types who wants to say which table of control was used.
_CONTROL_FILES = frozenset(
    {"control", "control_file", "control_files", "control_table", "control_points", "gcp"}
)
_ABOUT = ("known_by", "confirmed")
_PARTS = ("value", "unit", "where", *_ABOUT)


def find_field(kind: str, name: str) -> Field:
    """Return the field of a kind of record by its key or by the part after the kind.

    Raises:
        UsageError: there is no such field; the nearest name is offered.
    """
    bare = name.strip().replace("-", "_")
    field = FIELDS.get(bare if "." in bare else f"{kind}.{bare}")
    if field is not None and field.entry == kind:
        return field
    if field is not None:
        raise UsageError(f"{bare} belongs to a {field.entry}, and this is a {kind}")
    raise UsageError(
        f"a {kind} has no field {name.strip()}",
        remedy=_find_remedy(kind, bare.removeprefix(f"{kind}.")),
    )


def _find_remedy(kind: str, name: str) -> str:
    """Return what to type in place of a name that is no field."""
    if kind in _WITH_INPUTS and name in _CONTROL_FILES:
        return (
            f"a {kind} names the table of its control by its inputs, with --input TABLE when it is "
            "recorded; of one that is on record say --set control_used=yes, and each table that is "
            "registered --as control counts as used"
        )
    nearest = find_nearest(name, [each.name for each in list_fields(kind)])
    return f"did you mean {nearest}?" if nearest else "see them with --blank"


def parse_settings(kind: str, settings: Iterable[str], files: FileFinder) -> dict[str, KnownValue]:
    """Return the values of `key=value` texts by field key: typed and confirmed.

    Raises:
        UsageError: with one fault for each text that cannot be used.
    """
    values: dict[str, KnownValue] = {}
    said: dict[str, str] = {}
    faults: list[Fault] = []
    for setting in settings:
        name, equals, text = setting.partition("=")
        try:
            if not equals:
                raise UsageError("a setting has no =", found=f'"{setting}"', expected="key=value")
            field = find_field(kind, name)
            if field.key in said:
                raise UsageError(
                    f"{field.key} is set twice",
                    found=f'"{said[field.key]}" and "{text.strip()}"',
                    remedy="say it once",
                )
            said[field.key] = text.strip()
            full = complete_time(field.key, text, values)
            values[field.key] = parse_answer(field, full, files=files)
        except SwathbookError as error:
            faults += error.faults
    if faults:
        raise UsageError.from_faults(tuple(faults))
    return values


def parse_values(
    kind: str, answers: Mapping[str, str | KnownValue], files: FileFinder
) -> dict[str, KnownValue]:
    """Return answers by field key, texts parsed as if they had been typed.

    Raises:
        UsageError: with one fault for each answer that cannot be used.
    """
    known = {
        find_field(kind, name).key: answer
        for name, answer in answers.items()
        if isinstance(answer, KnownValue)
    }
    texts = [f"{name}={text}" for name, text in answers.items() if isinstance(text, str)]
    return {**parse_settings(kind, texts, files), **known}


def read_form(path: Path, kind: str, files: FileFinder) -> dict[str, KnownValue]:
    """Return the values of a filled-in form by field key. Empty texts are blanks.

    Args:
        path: the form.
        kind: kind of record that it is for (`rig`, `flight`, `run`).
        files: where files that it names are looked for.

    Raises:
        UsageError: with one fault for each thing that is wrong, with its line.
        UnreadableFileError: the form cannot be read.
    """
    content = _decode(read_short_file(path, "the form"))
    text, values = parse_toml(content, path.name, error=UsageError, parse_float=Decimal)
    form = _Form(path.name, text, kind, files)
    answers = dict(form.read(values))
    if form.faults:
        form.faults.sort(key=lambda fault: fault.line or 0)
        raise UsageError.from_faults(tuple(form.faults))
    return answers


def _decode(content: bytes) -> bytes:
    """Return a form as UTF-8 where a mark at its beginning tells what else it is.

    Consoles redirect and editors save that way. What cannot be told is left for the reader of TOML
    to refuse.
    """
    if content.startswith(codecs.BOM_UTF8):
        return content.removeprefix(codecs.BOM_UTF8)
    if content.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        try:
            return content.decode("utf-16").encode("utf-8")
        except UnicodeDecodeError:
            return content
    return content


@dataclass
class _Form:
    """One form while it is read; faults are gathered."""

    where: str
    text: str
    kind: str
    files: FileFinder

    def __post_init__(self) -> None:
        self.faults: list[Fault] = []
        self.read_so_far: dict[str, KnownValue] = {}

    def read(self, values: Mapping[str, Any]) -> Iterator[tuple[str, KnownValue]]:
        """Yield the values by field key."""
        table = values.get(self.kind)
        prefix: tuple[str, ...] = ()
        if isinstance(table, dict):
            for name in values.keys() - {self.kind}:
                self._add(UsageError(f"{name} stands outside of [{self.kind}]"), (name,))
            values, prefix = table, (self.kind,)
        about = {name: self._read_about(values, name, prefix) for name in _ABOUT}
        for name, value in values.items():
            if name not in _ABOUT and value != "":
                yield from self._read_one(name, value, about, prefix)

    def _add(self, error: SwathbookError, path: tuple[str, ...]) -> None:
        line = locate(self.text, path)
        self.faults += [replace(f, where=f.where or self.where, line=line) for f in error.faults]

    def _read_about(
        self, values: Mapping[str, Any], name: str, prefix: tuple[str, ...]
    ) -> Mapping[str, Any]:
        table = values.get(name, {})
        if not isinstance(table, dict):
            self._add(UsageError(f"{name} is not a table of keys"), (*prefix, name))
            return {}
        for key in table.keys() - values.keys():
            self._add(UsageError(f"{name} speaks of {key}, which is blank"), (*prefix, name, key))
        return table

    def _read_one(
        self,
        name: str,
        value: object,
        about: Mapping[str, Mapping[str, Any]],
        prefix: tuple[str, ...],
    ) -> Iterator[tuple[str, KnownValue]]:
        said = {part: table[name] for part, table in about.items() if name in table}
        said.update(value if isinstance(value, dict) else {"value": value})
        try:
            field = find_field(self.kind, name)
            known = self.read_so_far[field.key] = self._make(field, said)
            yield field.key, known
        except SwathbookError as error:
            self._add(error, (*prefix, name))

    def _make(self, field: Field, said: Mapping[str, Any]) -> KnownValue:
        unknown = sorted(said.keys() - set(_PARTS))
        if unknown or "value" not in said:
            raise UsageError(
                f"{field.key} is not understood",
                found=", ".join(unknown) or "a table without value",
                expected=f"value, and if wanted {join_choices(_PARTS[1:])}",
            )
        text = complete_time(field.key, _write_answer(said["value"], field), self.read_so_far)
        known = parse_answer(field, text, str(said.get("unit", "")), self.files)
        known_by = _read_known_by(field, said.get("known_by", known.known_by))
        # Whoever writes "carried" or "assumed" has not looked, unless the form says that he has.
        looked = known_by not in (KnownBy.CARRIED, KnownBy.ASSUMED)
        return replace(
            known,
            known_by=known_by,
            confirmed=_read_confirmed(field, said.get("confirmed", looked)),
            where=str(said.get("where", known.where)),
        )


def _read_known_by(field: Field, word: object) -> KnownBy:
    try:
        return KnownBy(str(word))
    except ValueError:
        raise UsageError(
            f"{field.key}: nobody knows a value that way",
            found=str(word),
            expected=join_choices(KnownBy),
        ) from None


def _read_confirmed(field: Field, word: object) -> bool:
    if isinstance(word, bool):
        return word
    raise UsageError(f"{field.key}: confirmed is not true or false", found=str(word))


def _write_answer(value: object, field: Field) -> str:
    """Return a TOML value as the text that a person would have typed."""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, str):
        return value
    if isinstance(value, int):
        return str(value)
    if isinstance(value, Decimal):
        # One of a billion digits stays as it is, and is refused as a number with an exponent.
        return str(value) if abs(value.adjusted()) > MOST_DIGITS else f"{value:f}"
    if isinstance(value, (dt.date, dt.time)):
        return value.isoformat()
    if isinstance(value, list) and all(isinstance(each, (str, int, Decimal)) for each in value):
        return "; ".join(_write_answer(each, field) for each in value)
    raise UsageError(f"{field.key} cannot be read", found="a list or table inside another")
