"""What was answered before any question: in a form, by `--set`, or by the caller."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import field
from functools import partial
from pathlib import Path

from ledger.dataclass import dataclass
from ledger.errors import Fault, UsageError
from ledger.forms import FileFinder, parse_settings, parse_values, read_form
from ledger.model.known import KnownValue
from ledger.model.typed import quote_path, quote_word


@dataclass(frozen=True)
class Answers:
    """Answers given before any question. Where they speak of one field, the last named counts.

    Args:
        form: a filled-in form.
        values: by field, texts as if typed or ready values.
        settings: texts `key=value`.
    """

    form: Path | None = None
    values: Mapping[str, str | KnownValue] = field(default_factory=dict)
    settings: tuple[str, ...] = ()

    def write_options(self) -> tuple[str, ...]:
        """Return the options that give the form and the settings once more, as typed."""
        form = () if self.form is None else (f"--from {quote_path(str(self.form))}",)
        return (*form, *(f"--set {quote_word(each)}" for each in self.settings))

    def read(self, kind: str, job: Path) -> dict[str, KnownValue]:
        """Return the values by field key.

        Args:
            kind: kind of record (`rig`, `flight`, `run`).
            job: the job folder; relative files of a form are looked for there, those of a setting
                in the working folder first.

        Raises:
            UsageError: with every fault of the form and of the settings.
            FileError: a file cannot be read.
        """
        typed = make_finder(job)
        readings: list[Callable[[], Mapping[str, KnownValue]]] = [
            lambda: parse_values(kind, self.values, typed),
            lambda: parse_settings(kind, self.settings, typed),
        ]
        if self.form is not None:
            folders = (job, self.form.absolute().parent, Path.cwd())
            finder = FileFinder(job, folders)
            readings.insert(0, partial(read_form, self.form, kind, finder))
        values: dict[str, KnownValue] = {}
        faults: list[Fault] = []
        for read in readings:
            try:
                values.update(read())
            except UsageError as error:
                faults += error.faults
        if faults:
            raise UsageError.from_faults(tuple(faults))
        return values


def make_finder(job: Path) -> FileFinder:
    """Return the finder of files that a person types: in the working folder, then in the job."""
    return FileFinder(job, (Path.cwd(), job))
