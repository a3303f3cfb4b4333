"""A job with a book and a folder to send, and audits with checks made for the test."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

from ledger.audit import request
from ledger.audit.running import audit_folder
from ledger.canonical import compute_digest, encode
from ledger.contract.check import Check, Plan, PointCheck
from ledger.contract.evidence import DeliveredFile, Evidence
from ledger.contract.registry import RegisteredCheck, RegisteredProfile, Registry
from ledger.model.artefact import FileRecord, FingerprintValue, Output
from ledger.model.ask import NoProgress
from ledger.model.audit import (
    WHOLE_DELIVERY,
    AuditOptions,
    AuditResult,
    InterimResult,
    Plugin,
    PluginFault,
)
from ledger.model.entry import Draft, Entry
from ledger.model.finding import Finding
from ledger.store.mapping import output_to_values
from ledger.store.reading import Book
from ledger.store.writing import BookWriter, create_book
from ledger.testing import Layout, SurveyBuilder

Answer = Callable[[Any, Evidence], Iterable[Finding]]

PLUGIN = Plugin("stranger", "4.2", "ab" * 32, "stranger")


@pytest.fixture(autouse=True)
def _own_home(tmp_path_factory: pytest.TempPathFactory, monkeypatch: pytest.MonkeyPatch) -> None:
    """Keep the machine id of the tests out of the user's own folder."""
    monkeypatch.setenv("SWATHBOOK_HOME", str(tmp_path_factory.mktemp("home")))


class Says(Check):
    """A check that answers from a function of itself and the evidence."""

    id = "says"
    title = "Says what it is told to say"

    def __init__(
        self, answer: Callable[[Says, Evidence], Iterable[Finding]], **claims: Any
    ) -> None:
        """Take the answer, and claims in place of those of the class."""
        self.answer = answer
        vars(self).update(claims)

    def finish(
        self, plan: Plan, summaries: Mapping[str, Any], evidence: Evidence
    ) -> Iterable[Finding]:
        """Answer."""
        return self.answer(self, evidence)


class Counts(PointCheck):
    """Passes every file that it has seen whole."""

    id = "counts"
    title = "Counts points"

    def start(self, plan: Plan, file: DeliveredFile) -> Any:
        """Return an empty count."""
        return _Count()

    def finish(
        self, plan: Plan, summaries: Mapping[str, Any], evidence: Evidence
    ) -> Iterable[Finding]:
        """Pass every file seen."""
        for path, count in summaries.items():
            yield self.conforms(path, f"{path} has {count} points.", observed=str(count))


class _Count:
    def __init__(self) -> None:
        self.count = 0

    def chunk(self, points: Any) -> None:
        self.count += len(points)

    def merge(self, other: _Count) -> None:
        self.count += other.count

    def close(self) -> int:
        return self.count


def passes(check: Says, evidence: Evidence) -> Iterable[Finding]:
    """Pass the whole delivery."""
    yield check.conforms(WHOLE_DELIVERY, "It holds.")


@dataclass
class Bench:
    """A job under test.

    Attributes:
        job: the job folder.
        survey: the tiles in its folder `out`.
    """

    job: Path
    survey: SurveyBuilder
    patch: pytest.MonkeyPatch

    @staticmethod
    def say(answer: Answer = passes, **claims: Any) -> Check:
        """Return a check that answers like this, with other claims where some are given."""
        return Says(answer, **claims)

    @staticmethod
    def count(**claims: Any) -> Check:
        """Return a check that reads points."""
        check = Counts()
        vars(check).update(claims)
        return check

    @property
    def out(self) -> Path:
        """Return the folder to send."""
        return self.job / "out"

    def write(self, text: str) -> None:
        """Write `job.toml`."""
        (self.job / "job.toml").write_text(text, encoding="utf-8")

    def install(
        self,
        *checks: Check,
        faults: Iterable[PluginFault] = (),
        profiles: Iterable[RegisteredProfile] = (),
    ) -> None:
        """Have these checks installed and no others."""
        listed = tuple(
            RegisteredCheck(check, PLUGIN) for check in sorted(checks, key=lambda each: each.id)
        )
        registry = Registry(listed, tuple(profiles), tuple(faults), (PLUGIN,))
        self.patch.setattr(request, "build_registry", lambda *_, **__: registry)

    def audit(
        self,
        folder: Path | None = None,
        on_interim: Callable[[InterimResult], None] | None = None,
        **options: Any,
    ) -> AuditResult:
        """Audit a folder, `out` if none is named."""
        chosen = AuditOptions(**options)
        return audit_folder(self.job, folder or self.out, chosen, NoProgress(), on_interim)

    def read(self) -> Book:
        """Return the book, open."""
        return Book.open(self.job)

    def record(
        self,
        *paths: Path,
        decision: str = "accepted",
        fingerprints: Mapping[str, FingerprintValue] | None = None,
        values: Mapping[str, Any] | None = None,
        inputs: Iterable[Mapping[str, str]] = (),
    ) -> Entry:
        """Record a run that made these files."""
        outputs = [
            output_to_values(
                Output(self.see(path), fingerprint=(fingerprints or {}).get(path.name))
            )
            for path in paths
        ]
        blob = encode(outputs)
        draft = {
            "name": "",
            "values": dict(values or {}),
            "inputs": [dict(each) for each in inputs],
            "outputs": compute_digest(blob),
            "output_count": len(outputs),
            "decision": decision,
            "reason": "",
            "left_out": [],
        }
        with BookWriter.open(self.job) as writer:
            return writer.append(Draft("run", draft), (blob,), id_prefix="R")

    def see(self, path: Path) -> FileRecord:
        """Return the record of a file as it lies there."""
        content = path.read_bytes()
        name = path.relative_to(self.job).as_posix()
        return FileRecord(name, hashlib.sha256(content).hexdigest(), len(content), 1, "points")


@pytest.fixture
def bench(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Bench:
    """Return a job with an empty specification, two tiles and one check that passes."""
    job = tmp_path / "job"
    job.mkdir()
    create_book(job).close()
    made = Bench(job, SurveyBuilder(job / "out", Layout(compressed=False)), monkeypatch)
    made.write("")
    made.install(Says(passes))
    return made
