"""What an audit asked, applied and found, as plain records.

Nothing here reads or judges: reports, the command line and the book are made from these.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import field
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Any

from ledger.dataclass import dataclass
from ledger.model.acceptance import Acceptance
from ledger.model.blanks import Blank
from ledger.model.document import AppliedProfile, Known, find_unit
from ledger.model.figure import Figure
from ledger.model.finding import Finding, Outcome
from ledger.model.nextstep import NOTHING, NextStep
from ledger.model.verdict import Verdict

if TYPE_CHECKING:  # only an audit of points makes maps, and they load numpy
    from ledger.model.raster import Raster

WHOLE_DELIVERY = "delivery"
"""Subject of a finding that is about the delivery as a whole."""

AUDIT_ITSELF = "audit"
"""Check id of what the audit has to say of itself: a file not read, a plugin that did not load.

It is always required, so that such a gap never leaves a verdict better than *incomplete*.
"""


@dataclass(frozen=True)
class Plugin:
    """A distribution that supplies checks.

    Args:
        name: name of the distribution.
        version: its version.
        digest: SHA-256 over names and contents of its files, since an editable one keeps its
            version; empty when they could not be read.
        entry_point: name of the entry point it was found by.
        module: module that the entry point names, whose package was digested.
    """

    name: str
    version: str
    digest: str
    entry_point: str
    module: str = ""

    def __str__(self) -> str:
        """Return name and version, as a person is told."""
        return f"{self.name} {self.version}".rstrip()


@dataclass(frozen=True)
class PluginFault:
    """A plugin, or a part of it, that could not be used.

    Args:
        plugin: name of the distribution.
        version: its version.
        sentence: what is wrong, in one sentence without a final full stop.
    """

    plugin: str
    version: str
    sentence: str

    def __str__(self) -> str:
        """Return which plugin and what is wrong, as a person is told."""
        return f"{f'{self.plugin} {self.version}'.rstrip()}: {self.sentence}"


class Source(StrEnum):
    """Where a criterion comes from, strongest first."""

    OWN = "job.toml"
    PROFILE = "profile"
    DEFAULT = "default"
    BLANK = "blank"


@dataclass(frozen=True)
class Criterion:
    """One criterion of a check, as applied.

    Args:
        field: its name, with the unit in it (`rmse_max_m`).
        value: text, number, truth value, or a list or mapping of those; None when blank.
        source: where the value comes from.
        basis: title and clause of the profile, or the source of the default; empty for a value
            of `job.toml`, which the customer states.
        document: title and edition of the document, for a value of a profile.
        clause: where the document states it, for a value of a profile.
        known: how a value of a profile is known (`document` … `memory`).
    """

    field: str
    value: Any
    source: Source
    basis: str = ""
    document: str = ""
    clause: str = ""
    known: str = ""

    @property
    def unit(self) -> str:
        """Return the unit that its name ends with; empty for none."""
        return find_unit(self.field)

    @property
    def is_recalled(self) -> bool:
        """Say whether the value is known from memory only."""
        return self.known == Known.MEMORY

    @property
    def origin(self) -> str:
        """Return source and basis as one text."""
        return f"{self.source}: {self.basis}" if self.basis else str(self.source)


@dataclass(frozen=True)
class CheckFacts:
    """One check and how it stands in an audit.

    Args:
        id: id of the check.
        title: as a surveyor would say it.
        catalogue: ids of the catalogue of failures that it finds.
        revision: revision of the check.
        plugin: what supplies it.
        criteria: every criterion as applied.
        required: why it may not be left open: `always`, `job.toml` or `profile`; empty when it
            may.
        reads_points: whether points have to be read for it.
        needs: named inputs without which it says nothing.
        fields: record fields that it uses.
        specification_keys: keys of `job.toml` that it reads, its criteria apart.
        switched_off: the reason why it was switched off; empty when it was not.
    """

    id: str
    title: str
    catalogue: tuple[str, ...]
    revision: int
    plugin: Plugin
    criteria: tuple[Criterion, ...] = ()
    required: str = ""
    reads_points: bool = False
    needs: tuple[str, ...] = ()
    fields: tuple[str, ...] = ()
    specification_keys: tuple[str, ...] = ()
    switched_off: str = ""


@dataclass(frozen=True)
class AuditOptions:
    """How to audit.

    Args:
        quick: read records and headers only.
        by: function of the person who audits.
        checkpoints: a table of checkpoints that came later; None for those in the job.
        workers: how many processes read points; None for what is best here. What is found is the
            same with any number.
        cluster: address of a cluster whose workers read points instead; empty for none.
    """

    quick: bool = False
    by: str = "technician"
    checkpoints: Path | None = None
    workers: int | None = None
    cluster: str = ""


@dataclass(frozen=True)
class InterimResult:
    """What records and headers say, before any point is read.

    Args:
        verdict: the verdict so far; never better than *incomplete*.
        findings: the findings so far, worst first.
        files: files in the folder.
        seconds: time taken so far.
    """

    verdict: Verdict
    findings: tuple[Finding, ...]
    files: int
    seconds: float


@dataclass(frozen=True)
class AuditResult:
    """All that an audit gives.

    Args:
        entry: number of its entry.
        id: id of the deliverable (`D1`): the same bytes keep theirs.
        folder: the audited folder as the book stores it.
        verdict: the verdict.
        quick: points were not read.
        manifest_sha256: digest of the manifest, the identity of the deliverable.
        manifest_root: root of the manifest's tree, hex.
        specification: SHA-256 of `job.toml`.
        specification_entry: number of the entry that holds it.
        specification_by: function of the person who entered it, and answers for what it says.
        files: number of files.
        bytes: their size together.
        points: points counted by reading them; None in a quick audit.
        seconds: time taken.
        known_digests: files whose digest was taken from an earlier audit, not computed.
        findings: every finding, worst first, those that conform last.
        accepted: acceptances that stand, by id of the finding.
        checks: every check, those switched off included.
        blanks: what was left blank and what it costs.
        unread: keys that `job.toml` fills and that no check and no command reads.
        rasters: small maps that the checks drew, by check and name.
        figures: numbers that the checks told, in their order.
        plugin_faults: plugins that could not be used.
        not_traced: documents that no recorded process made.
        profile: the profile that `job.toml` names; None for none.
    """

    entry: int
    id: str
    folder: str
    verdict: Verdict
    quick: bool
    manifest_sha256: str
    manifest_root: str
    specification: str
    specification_entry: int
    specification_by: str
    files: int
    bytes: int
    points: int | None
    seconds: float
    known_digests: int
    findings: tuple[Finding, ...]
    accepted: Mapping[str, Acceptance] = field(default_factory=dict)
    checks: tuple[CheckFacts, ...] = ()
    blanks: tuple[Blank, ...] = ()
    unread: tuple[str, ...] = ()
    rasters: tuple[Raster, ...] = ()
    figures: tuple[Figure, ...] = ()
    plugin_faults: tuple[PluginFault, ...] = ()
    not_traced: tuple[str, ...] = ()
    profile: AppliedProfile | None = None

    @property
    def switched_off(self) -> tuple[CheckFacts, ...]:
        """Return the checks that `job.toml` switches off, each with its reason."""
        return tuple(check for check in self.checks if check.switched_off)

    @property
    def conforming(self) -> dict[str, int]:
        """Return how often each check found that its criterion is met."""
        return count_conforming(self.findings)

    @property
    def open_findings(self) -> tuple[Finding, ...]:
        """Return every finding that does not simply conform, worst first."""
        return tuple(f for f in self.findings if f.outcome is not Outcome.CONFORMS)


def count_conforming(findings: tuple[Finding, ...]) -> dict[str, int]:
    """Return the number of conforming findings by check id, in order of id."""
    counts: dict[str, int] = {}
    for finding in sorted(findings, key=lambda f: f.check):
        if finding.outcome is Outcome.CONFORMS:
            counts[finding.check] = counts.get(finding.check, 0) + finding.count
    return counts


@dataclass(frozen=True)
class TakenFinding:
    """A finding that somebody takes.

    Args:
        finding: its id.
        sentences: what it says; several where one id stands for several places.
        entry: the entry that holds the acceptance.
        audit: entry of the audit that found it.
        before: who had taken it already; None for nobody.
        is_new: whether an entry was made: not where the same person said the same before.
    """

    finding: str
    sentences: tuple[str, ...]
    entry: int
    audit: int
    before: Acceptance | None = None
    is_new: bool = True


@dataclass(frozen=True)
class AuditStand:
    """Where an audit stands with every acceptance so far.

    Args:
        entry: its entry.
        folder: the audited folder.
        verdict: its verdict.
    """

    entry: int
    folder: str
    verdict: Verdict


@dataclass(frozen=True)
class AcceptResult:
    """What accepting changed.

    Args:
        taken: the findings, in the order in which they were named.
        audits: the audits that found them.
        open: minor findings of those audits that nobody has accepted.
        step: what to type next.
    """

    taken: tuple[TakenFinding, ...]
    audits: tuple[AuditStand, ...]
    open: tuple[str, ...] = ()
    step: NextStep = NOTHING


@dataclass(frozen=True)
class ChecksResult:
    """Every check that is installed.

    Args:
        checks: the checks, by id; their criteria with the values of `job.toml` where a job is
            at hand.
        plugins: distributions that supply them.
        faults: plugins that could not be used.
        unread: keys that `job.toml` fills and that no check and no command reads.
        profile: the profile that `job.toml` names; None for none.
        profiles: ids of the profiles that are installed.
    """

    checks: tuple[CheckFacts, ...]
    plugins: tuple[Plugin, ...] = ()
    faults: tuple[PluginFault, ...] = ()
    unread: tuple[str, ...] = ()
    profile: AppliedProfile | None = None
    profiles: tuple[str, ...] = ()
