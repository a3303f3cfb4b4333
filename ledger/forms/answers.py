"""One answer to one question: text in, a recorded value out, or one sentence that says why not."""

from __future__ import annotations

import datetime as dt
import os
import re
import unicodedata
from collections.abc import Callable
from dataclasses import field as dataclass_field
from decimal import Decimal
from pathlib import Path

from ledger.canonical import MAX_WHOLE_NUMBER
from ledger.dataclass import dataclass
from ledger.errors import UsageError
from ledger.fixity import read_fixity
from ledger.forms.numbers import Typed, convert, read_number, split_vector
from ledger.model.ask import NoProgress, Progress
from ledger.model.field import Field, FieldType
from ledger.model.filename import make_book_path
from ledger.model.known import KnownValue
from ledger.model.phrases import find_nearest, join_choices
from ledger.settings.typedtext import require_no_secret
from ledger.walk import read_dropped_path

_LONGEST_TEXT = 2000
_WHOLE_PERCENT = 100
_HIDDEN = frozenset({"Cc", "Cs", "Zl", "Zp"})  # controls, half surrogates, line breaks
_YES = ("yes", "y", "true")
_NO = ("no", "n", "false")
_CODE = re.compile(r"EPSG:[0-9]{4,6}(\+[0-9]{4,6})?", re.IGNORECASE)
# First keyword of a CRS: OGC 18-010r11 (WKT 2) and OGC 01-009 (WKT 1).
_WKT = re.compile(
    r"(COMPOUNDCRS|PROJCRS|PROJECTEDCRS|GEOGCRS|GEOGRAPHICCRS|GEODCRS|GEODETICCRS|VERTCRS"
    r"|VERTICALCRS|ENGCRS|ENGINEERINGCRS|BOUNDCRS|DERIVEDPROJCRS"
    r"|COMPD_CS|PROJCS|GEOGCS|GEOCCS|VERT_CS|LOCAL_CS)\s*[\[(]",
    re.IGNORECASE,
)
# RFC 3339 section 5.6, and the same without seconds (ISO 8601).
_TIME = re.compile(
    r"(?P<date>\d{4}-\d{2}-\d{2})[Tt ](?P<time>\d{2}:\d{2}(:\d{2})?)(?P<part>\.\d{1,9})?"
    r" ?(?P<zone>[Zz]|[+\-]\d{2}:?\d{2})?",
    re.ASCII,
)
_DATE = re.compile(r"\d{4}-\d{2}-\d{2}", re.ASCII)


@dataclass(frozen=True)
class FileFinder:
    """Where the files that an answer names are looked for.

    Args:
        job: job folder, from which paths are stored; None to store absolute paths.
        folders: searched in order for a relative path; the working folder when empty.
        progress: is told the bytes read.
    """

    job: Path | None = None
    folders: tuple[Path, ...] = ()
    progress: Progress = dataclass_field(default_factory=NoProgress)

    def find(self, text: str) -> Path:
        """Return the absolute path that is meant by `text`."""
        path = read_dropped_path(text)
        tried = [folder / path for folder in self.folders or (Path(),)]
        # Not Path.exists(), which raises where the name is too long or the system refuses.
        return next((each for each in tried if os.path.exists(each)), tried[0]).absolute()


def parse_answer(
    field: Field, text: str, unit: str = "", files: FileFinder | None = None
) -> KnownValue:
    """Return the value that an answer means: typed by a person, and confirmed by typing it.

    Args:
        field: what was asked.
        text: the answer; not blank.
        unit: unit of a number that names none itself; the field's own when empty.
        files: where files are looked for.

    Raises:
        UsageError: the answer cannot be used, in one sentence.
        FileError: the answer names a file that cannot be read.
    """
    bare = unicodedata.normalize("NFC", text).strip()
    if not bare:
        raise UsageError(f"{field.key} is empty", remedy="leave it out to leave it blank")
    if field.type in (FieldType.NUMBER, FieldType.VECTOR):
        return _PARSE_MEASURED[field.type](field, bare, unit)
    if field.type is FieldType.FILE:
        return _parse_file(text, files or FileFinder())
    return _PARSE[field.type](field, bare)


def _parse_text(field: Field, text: str) -> KnownValue:
    if len(text) > _LONGEST_TEXT:
        raise UsageError(f"{field.key} is too long", expected=f"at most {_LONGEST_TEXT} characters")
    if any(unicodedata.category(character) in _HIDDEN for character in text):
        raise UsageError(f"{field.key} holds line breaks or hidden characters", expected="one line")
    require_no_secret(text, field.key)
    return KnownValue(text)


def _parse_choice(field: Field, text: str) -> KnownValue:
    asked = _fold(text)
    by_fold = {_fold(choice): choice for choice in field.choices}
    matching = [choice for fold, choice in by_fold.items() if fold.startswith(asked)]
    if asked in by_fold:
        return KnownValue(by_fold[asked])
    if len(matching) == 1:
        return KnownValue(matching[0])
    nearest = "" if matching else find_nearest(asked, field.choices)
    problem = "could be several of its choices" if matching else "is none of its choices"
    raise UsageError(
        f"{field.key} {problem}",
        found=f'"{text}"',
        expected=join_choices(matching or field.choices),
        remedy=f"did you mean {nearest}?" if nearest else "",
    )


def _fold(text: str) -> str:
    return " ".join(text.casefold().replace("-", " ").replace("_", " ").split())


def _parse_yes_no(field: Field, text: str) -> KnownValue:
    answer = text.casefold()
    if answer in _YES or answer in _NO:
        return KnownValue(answer in _YES)
    raise UsageError(f"{field.key} is not yes or no", found=f'"{text}"', expected="yes or no")


def _parse_count(field: Field, text: str) -> KnownValue:
    if re.fullmatch(r"\+?[0-9]{1,16}", text) and int(text) <= MAX_WHOLE_NUMBER:
        return KnownValue(int(text))
    raise UsageError(
        f"{field.key} is not a count", found=f'"{text}"', expected="a whole number, 0 or more"
    )


def _parse_number(field: Field, text: str, unit: str) -> KnownValue:
    typed = read_number(text, field.key)
    value, note = convert(_with_unit(typed, unit), field.unit, field.key)
    if field.unit == "%" and not 0 <= Decimal(value) <= _WHOLE_PERCENT:
        raise UsageError(f"{field.key} is no share of a whole", found=text, expected="0 to 100")
    return KnownValue(value, field.unit, where=note)


def _parse_vector(field: Field, text: str, unit: str) -> KnownValue:
    parts = [read_number(part, field.key) for part in split_vector(text, field.key)]
    if len({part.mark for part in parts if part.mark}) > 1:
        raise UsageError(
            f"{field.key} has commas and points as decimal marks",
            found=f'"{text}"',
            expected="the same decimal mark in all three numbers",
        )
    if len({part.unit for part in parts if part.unit}) > 1:
        raise UsageError(f"{field.key} has several units", found=f'"{text}"', expected="one unit")
    shared = parts[2].unit or unit
    converted = [convert(_with_unit(part, shared), field.unit, field.key) for part in parts]
    note = "; ".join(note for _, note in converted if note)
    return KnownValue([value for value, _ in converted], field.unit, where=note)


def _with_unit(number: Typed, unit: str) -> Typed:
    return number if number.unit else Typed(number.digits, number.mark, unit)


def _parse_date(field: Field, text: str) -> KnownValue:
    try:
        if _DATE.fullmatch(text):
            return KnownValue(dt.date.fromisoformat(text).isoformat())
    except ValueError:
        pass
    raise UsageError(
        f"{field.key} is not a date", found=f'"{text}"', expected="year-month-day: 2026-05-14"
    )


def _parse_time(field: Field, text: str) -> KnownValue:
    match = _TIME.fullmatch(text)
    if match is None:
        raise UsageError(f"{field.key} is not a time", found=f'"{text}"', expected=_TIME_EXAMPLE)
    if match["zone"] is None:
        raise UsageError(
            f"{field.key} does not say its offset from UTC",
            found=f'"{text}"',
            expected=_TIME_EXAMPLE,
            remedy="put Z behind a time in UTC",
        )
    zone = match["zone"].upper().replace("Z", "+00:00")
    try:
        moment = dt.datetime.fromisoformat(f"{match['date']}T{match['time']}{zone}")
        utc = moment.astimezone(dt.UTC)
    except (ValueError, OverflowError):
        raise UsageError(
            f"{field.key} is no time of the calendar", found=f'"{text}"', expected=_TIME_EXAMPLE
        ) from None
    note = "" if zone == "+00:00" else f"typed as {text}"
    return KnownValue(f"{utc:%Y-%m-%dT%H:%M:%S}{match['part'] or ''}Z", where=note)


_TIME_EXAMPLE = "2026-05-14T09:12:00Z or 2026-05-14T11:12:00+02:00"


def _parse_crs(field: Field, text: str) -> KnownValue:
    if _CODE.fullmatch(text):
        return KnownValue(text.upper())
    if _WKT.match(text):
        return KnownValue(text)
    raise UsageError(
        f"{field.key} is not a coordinate system",
        found=f'"{text[:40]}"',
        expected="a code (EPSG:6346) or WKT",
        remedy=f"write EPSG:{text}" if re.fullmatch(r"[0-9]{4,6}", text) else "",
    )


def _parse_file(text: str, files: FileFinder) -> KnownValue:
    path = files.find(text)
    digest = read_fixity(path, files.progress).sha256
    where = make_book_path(path, files.job)[0] if files.job else path.as_posix()
    return KnownValue(digest, where=where)


_PARSE: dict[FieldType, Callable[[Field, str], KnownValue]] = {
    FieldType.TEXT: _parse_text,
    FieldType.CHOICE: _parse_choice,
    FieldType.COUNT: _parse_count,
    FieldType.YES_NO: _parse_yes_no,
    FieldType.DATE: _parse_date,
    FieldType.TIME: _parse_time,
    FieldType.CRS: _parse_crs,
}
_PARSE_MEASURED: dict[FieldType, Callable[[Field, str, str], KnownValue]] = {
    FieldType.NUMBER: _parse_number,
    FieldType.VECTOR: _parse_vector,
}
