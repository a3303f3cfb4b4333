"""A stated accuracy has checkpoints behind it: as many as it says, and none that was control.

The number itself is not computed here: this looks at what has to be on record before anybody can.
Where points are read, accuracy-statement computes it again from the checkpoints.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from pathlib import PurePosixPath
from typing import Any

from ledger.contract.check import Check, Evidence, Finding, Grade, Plan, Where
from ledger.model.artefact import FileRecord, Role
from ledger.model.audit import WHOLE_DELIVERY
from ledger.model.phrases import agree, count_things
from ledger.model.process import Card
from ledger.model.statement import describe_statement, is_stated_of

_SOURCE = "common practice, no source"
_INDEPENDENT = "FGDC-STD-007.3-1998, 3.2: tested against an independent source of higher accuracy"
_NEEDED = (
    "statement.accuracy",
    "statement.statistic",
    "statement.value",
    "statement.count",
    "statement.checkpoints",
)


class StatementSupport(Check):
    """Holds each recorded statement about this delivery against the tables of the job."""

    id = "statement-support"
    title = "A stated accuracy has independent checkpoints behind it"
    catalogue = ("RH-06", "RH-07")

    def finish(
        self,
        plan: Plan,  # noqa: ARG002 - part of the contract
        summaries: Mapping[str, Any],  # noqa: ARG002 - part of the contract
        evidence: Evidence,
    ) -> Iterable[Finding]:
        """Judge every statement about this delivery, or about what it was made of."""
        cards = [card for card in evidence.job.statements if is_about(card, evidence)]
        if not cards:
            yield self.inconclusive(
                WHOLE_DELIVERY,
                "No number about the accuracy of these files is on record, so none was held "
                "against the checkpoints.",
                remedy="Where a report states one, record it (swathbook record statement)",
            )
        for card in cards:
            found = tuple(self._judge(card, evidence))
            yield from found or (self._tell_supported(card),)

    def _judge(self, card: Card, evidence: Evidence) -> Iterator[Finding]:
        yield from self._judge_report(card, evidence)
        missing = [key for key in _NEEDED if key not in card.values]
        if missing:
            yield self.not_assessed(
                card.id,
                f"Statement {card.id} ({describe_statement(card.values)}) does not say all that it "
                "rests on.",
                needs=missing,
                remedy=f"Add it (swathbook record statement {card.id})",
                catalogue=("RH-07",),
            )
            return
        table = evidence.registered.get(str(card.values["statement.checkpoints"].value))
        yield from self._judge_independence(card, table, evidence)
        yield from self._judge_count(card, table)

    def _judge_count(self, card: Card, table: FileRecord | None) -> Iterator[Finding]:
        stated = int(card.values["statement.count"].value)
        rows = None if table is None else table.facts.get("rows")
        if stated and (table is None or not isinstance(rows, int)):
            yield self.not_assessed(
                card.id,
                f"How many points the table of statement {card.id} holds is not known: it is not "
                "registered, or it is no table of points.",
                needs=("checkpoints",),
                remedy="Register the table (swathbook register PATH --as checkpoints)",
                catalogue=("RH-06",),
            )
            return
        here = rows if isinstance(rows, int) else 0
        if stated and stated == here:
            return
        path = "no table" if table is None else table.path
        major = not stated or stated > here
        yield self.nonconforming(
            Grade.MAJOR if major else Grade.OBSERVATION,
            card.id,
            f"Statement {card.id} says {describe_statement(card.values)}, and {path} holds "
            f"{count_things(here, 'point')}"
            + (
                "." if major else f": {here - stated} {agree(here - stated, 'is', 'are')} left out."
            ),
            observed=str(stated),
            required=str(here),
            unit="points",
            criterion_source=_SOURCE,
            remedy="Count the points that it was computed from, and state that number in the "
            f"report and in the book (swathbook record statement {card.id})",
            catalogue=("RH-06",) if stated else ("RH-07",),
        )

    def _judge_independence(
        self, card: Card, table: FileRecord | None, evidence: Evidence
    ) -> Iterator[Finding]:
        digest = str(card.values["statement.checkpoints"].value)
        users = [
            process.id
            for process in evidence.processes
            if any(u.sha256 == digest and u.role == Role.CONTROL for u in process.inputs)
        ]
        if not users and (table is None or table.role != Role.CONTROL):
            return
        path = digest[:12] if table is None else table.path
        how = f"control of {', '.join(users)}" if users else "control of this job"
        yield self.nonconforming(
            Grade.MAJOR,
            card.id,
            f"Statement {card.id} ({describe_statement(card.values)}) rests on {path}, which is "
            f"{how}: points that were fitted to show no accuracy.",
            observed=how,
            required="checkpoints that were not used as control",
            criterion_source=_INDEPENDENT,
            remedy="State the accuracy of points that nothing was fitted to, or state none",
            catalogue=("RH-07", "CP-01"),
        )

    def _judge_report(self, card: Card, evidence: Evidence) -> Iterator[Finding]:
        """Yield a report of that name in the folder that is another edition."""
        known = card.values.get("statement.report")
        if known is None or not known.where:
            return
        name = PurePosixPath(known.where.replace("\\", "/")).name
        same = [file for file in evidence.files if PurePosixPath(file.path).name == name]
        if same and all(file.sha256 != known.value for file in same):
            yield self.nonconforming(
                Grade.MINOR,
                same[0].path,
                f"{same[0].path} is another edition than the report of which statement {card.id} "
                "was recorded: what it states now, nobody has looked at.",
                observed="other bytes",
                required="the report that the statement was read from",
                criterion_source=_SOURCE,
                remedy=f"Read it, and record what it says (swathbook record statement {card.id})",
                where=Where(file=same[0].path),
                catalogue=("RH-06",),
            )

    def _tell_supported(self, card: Card) -> Finding:
        doubtful = [key for key in _NEEDED if not card.values[key].can_prove]
        told = describe_statement(card.values)
        if doubtful:
            return self.inconclusive(
                card.id,
                f"Statement {card.id} ({told}) has its table, but nobody confirmed "
                f"{', '.join(doubtful)}.",
            )
        return self.conforms(
            card.id,
            f"Statement {card.id} ({told}): its table holds as many points, and nothing on record "
            "says that they were control. Whether it is right the points tell.",
        )


def is_about(card: Card, evidence: Evidence) -> bool:
    """Say whether a statement is about the audited folder, what made it, or does not say."""
    behind = {process.id for process in evidence.processes}
    audits = {audit.id for audit in evidence.job.audits if audit.folder == evidence.folder}
    return is_stated_of(card.values, evidence.folder, behind | audits)
