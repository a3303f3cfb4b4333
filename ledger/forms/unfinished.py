"""The answers of a form that was interrupted, kept aside until the record is made.

They lie in the scratch folder of the job and may be lost at any time. They are written after every
answer, because a closed window gives no warning. What was read from files is not among them: it is
read again, and from other files it would be another value. What is known of a command that was run
is: nothing that is left could tell it again.
"""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path

from ledger.dataclass import dataclass
from ledger.errors import Fault, SwathbookError, UnwritableFileError
from ledger.jobfolder import SCRATCH_NAME, make_scratch
from ledger.model.fields import COMMAND_FIELDS, FIELDS
from ledger.model.known import KnownBy, KnownValue
from ledger.model.phrases import count_things
from ledger.wholefile import write_whole

_FOLDER = "drafts"


@dataclass(frozen=True)
class Kept:
    """What a form that was interrupted had.

    Args:
        answers: the answers, by field key.
        about: what the form was about: `25 outputs in out/R1`; empty where it was not said.
        written: when the last answer was kept, in the time of this machine: `2026-05-14 20:31`.
    """

    answers: Mapping[str, KnownValue]
    about: str
    written: str


class Unfinished:
    """The answers of one form."""

    def __init__(self, job: Path, name: str, about: str = "") -> None:
        """Say which form it is.

        Args:
            job: the job folder.
            name: name of the form: `run`, `flight-F1`.
            about: what it is about, where one name serves several: `25 outputs in out/R1`.
        """
        self._job = job
        self._name = f"{name}.json"
        self._was_kept = False
        self.about = about

    @property
    def _path(self) -> Path:
        return make_scratch(self._job) / _FOLDER / self._name

    def read(self) -> Kept | None:
        """Return what was kept; None when nothing was, or when it cannot be read."""
        try:
            stored = json.loads(self._path.read_text(encoding="utf-8"))
            moment = dt.datetime.fromtimestamp(self._path.stat().st_mtime).astimezone()
            kept = {
                key: KnownValue.from_values(value)
                for key, value in stored["answers"].items()
                if key in FIELDS
            }
            about = str(stored["about"])
        except (OSError, OverflowError, ValueError, KeyError, TypeError, AttributeError):
            return None
        return Kept(kept, about, f"{moment:%Y-%m-%d %H:%M}") if kept else None

    def keep(self, answers: Mapping[str, KnownValue]) -> None:
        """Write the answers; a failure to do so stops nobody."""
        said = {
            key: known.to_values()
            for key, known in answers.items()
            if known.known_by is not KnownBy.READ or key in COMMAND_FIELDS
        }
        stored = json.dumps({"about": self.about, "answers": said})
        try:
            write_whole(self._path, stored.encode("utf-8"))
            self._was_kept = True
        except (OSError, UnwritableFileError):
            return

    def clear(self) -> None:
        """Forget them: they are in the book now."""
        try:
            self._path.unlink(missing_ok=True)
        except OSError:
            return

    @contextmanager
    def explain_stop(self, command: str) -> Iterator[None]:
        """Say what is kept, and how to go on, where what is done inside cannot be carried out.

        Args:
            command: what goes on with it: `swathbook record rig`.

        Raises:
            KeyboardInterrupt: the person stopped; its text says what became of the answers.
            SwathbookError: as it was raised, with one more line where answers were kept.
        """
        try:
            yield
        except (KeyboardInterrupt, EOFError) as stop:
            raise KeyboardInterrupt(self._tell(command)) from stop
        except SwathbookError as error:
            if not self._was_kept:
                raise
            faults = (*error.faults, Fault(self._tell(command)))
            raise type(error).from_faults(faults) from error

    def _tell(self, command: str) -> str:
        kept = self.read()
        if kept is None:
            return f"nothing was entered, and no answer was given yet; begin again: {command}"
        count = count_things(len(kept.answers), "answer")
        were = "is" if len(kept.answers) == 1 else "are"
        place = f"{SCRATCH_NAME}/{_FOLDER}/{self._name}"
        return f"nothing was entered; {count} {were} kept in {place}; go on with: {command}"
