"""The answers of a form that was interrupted, kept aside until the record is made.

They lie in the scratch folder of the job and may be lost at any time. They are written after every
answer, because a closed window gives no warning.
"""

from __future__ import annotations

import json
import os
from collections.abc import Mapping
from pathlib import Path

from ledger.jobfolder import make_scratch
from ledger.model.known import KnownValue

_FOLDER = "drafts"


class Unfinished:
    """The answers of one form."""

    def __init__(self, job: Path, name: str) -> None:
        """Say which form it is.

        Args:
            job: the job folder.
            name: name of the form: `run`, `flight-F1`.
        """
        self._job = job
        self._name = f"{name}.json"

    @property
    def _path(self) -> Path:
        return make_scratch(self._job) / _FOLDER / self._name

    def read(self) -> dict[str, KnownValue]:
        """Return the answers kept; empty when there are none or they cannot be read."""
        try:
            stored = json.loads(self._path.read_text(encoding="utf-8"))
            return {key: KnownValue.from_values(value) for key, value in stored.items()}
        except (OSError, ValueError, KeyError, TypeError, AttributeError):
            return {}

    def keep(self, answers: Mapping[str, KnownValue]) -> None:
        """Write the answers; a failure to do so stops nobody."""
        stored = json.dumps({key: known.to_values() for key, known in answers.items()})
        try:
            path = self._path
            path.parent.mkdir(exist_ok=True)
            half = path.with_suffix(".new")
            half.write_text(stored, encoding="utf-8")
            os.replace(half, path)  # noqa: PTH105 - says that an older one is replaced
        except OSError:
            return

    def clear(self) -> None:
        """Forget them: they are in the book now."""
        try:
            self._path.unlink(missing_ok=True)
        except OSError:
            return
